// Keys, the close look's arithmetic, what is read of the server's answers, the plot's scales, and the colours.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { readShoot } from '../../src/serve/page/api.js';
import { boxOf, landedFrom, readSeries } from '../../src/serve/page/detail.js';
import { commandOf, help } from '../../src/serve/page/keys.js';
import { plainText } from '../../src/serve/page/names.js';
import { hatch } from '../../src/serve/page/overlay.js';
import { places, roundUp } from '../../src/serve/page/plot.js';
import { focusOf, headSquare, inSight, placed, stepped, zoomedAt } from '../../src/serve/page/viewport.js';

const stroke = (key, code = '', more = {}) => commandOf({ key, code, shift: false, ctrl: false, alt: false, ...more })?.name ?? null;
const near = (a, b, within = 1e-9) => assert.ok(Math.abs(a - b) <= within, `${a} is not ${b}`);

test('deciding goes by the place of the key: the same on AZERTY and Dvorak', () => {
  assert.equal(stroke('f', 'KeyF'), 'keep');
  assert.equal(stroke('u', 'KeyF'), 'keep'); // Dvorak prints U there
  assert.equal(stroke('q', 'KeyA'), 'none'); // AZERTY prints Q there
  assert.equal(stroke('S', 'KeyS', { shift: true }), 'reject');
});

test('what is shown goes by the letter', () => {
  assert.equal(stroke('w', 'KeyW'), 'whites');
  assert.equal(stroke('w', 'KeyZ'), 'whites'); // AZERTY
  assert.equal(stroke('h', 'KeyJ'), 'head'); // Dvorak
});

test('digits are places, also where they stand behind Shift', () => {
  assert.equal(stroke('3', 'Digit3'), 'place3');
  assert.equal(stroke('"', 'Digit3'), 'place3');
  assert.equal(stroke('0', 'Digit0'), 'whole');
  assert.equal(stroke('-', 'Digit6'), 'smaller');
});

test('the browser keeps its own keys', () => {
  for (const [key, code] of [['f', 'KeyF'], ['r', 'KeyR'], ['l', 'KeyL'], ['w', 'KeyW'], ['d', 'KeyD'], ['t', 'KeyT']])
    assert.equal(stroke(key, code, { ctrl: true }), null);
  assert.equal(stroke('ArrowLeft', 'ArrowLeft', { alt: true }), null);
  assert.equal(stroke('Tab', 'Tab'), null);
  assert.equal(stroke('z', 'KeyZ', { ctrl: true }), 'undo');
  assert.equal(stroke('z', 'KeyZ', { ctrl: true, shift: true }), 'redo');
  assert.equal(stroke('Z', 'KeyZ', { shift: true }), 'redo');
});

test('every single letter does one thing, and the help lists it', () => {
  const listed = new Set(help.flatMap((p) => p.rows.flatMap(([keys]) => keys.split(' ').map((k) => (/^<Key(.)>$/.exec(k)?.[1] ?? k).toUpperCase()))));
  for (const letter of 'ABCDEFGHIJKLMNOPQRSTUVWXYZ') {
    const name = stroke(letter.toLowerCase(), 'Key' + letter);
    assert.equal(name !== null, listed.has(letter), `${letter}: ${name}`);
  }
});

test('docs/review.md names every letter key', () => {
  const text = readFileSync(new URL('../../docs/review.md', import.meta.url), 'utf8');
  for (const letter of 'ABCDEFGHIJKLMNOPQRSTUVWXYZ') assert.equal(text.includes('`' + letter + '`'), stroke(letter.toLowerCase(), 'Key' + letter) !== null, letter);
});

const f = { width: 6000, height: 4000, head: [0.5, 0.25, 0.1, 0.1], subject: null };

test('at 100 % a picture pixel is a pixel of the screen, the head in the middle', () => {
  for (const density of [1, 1.5, 2]) {
    const p = placed(f, { zoom: 1, dx: 0, dy: 0 }, 800, 600, density);
    near(p.width * density, 6000);
    near(p.left + 0.55 * p.width, 400);
    near(p.top + 0.3 * p.height, 300);
  }
});

test('the whole frame fits and is centred', () => {
  const p = placed(f, { zoom: 0, dx: 0, dy: 0 }, 900, 900, 2);
  assert.deepEqual([p.left, p.top, p.width, p.height], [0, 150, 900, 600]);
});

