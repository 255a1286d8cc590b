// The list of bursts: every pose a line, best first. Only what is in sight, and a little around it, exists.

import { Card } from './card.js';
import { el, setAttr, setText } from './dom.js';
import { arrange, lineAt } from './layout.js';
import { feather } from './marks.js';
import { verdictOf } from './state.js';
import { clock, counted, day } from './words.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Layout} Layout */
/** @typedef {import('./types.js').Line} Line */
/** @typedef {{element: HTMLElement, cards: Card[], counts: HTMLElement|null}} Drawn */

// CSS px: height that the pictures should have, by the size chosen; the columns then fill the width. A frame is taken for 3:2;
// others fit inside.
const pictures = [84, 112, 168];
const below = 80; // verdict, name, reason, padding
const gap = 10;
const beside = 20; // padding of a card, and the gap between frame and head
const label = 112; // the pose's column and its gap
const around = 500; // drawn above and below what is in sight

export class List {
  /** @type {Map<number, Drawn>} */
  #drawn = new Map();
  /** @type {Layout} */
  layout = { lines: [], height: 0, order: [], lineOf: new Map(), columns: 1 };
  /** @type {State|null} */
  #state = null;
  #key = /** @type {unknown[]} */ ([]);
  #frame = 0;
  #high = 112;
  #width = 0;
  #view = 0;
  #top = 0;
  #empty = el('div', { class: 'plain', hidden: true });

