// The close look: one to four frames at 100 % on the head. Zoom and pan are the same in all of them, measured from each
// frame's own head, so that heads stay level while the camera moved.

import { cropUrl, fullUrl } from './api.js';
import { deciders, overlayToggles } from './aside.js';
import { details } from './detail.js';
import { el, setAttr, setText, svg } from './dom.js';
import { images } from './images.js';
import { barbs, feather } from './marks.js';
import { drawOverlays, drawWhites } from './overlay.js';
import { starsOf, verdictOf } from './state.js';
import { inSight, placed, stepped, zoomedAt } from './viewport.js';
import { poseWords, spoken } from './words.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Frame} Frame */
/** @typedef {import('./types.js').Close} View */
/** @typedef {(e: import('./state.js').Event) => void} Dispatch */

const settle = 90; // ms without a move before the sharp part is asked for

class Pane {
  #whole = el('img', { alt: '', draggable: 'false', class: 'rough' });
  #sharp = el('img', { alt: '', draggable: 'false', class: 'sharp' });
  #hatch = el('canvas', { class: 'hatch', hidden: true, 'aria-hidden': 'true' });
  #layer = svg('svg', { class: 'overlay', 'aria-hidden': 'true' });
  #name = el('b', { class: 'name' });
  #verdict = el('span', { class: 'verdict' });
  #why = el('p', { class: 'why' });
  #missing = el('p', { class: 'nopicture', hidden: true }, 'No picture could be read from this file.');
  /** @type {import('./types.js').Box|null} */
  #part = null;
  #timer = 0;
  /** @type {State|null} */
  #state = null;
  /** @type {Frame|null} */
  frame = null;

