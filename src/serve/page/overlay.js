// What can be shown on a picture. Each has a line of its own kind and its word, so that no colour is needed to tell them apart.

import { svg } from './dom.js';

/** @typedef {import('./types.js').Box} Box */
/** @typedef {import('./types.js').Overlays} Overlays */
/** @typedef {import('./viewport.js').Place} Place */
/** @typedef {import('./detail.js').Detail} Detail */

/** @type {{name: keyof Overlays, key: string, word: string, title: string}[]} */
export const overlayList = [
  { name: 'bird', key: 'B', word: 'bird', title: 'the bird as it was found' },
  { name: 'head', key: 'H', word: 'head', title: 'its head' },
  { name: 'area', key: 'C', word: 'camera’s area', title: 'where the camera was told to focus' },
  { name: 'landed', key: 'L', word: 'landed', title: 'where the focus landed' },
  { name: 'whites', key: 'W', word: 'whites', title: 'clipped whites' },
];

/** @param {number} x @param {number} y @param {number} w @param {number} h */
function corners(x, y, w, h) {
  const c = Math.min(w, h, 60) / 3;
  return `M${x} ${y + c}V${y}H${x + c}M${x + w - c} ${y}H${x + w}V${y + c}M${x + w} ${y + h - c}V${y + h}H${x + w - c}M${x + c} ${y + h}H${x}V${y + h - c}`;
}

/** @param {Element} layer @param {string} kind @param {string} d @param {string} words @param {number} x @param {number} y */
function put(layer, kind, d, words, x, y) {
  layer.append(svg('path', { d, class: 'casing' }), svg('path', { d, class: kind }));
  if (words) label(layer, words, x, y);
}

/** A line of text that stays inside the picture. @param {Element} layer @param {string} words @param {number} x @param {number} y */
function label(layer, words, x, y) {
  const pw = Number(layer.getAttribute('viewBox')?.split(' ')[2] ?? 0);
  const wide = 8 * words.length; // 13 px type, wide fonts included
  layer.append(svg('text', { x: Math.max(4, Math.min(x, pw - wide)), y, class: 'label' }, words));
}

/**
 * @param {SVGElement} layer @param {Place} p @param {number} pw @param {number} ph pane, CSS px
 * @param {import('./types.js').Frame} f @param {Detail|null} detail @param {Overlays} on
 */
export function drawOverlays(layer, p, pw, ph, f, detail, on) {
  layer.setAttribute('viewBox', `0 0 ${pw} ${ph}`);
  layer.replaceChildren();
  const at = (/** @type {Box} */ b) => /** @type {Box} */ ([p.left + b[0] * p.width, p.top + b[1] * p.height, b[2] * p.width, b[3] * p.height]);
  const above = (/** @type {number} */ y) => Math.min(ph - 6, Math.max(15, y - 6));
  if (on.bird)
    (detail?.birds.length ? detail.birds : f.subject ? [f.subject] : []).forEach((b, i) => {
      const [x, y, w, h] = at(b);
      put(layer, 'bird', corners(x, y, w, h), i === 0 ? 'bird' : `bird ${i + 1}`, Math.max(4, x), above(y));
    });
  const head = detail?.head ?? f.head;
  if (on.head && head) {
    const [x, y, w, h] = at(head);
    put(layer, 'head', `M${x} ${y + h / 2}a${w / 2} ${h / 2} 0 1 0 ${w} 0a${w / 2} ${h / 2} 0 1 0 ${-w} 0Z`, 'head', Math.max(4, x + w / 2 - 14), above(y));
  }
  if (on.area && detail?.area) {
    const [x, y, w, h] = at(detail.area);
    const cx = x + w / 2, cy = y + h / 2;
    put(layer, 'area', `M${x} ${y}h${w}v${h}h${-w}ZM${cx - 5} ${cy}h10M${cx} ${cy - 5}v10`, 'camera’s area', Math.max(4, x), Math.min(ph - 6, y + h + 15));
  }
  if (on.landed && detail) {
    if (detail.landed.box) {
      const [x, y, w, h] = at(detail.landed.box);
      put(layer, 'landed', `M${x} ${y}h${w}v${h}h${-w}Z`, detail.landed.short, Math.max(4, x), above(y));
    } else label(layer, detail.landed.words, 8, ph - 10);
  }
  const missing = [];
  if (on.head && !head) missing.push(f.head_view === 'hidden' ? 'its head is hidden' : 'no head found');
  if (on.area && detail && !detail.area) missing.push('the file names no focus area');
  missing.forEach((words, i) => label(layer, words, 8, ph - 28 - 18 * i));
}

export const clippedFrom = 254; // of 255: JPEG's rounding takes one off a blown white

/** Which pixels a hatch covers: one channel clipped thinly, all three densely. @param {number} r @param {number} g @param {number} b
 *  @param {number} x @param {number} y @returns {0|1|2} 0: none; 1: a dark stroke; 2: a light one */
export function hatch(r, g, b, x, y) {
  const n = Number(r >= clippedFrom) + Number(g >= clippedFrom) + Number(b >= clippedFrom);
  if (n === 0) return 0;
  const along = (x + y) % 8, across = (x - y + 8000) % 8;
  if (along < 2 || (n === 3 && across < 2)) return 1;
  return along === 2 ? 2 : 0;
}

/** Hatches the clipped whites of the picture shown; nothing where none are. @param {HTMLCanvasElement} canvas @param {HTMLImageElement} image
 *  @returns {number} share of the pixels that are clipped in any channel */
export function drawWhites(canvas, image) {
  const w = image.naturalWidth, h = image.naturalHeight;
  if (w === 0 || h === 0) return 0;
  canvas.width = w;
  canvas.height = h;
  const to = canvas.getContext('2d', { willReadFrequently: true });
  if (!to) return 0;
  to.drawImage(image, 0, 0);
  const picture = to.getImageData(0, 0, w, h), d = picture.data;
  let clipped = 0;
  for (let y = 0, i = 0; y < h; ++y)
    for (let x = 0; x < w; ++x, i += 4) {
      const mark = hatch(d[i], d[i + 1], d[i + 2], x, y);
      if (d[i] >= clippedFrom || d[i + 1] >= clippedFrom || d[i + 2] >= clippedFrom) ++clipped;
      d[i] = d[i + 1] = d[i + 2] = mark === 2 ? 255 : 0;
      d[i + 3] = mark === 1 ? 235 : mark === 2 ? 200 : 0;
    }
  to.putImageData(picture, 0, 0);
  return clipped / (w * h);
}