test('heads of different frames stay level under the same pan', () => {
  const g = { ...f, head: [0.2, 0.6, 0.1, 0.1] };
  const view = { zoom: 2, dx: 37, dy: -12 };
  const a = placed(f, view, 500, 500, 1), b = placed(g, view, 500, 500, 1);
  near(a.left + 0.55 * a.width, b.left + 0.25 * b.width, 1e-6);
  near(a.top + 0.3 * a.height, b.top + 0.65 * b.height, 1e-6);
});

test('zooming keeps the point under the pointer', () => {
  const view = { zoom: 1, dx: 50, dy: 20 };
  const under = (v) => {
    const p = placed(f, v, 800, 600, 1.5);
    return [(123 - p.left) / p.width, (456 - p.top) / p.height];
  };
  const [x, y] = under(view);
  for (const zoom of [0.25, 0.5, 2, 3.3, 4]) {
    const [u, v] = under(zoomedAt(f, view, zoom, 800, 600, 123, 456, 1.5));
    near(u, x, 1e-9);
    near(v, y, 1e-9);
  }
});

test('the part in sight lies inside the frame, or there is none', () => {
  assert.deepEqual(inSight(placed(f, { zoom: 0, dx: 0, dy: 0 }, 900, 600, 1), 900, 600), [0, 0, 1, 1]);
  assert.equal(inSight(placed(f, { zoom: 1, dx: 1e5, dy: 0 }, 900, 600, 1), 900, 600), null);
  const part = inSight(placed(f, { zoom: 1, dx: 0, dy: 0 }, 600, 400, 1), 600, 400);
  near(part[2], 0.1);
  near(part[3], 0.1);
});

test('the head’s square is moved inside the frame and never larger than it', () => {
  assert.deepEqual(headSquare({ ...f, head: [0, 0, 0.01, 0.01] }, 600), [0, 0, 0.1, 0.15]);
  assert.deepEqual(headSquare({ ...f, width: 100, height: 50 }, 600), [0, 0, 1, 1]);
});

test('without a head the crop is of the camera’s focus area, where that lies on the bird', () => {
  const bird = { width: 6000, height: 4000, head: null, subject: [0.4, 0.4, 0.4, 0.4], area: [0.7, 0.45, 0.1, 0.1] };
  assert.deepEqual(focusOf(bird).map((v) => v.toFixed(3)), ['0.750', '0.500']);
  assert.deepEqual(focusOf({ ...bird, area: [0, 0, 0.1, 0.1] }).map((v) => v.toFixed(3)), ['0.600', '0.600']);
  assert.deepEqual(focusOf({ ...bird, subject: null }), [0.5, 0.5]);
});

test('zoom steps go up to 400 % and down to the whole frame', () => {
  const up = [0];
  for (let i = 0; i < 7; ++i) up.push(stepped(up.at(-1), 1));
  assert.deepEqual(up, [0, 0.25, 0.5, 1, 2, 4, 4, 4]);
  assert.equal(stepped(0.25, -1), 0);
  assert.equal(stepped(1.3, -1), 1);
});

test('odd answers are no boxes', () => {
  for (const b of [null, [], [0, 0, 0, 0], [0, 0, NaN, 1], [0, 0, 1], 'x', { x: 0, y: 0, w: -1, h: 1 }]) assert.equal(boxOf(b), null);
  assert.deepEqual(boxOf({ x: 0.1, y: 0.2, w: 0.3, h: 0.4 }), [0.1, 0.2, 0.3, 0.4]);
});

test('where the focus landed, in words', () => {
  const m = (o) => new Map(Object.entries(o).map(([k, value]) => ['focus_elsewhere' + k, { value, unit: '', confidence: 1 }]));
  assert.match(landedFrom(new Map()).words, /not known/);
  assert.match(landedFrom(m({ '': 1 })).words, /on the bird/);
  const behind = landedFrom(m({ '': 3.25, _side: 1, _x: 0.1, _y: 0.2, _w: 0.3, _h: 0.4 }));
  assert.deepEqual(behind.box, [0.1, 0.2, 0.3, 0.4]);
  assert.match(behind.words, /behind the bird: 3\.3 times sharper/);
  assert.equal(landedFrom(m({ '': 2, _side: -1 })).short, 'landed before the bird');
});

test('names that turn the direction of writing, or hide, show it', () => {
  assert.equal(plainText('gull\u202egpj.exe.JPG'), 'gull□gpj.exe.JPG');
  assert.equal(plainText('a\u200bb\nc\u0000'), 'a□b□c□');
  assert.equal(plainText('Möwe 鴎 🐦.JPG'), 'Möwe 鴎 🐦.JPG');
  assert.equal(plainText(null), '');
});