  constructor() {
    this.port = el('div', { class: 'port' }, this.#whole, this.#sharp, this.#hatch, this.#layer, this.#missing);
    this.element = el('div', { class: 'pane', role: 'group', tabindex: -1 },
      el('div', { class: 'row' }, this.#name, this.#verdict), this.port, this.#why);
    this.#whole.addEventListener('settled', () => (this.#missing.hidden = !this.port.classList.contains('missing')));
    this.#sharp.addEventListener('load', () => this.#state && this.#paint(this.#state));
    this.#sharp.addEventListener('settled', () => this.#state && this.#paint(this.#state));
  }

  /** @param {State} s @param {Frame} f @param {boolean} here */
  update(s, f, here) {
    const other = this.frame?.id !== f.id;
    this.#state = s;
    this.frame = f;
    const verdict = verdictOf(s, f);
    this.element.className = `pane v-${verdict}${here ? ' here' : ''}${s.mine.has(f.id) ? ' mine' : ''}`;
    setAttr(this.element, 'tabindex', here ? '0' : '-1');
    setAttr(this.element, 'aria-label', spoken(s, f));
    setAttr(this.element, 'data-id', f.id);
    setText(this.#name, f.name);
    setText(this.#why, `${poseWords(f)}: ${f.reason}`);
    const signature = [verdict, starsOf(s, f), s.mine.has(f.id)].join();
    if (this.#verdict.dataset.now !== signature) {
      this.#verdict.dataset.now = signature;
      this.#verdict.replaceChildren(feather(verdict), el('b', {}, verdict), verdict === 'keep' && starsOf(s, f) > 0 ? barbs(starsOf(s, f)) : '', s.mine.has(f.id) ? el('span', { class: 'yours' }, 'yours') : '');
    }
    if (other) {
      this.#part = null;
      this.#missing.hidden = true;
      images.drop(this.#sharp);
      this.#sharp.removeAttribute('src');
      this.#sharp.hidden = true;
      images.show(this.#whole, fullUrl(f.id, 1000), 0);
      if (!details.now(f.id)) void details.ask(f.id).then(() => this.#state && this.#paint(this.#state));
    }
    this.#paint(s);
  }

  /** @param {State} s */
  #paint(s) {
    const f = this.frame, c = s.close;
    const w = this.port.clientWidth, h = this.port.clientHeight;
    if (!f || !c || w === 0) return;
    const p = placed(f, c, w, h, window.devicePixelRatio);
    put(this.#whole, p.left, p.top, p.width, p.height);
    const b = this.#part;
    if (b) {
      for (const e of [this.#sharp, this.#hatch]) put(e, p.left + b[0] * p.width, p.top + b[1] * p.height, b[2] * p.width, b[3] * p.height);
      this.#sharp.hidden = false;
    }
    drawOverlays(this.#layer, p, w, h, f, details.now(f.id), s.overlays);
    const whites = s.overlays.whites && b !== null && this.#sharp.classList.contains('there') && this.#sharp.complete;
    this.#hatch.hidden = !whites;
    if (whites) drawWhites(this.#hatch, this.#sharp);
    clearTimeout(this.#timer);
    this.#timer = window.setTimeout(() => this.#sharpen(f, c, w, h), b === null ? 0 : settle);
  }

  /** Asks for the part in sight at the screen's own pixels, unless it is there. @param {Frame} f @param {View} c @param {number} w @param {number} h */
  #sharpen(f, c, w, h) {
    const density = window.devicePixelRatio;
    const p = placed(f, c, w, h, density);
    const seen = inSight(p, w, h), want = inSight(p, w, h, 0.25);
    if (!seen || !want || this.frame !== f) return;
    const pixels = Math.min(1, p.scale * density); // never more than the file has
    const side = Math.ceil(Math.max(want[2] * f.width, want[3] * f.height) * pixels);
    const url = cropUrl(f.id, want, Math.max(16, side));
    const b = this.#part;
    const covered = b && b[0] <= seen[0] + 1e-6 && b[1] <= seen[1] + 1e-6 && b[0] + b[2] >= seen[0] + seen[2] - 1e-6 && b[1] + b[3] >= seen[1] + seen[3] - 1e-6;
    if (covered && this.#sharp.dataset.pixels === pixels.toFixed(3)) return;
    this.#part = want;
    this.#sharp.dataset.pixels = pixels.toFixed(3);
    this.#sharp.removeAttribute('src');
    images.show(this.#sharp, url, 0);
    if (this.#state) this.#paint(this.#state);
  }

  drop() {
    clearTimeout(this.#timer);
    images.drop(this.#whole);
    images.drop(this.#sharp);
  }
}

/** @param {HTMLElement} e @param {number} left @param {number} top @param {number} width @param {number} height */
function put(e, left, top, width, height) {
  e.style.transform = `translate(${left}px, ${top}px)`;
  e.style.width = width + 'px';
  e.style.height = height + 'px';
}

export class CloseLook {
  /** @type {Pane[]} */
  #panes = [];
  #grid = el('div', { class: 'panes' });
  #zoom = el('output', { class: 'zoom' });
  /** @type {State|null} */
  #state = null;
  /** @type {Map<number, {x: number, y: number}>} */
  #fingers = new Map();

  /** @param {HTMLElement} box @param {Dispatch} dispatch @param {(name: string, shift?: boolean) => void} run */
  constructor(box, dispatch, run) {
    this.box = box;
    this.dispatch = dispatch;
    this.decide = deciders(run);
    this.toggles = overlayToggles(dispatch);
    const button = (/** @type {string} */ name, /** @type {string} */ words, /** @type {string} */ key) =>
      el('button', { type: 'button', class: 'button', onclick: () => run(name) }, words, el('kbd', { 'aria-hidden': 'true' }, key));
    box.replaceChildren(
      el('div', { class: 'closetop' }, button('leave', 'Back to the bursts', 'Esc'), button('versus', 'One more beside', 'V'),
        button('smaller', 'Smaller', '−'), this.#zoom, button('larger', 'Larger', '+'), button('whole', 'Whole / 100 %', '0'), this.toggles.element),
      this.#grid, this.decide.element);
    this.#grid.addEventListener('wheel', (e) => this.#wheel(e), { passive: false });
    this.#grid.addEventListener('pointerdown', (e) => this.#down(e));
    this.#grid.addEventListener('pointermove', (e) => this.#move(e));
    for (const end of ['pointerup', 'pointercancel', 'lostpointercapture'])
      this.#grid.addEventListener(end, (e) => this.#fingers.delete(/** @type {PointerEvent} */ (e).pointerId));
    this.#grid.addEventListener('dblclick', () => run('whole'));
    new ResizeObserver(() => this.#state?.close && this.render(this.#state)).observe(this.#grid);
  }

  /** @param {State} s */
  render(s) {
    const before = this.#state;
    this.#state = s;
    this.box.hidden = !s.close;
    if (!s.close) {
      for (const p of this.#panes.splice(0)) {
        p.drop();
        p.element.remove();
      }
      return;
    }
    while (this.#panes.length > s.close.panes.length) {
      const p = /** @type {Pane} */ (this.#panes.pop());
      p.drop();
      p.element.remove();
    }
    while (this.#panes.length < s.close.panes.length) {
      const p = new Pane();
      this.#panes.push(p);
      this.#grid.append(p.element);
    }
    this.#grid.dataset.panes = String(s.close.panes.length);
    const close = s.close;
    close.panes.forEach((id, i) => {
      const f = s.byId.get(id);
      if (f) this.#panes[i].update(s, f, i === close.at);
    });
    setText(this.#zoom, close.zoom === 0 ? 'whole frame' : `${Math.round(100 * close.zoom)} %`);
    const f = s.byId.get(s.here);
    if (f) this.decide.update(s, f);
    this.toggles.update(s);
    if (!before?.close) this.focus();
  }

  focus() {
    if (this.#state?.close) this.#panes[this.#state.close.at]?.element.focus({ preventScroll: true });
  }

  /** @param {1|-1} way */
  zoom(way) {
    const c = this.#state?.close;
    if (c) this.dispatch({ type: 'view', zoom: stepped(c.zoom, way), ...(c.zoom === 0 ? { dx: 0, dy: 0 } : {}) });
  }

  /** By a share of the pane. @param {number} x @param {number} y */
  pan(x, y) {
    const c = this.#state?.close, port = this.#panes[0]?.port;
    if (!c || !port || c.zoom === 0) return;
    const scale = c.zoom / window.devicePixelRatio;
    this.dispatch({ type: 'view', dx: c.dx + (x * port.clientWidth) / scale, dy: c.dy + (y * port.clientHeight) / scale });
  }

  /** @param {Event} e */
  #paneOf(e) {
    const at = this.#panes.findIndex((p) => e.target instanceof Node && p.element.contains(e.target));
    return at < 0 ? null : { at, pane: this.#panes[at] };
  }

  /** @param {WheelEvent} e */
  #wheel(e) {
    const found = this.#paneOf(e);
    if (!found) return;
    e.preventDefault();
    this.#zoomBy(Math.exp(-e.deltaY / 400), e, found.pane);
  }

  /** @param {number} factor @param {{clientX: number, clientY: number}} at @param {Pane} pane */
  #zoomBy(factor, at, pane) {
    const c = this.#state?.close, f = pane.frame;
    if (!c || !f) return;
    const r = pane.port.getBoundingClientRect(), density = window.devicePixelRatio;
    const now = placed(f, c, r.width, r.height, density).scale * density;
    const zoom = Math.min(4, now * factor);
    const fit = placed(f, { zoom: 0, dx: 0, dy: 0 }, r.width, r.height, density).scale * density;
    // The whole frame stands centred, not on the head: start from where it stands.
    const from = c.zoom === 0 ? { ...zoomedFromWhole(f, fit, r.width, r.height, density) } : c;
    this.dispatch({ type: 'view', ...zoomedAt(f, from, zoom <= fit * 1.01 ? 0 : zoom, r.width, r.height, at.clientX - r.left, at.clientY - r.top, density) });
  }

  /** @param {PointerEvent} e */
  #down(e) {
    const found = this.#paneOf(e);
    if (!found || (e.pointerType === 'mouse' && e.button !== 0)) return;
    if (this.#state?.close?.at !== found.at) this.dispatch({ type: 'pane', at: found.at });
    found.pane.element.focus({ preventScroll: true });
    if (!(e.target instanceof Node) || !found.pane.port.contains(e.target)) return;
    this.#fingers.set(e.pointerId, { x: e.clientX, y: e.clientY });
    found.pane.port.setPointerCapture(e.pointerId);
    e.preventDefault();
  }

  /** @param {PointerEvent} e */
  #move(e) {
    const was = this.#fingers.get(e.pointerId), c = this.#state?.close, found = this.#paneOf(e);
    if (!was || !c || !found) return;
    const apart = this.#apart();
    this.#fingers.set(e.pointerId, { x: e.clientX, y: e.clientY });
    if (this.#fingers.size >= 2) {
      const [a, b] = [...this.#fingers.values()];
      if (apart > 0) this.#zoomBy(this.#apart() / apart, { clientX: (a.x + b.x) / 2, clientY: (a.y + b.y) / 2 }, found.pane);
      return;
    }
    if (c.zoom === 0) return;
    const scale = c.zoom / window.devicePixelRatio;
    this.dispatch({ type: 'view', dx: c.dx - (e.clientX - was.x) / scale, dy: c.dy - (e.clientY - was.y) / scale });
  }

  #apart() {
    const [a, b] = [...this.#fingers.values()];
    return a && b ? Math.hypot(a.x - b.x, a.y - b.y) : 0;
  }
}

/** The view at zoom `fit` that looks like the whole frame centred. @param {Frame} f @param {number} fit @param {number} w @param {number} h @param {number} density */
function zoomedFromWhole(f, fit, w, h, density) {
  const [x, y] = [f.width / 2, f.height / 2];
  const headed = placed(f, { zoom: fit, dx: 0, dy: 0 }, w, h, density);
  return { zoom: fit, dx: (headed.left - (w / 2 - x * headed.scale)) / headed.scale, dy: (headed.top - (h / 2 - y * headed.scale)) / headed.scale };
}