  /** @param {HTMLElement} box @param {(e: import('./state.js').Event) => void} dispatch @param {() => void} open */
  constructor(box, dispatch, open) {
    this.box = box;
    this.canvas = el('div', { class: 'grid', role: 'grid', 'aria-label': 'Frames by burst and pose, best first', 'aria-multiselectable': 'true' });
    box.replaceChildren(this.canvas, this.#empty);
    box.addEventListener('scroll', () => {
      this.#top = box.scrollTop;
      this.#soon();
    }, { passive: true });
    this.canvas.addEventListener('click', (e) => {
      const id = cardOf(e.target);
      if (!id) return;
      if (e.ctrlKey || e.metaKey) dispatch({ type: 'tick', id });
      dispatch({ type: 'go', id });
    });
    this.canvas.addEventListener('dblclick', (e) => cardOf(e.target) && open());
    // Asking an element for its width lays the page out: the observer tells it for nothing.
    this.#width = box.clientWidth;
    this.#view = box.clientHeight;
    new ResizeObserver(() => {
      const line = this.layout.lines[this.layout.lineOf.get(this.#state?.here ?? '') ?? -1];
      const seen = line && line.top < this.#top + this.#view && line.top + line.height > this.#top;
      this.#width = box.clientWidth;
      this.#view = box.clientHeight;
      if (!this.#state) return;
      this.render(this.#state);
      if (seen) this.reveal(this.#state.here, 'nearest');
      this.#fill();
    }).observe(box);
    this.#empty.append(el('h2', {}, 'Nothing here'), el('p', {}),
      el('button', { type: 'button', class: 'button', onclick: () => dispatch({ type: 'narrow', narrow: { show: 'all', reason: '' } }) }, 'Show all frames'));
  }

  #soon() {
    if (this.#frame) return;
    this.#frame = requestAnimationFrame(() => {
      this.#frame = 0;
      this.#fill();
    });
  }

  /** @param {State} s */
  render(s) {
    const before = this.#state;
    this.#state = s;
    const width = this.#width;
    if (width === 0) return;
    const wished = pictures[s.size] * 2.5 + beside;
    const room = width - label - gap - 8;
    const columns = Math.max(1, Math.round((room + gap) / (wished + gap)));
    const wide = Math.floor((room + gap) / columns) - gap;
    const high = Math.min(220, Math.floor((wide - beside) / 2.5));
    this.#high = high;
    const key = [s.shoot, s.shown, columns, high];
    if (key.some((k, i) => k !== this.#key[i])) {
      this.#key = key;
      for (const d of this.#drawn.values()) this.#remove(d);
      this.#drawn.clear();
      this.layout = arrange(s, columns, { burst: 54, line: high + below + gap, posegap: 8 });
      this.canvas.style.height = this.layout.height + 40 + 'px';
      this.canvas.style.setProperty('--high', high + 'px');
      this.canvas.style.setProperty('--wide', Math.min(wide, Math.round(high * 2.5) + beside) + 'px');
      setAttr(this.canvas, 'aria-rowcount', String(this.layout.lines.length));
      setAttr(this.canvas, 'aria-colcount', String(columns + 1));
      this.canvas.hidden = this.layout.lines.length === 0;
      this.#empty.hidden = this.layout.lines.length > 0;
      setText(/** @type {Element} */ (this.#empty.querySelector('p')), nothing(s));
      this.reveal(s.here, 'center');
    } else if (before?.here !== s.here) this.reveal(s.here, 'nearest');
    this.#fill();
  }

  /** Brings a frame into sight. @param {string} id @param {'nearest'|'center'} how */
  reveal(id, how) {
    const line = this.layout.lines[this.layout.lineOf.get(id) ?? -1];
    if (!line) return;
    const view = this.#view, top = this.#top;
    const head = 62; // the burst's line above comes along
    if (how === 'center') this.#scroll(line.top - head - (view > 600 ? 24 : 0));
    else if (line.top - head < top) this.#scroll(line.top - head);
    else if (line.top + line.height > top + view) this.#scroll(line.top + line.height - view + 6);
  }

  /** @param {number} y */
  #scroll(y) {
    this.#top = Math.max(0, Math.min(y, this.layout.height + 40 - this.#view));
    this.box.scrollTop = this.#top;
  }

  /** Puts the keyboard's focus on the current frame. */
  focus() {
    if (!this.#state) return;
    this.#fill();
    document.getElementById('frame-' + this.#state.here)?.focus({ preventScroll: true });
  }

  #fill() {
    const s = this.#state;
    if (!s) return;
    const top = this.#top, view = this.#view;
    const from = lineAt(this.layout, top - around), to = lineAt(this.layout, top + view + around);
    for (const [i, d] of this.#drawn)
      if (i < from || i > to) {
        this.#remove(d);
        this.#drawn.delete(i);
      }
    for (let i = from; i <= to && i < this.layout.lines.length; ++i) {
      const line = this.layout.lines[i];
      let d = this.#drawn.get(i);
      if (!d) {
        d = line.kind === 'burst' ? this.#burst(s, line, i) : this.#line(s, line, i, line.top < top + view && line.top + line.height > top);
        d.element.style.transform = `translateY(${line.top}px)`;
        this.#drawn.set(i, d);
        this.#place(i, d.element);
      }
      for (const card of d.cards) card.update(s);
      if (d.counts && line.kind === 'burst') count(s, line.burst, d.counts);
    }
  }

  // In the order of the lines: a screen reader goes by the order of the elements. @param {number} i @param {HTMLElement} element
  #place(/** @type {number} */ i, /** @type {HTMLElement} */ element) {
    for (const other of this.canvas.children)
      if (Number(other.getAttribute('aria-rowindex')) > i + 1) {
        other.before(element);
        return;
      }
    this.canvas.append(element);
  }

  /** @param {Drawn} d */
  #remove(d) {
    for (const card of d.cards) card.drop();
    d.element.remove();
  }

  /** @param {State} s @param {Extract<Line, {kind: 'burst'}>} line @param {number} i @returns {Drawn} */
  #burst(s, line, i) {
    const b = s.shoot.bursts[line.burst];
    const counts = el('span', { class: 'counts' });
    const element = el('div', { role: 'row', class: 'burst', 'aria-rowindex': i + 1 },
      el('div', { role: 'rowheader', class: 'bursthead', 'aria-colindex': 1, 'aria-colspan': this.layout.columns + 1 },
        el('b', {}, `Burst ${line.burst + 1}`),
        el('span', { class: 'soft' }, `${day(b.start)} ${clock(b.start)}`),
        el('span', { class: 'soft camera' }, b.camera),
        el('span', { class: 'soft' }, counted(b.frames.length, 'frame')), counts));
    return { element, cards: [], counts };
  }

  /** @param {State} s @param {Extract<Line, {kind: 'frames'}>} line @param {number} i @param {boolean} near @returns {Drawn} */
  #line(s, line, i, near) {
    const cards = line.frames.map((id, k) => new Card(/** @type {import('./types.js').Frame} */ (s.byId.get(id)), k, this.#high, near));
    const title = line.pose > 0 ? `Pose ${line.pose}` : 'No pose';
    const element = el('div', { role: 'row', class: 'line' + (line.first ? ' first' : ''), 'aria-rowindex': i + 1 },
      el('div', { role: 'rowheader', class: 'pose', 'aria-colindex': 1 },
        el('b', line.first ? {} : { class: 'unseen' }, title),
        line.first ? el('span', { class: 'soft' }, counted(line.total, 'frame')) : ''),
      ...cards.map((c) => c.element));
    return { element, cards, counts: null };
  }
}

/** @param {EventTarget|null} target */
function cardOf(target) {
  return target instanceof Element ? (target.closest('.card')?.getAttribute('data-id') ?? null) : null;
}

/** @param {State} s */
function nothing(s) {
  if (s.shoot.frames.length === 0) return 'burstsieve found no photograph in this folder.';
  if (s.narrow.show === 'undecided' && s.narrow.reason === '') return 'No frame is undecided.';
  if (s.narrow.show === 'changed' && s.narrow.reason === '') return 'You have not changed a verdict yet.';
  return 'No frame fits what you narrowed to.';
}

/** @param {State} s @param {number} burst @param {HTMLElement} to */
function count(s, burst, to) {
  const n = { keep: 0, undecided: 0, reject: 0 };
  for (const id of s.shoot.bursts[burst].frames) {
    const f = s.byId.get(id);
    if (f) ++n[verdictOf(s, f)];
  }
  const text = `${n.keep} keep, ${n.undecided} undecided, ${n.reject} reject`;
  if (to.dataset.said === text) return;
  to.dataset.said = text;
  to.replaceChildren(...(/** @type {const} */ (['keep', 'undecided', 'reject'])).map((v) =>
    el('span', { class: 'count', title: v }, feather(v), String(n[v]), el('span', { class: 'unseen' }, ` ${v} `))));
}