test('the server’s shoot in the page’s types: ids as text, times missing or given', () => {
  const s = readShoot({ folder: '/x', bursts: [{ id: 1, camera: 'C', start: '2026-04-12T13:20:00.130Z', frames: [1], poses: [{ pose: 1, frames: [1] }] }, { id: 2, camera: 'C', start: null, frames: [], poses: [] }],
    frames: [{ id: 1, burst: 1, name: 'A', reason: '', sidecar: null }] });
  assert.deepEqual([s.bursts[0].start, s.bursts[1].start, s.frames[0].id, s.bursts[0].poses[0].frames, s.frames[0].sidecar], [Date.UTC(2026, 3, 12, 13, 20, 0, 130), 0, '1', ['1'], '']);
});

test('missing numbers of a burst stay missing', () => {
  const [p] = readSeries({ frames: [{ id: 5, blur: null, motion: 'x' }] });
  assert.deepEqual([p.id, p.blur, p.motion, p.whites], ['5', null, null, null]);
});

test('plot: places by time, evenly without it; scales are round', () => {
  const x = places([0, 100, 400].map((time_ms) => ({ time_ms })));
  near((x[1] - x[0]) * 3, x[2] - x[1], 1e-9);
  const even = places([5, 5, 5].map((time_ms) => ({ time_ms })));
  near(even[1] - even[0], even[2] - even[1], 1e-9);
  assert.deepEqual([0, 0.3, 1, 1.2, 7, 60].map(roundUp), [1, 0.5, 1, 2, 10, 100]);
});

test('the hatch covers clipped pixels only, and more of those that are gone in all channels', () => {
  let none = 0, one = 0, all = 0;
  for (let y = 0; y < 64; ++y)
    for (let x = 0; x < 64; ++x) {
      none += hatch(253, 253, 253, x, y);
      one += Number(hatch(255, 200, 200, x, y) === 1);
      all += Number(hatch(255, 255, 254, x, y) === 1);
    }
  assert.equal(none, 0);
  assert.ok(one > 0.2 * 4096 && all > 1.5 * one);
});

// Contrast: WCAG 2.2, relative luminance and contrast ratio. Colour blindness: matrices of Machado, Oliveira and Fernandes
// (2009), severity 1, on linear RGB, from memory. Difference: CIE 1976 L*a*b*; 20 is our own floor, ten times what is just seen.
const css = readFileSync(new URL('../../src/serve/page/base.css', import.meta.url), 'utf8');
const token = (name) => {
  const hex = new RegExp(`--${name}: #([0-9a-f]{6}|[0-9a-f]{3})\\b`).exec(css)?.[1];
  assert.ok(hex, name);
  const full = hex.length === 3 ? [...hex].map((c) => c + c).join('') : hex;
  return [0, 2, 4].map((i) => parseInt(full.slice(i, i + 2), 16) / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
};
const light = ([r, g, b]) => 0.2126 * r + 0.7152 * g + 0.0722 * b;
const contrast = (a, b) => (Math.max(light(a), light(b)) + 0.05) / (Math.min(light(a), light(b)) + 0.05);
const lab = ([r, g, b]) => {
  const t = (v) => (v > 216 / 24389 ? Math.cbrt(v) : (24389 / 27 * v + 16) / 116);
  const x = t((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505), y = t(light([r, g, b])), z = t((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
};
const eyes = {
  ordinary: [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
  protanopia: [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
  deuteranopia: [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
  tritanopia: [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
};

test('text and marks stand out from every ground they lie on', () => {
  for (const ground of ['ground', 'surface', 'raised'])
    for (const ink of ['ink', 'soft', 'keep', 'undecided', 'reject', 'warn']) {
      const c = contrast(token(ink), token(ground));
      assert.ok(c >= 4.5, `${ink} on ${ground}: ${c.toFixed(2)}`);
    }
});

test('verdict colours differ for every kind of colour vision', () => {
  for (const [kind, m] of Object.entries(eyes))
    for (const [a, b] of [['keep', 'undecided'], ['keep', 'reject'], ['undecided', 'reject']]) {
      const seen = (name) => lab(m.map((row) => Math.min(1, Math.max(0, row.reduce((sum, v, i) => sum + v * token(name)[i], 0)))));
      const d = Math.hypot(...seen(a).map((v, i) => v - seen(b)[i]));
      assert.ok(d >= 20, `${a} and ${b}, ${kind}: ${d.toFixed(1)}`);
    }
});
