// The current frame beside the list: picture, verdict to give, reasons in words, the course of its burst, numbers.

import { fullUrl } from './api.js';
import { courses, details } from './detail.js';
import { el, setAttr, setText, svg } from './dom.js';
import { images } from './images.js';
import { printedOn } from './keycaps.js';
import { barbs, feather, starWords } from './marks.js';
import { drawOverlays, drawWhites, overlayList } from './overlay.js';
import { Plot } from './plot.js';
import { starsOf, verdictOf } from './state.js';
import { placed } from './viewport.js';
import { measured, poseWords } from './words.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Frame} Frame */
/** @typedef {(name: string, shift?: boolean) => void} Run */

/** @type {{wish: import('./types.js').Wish, word: string, code: string}[]} */
const wishes = [
  { wish: 'keep', word: 'keep', code: 'KeyF' },
  { wish: 'undecided', word: 'undecided', code: 'KeyD' },
  { wish: 'reject', word: 'reject', code: 'KeyS' },
  { wish: 'none', word: 'as judged', code: 'KeyA' },
];

/** Buttons that decide; the list's panel and the close look have one set each. @param {Run} run */
export function deciders(run) {
  const caps = /** @type {HTMLElement[]} */ ([]);
  const cap = (/** @type {string} */ code) => {
    const k = el('kbd', { 'aria-hidden': 'true', 'data-code': code }, printedOn(code));
    caps.push(k);
    return k;
  };
  const buttons = wishes.map((w) =>
    el('button', { type: 'button', class: 'decide', 'data-wish': w.wish, onclick: () => run(w.wish) },
      w.wish === 'none' ? svg('svg', { viewBox: '0 0 20 20', class: 'feather', 'aria-hidden': 'true' }, svg('path', { d: 'M8 5L3.5 9.5L8 14M4 9.5H13a3.5 3.5 0 0 1 0 7H10', class: 'line' })) : feather(w.wish),
      el('span', {}, w.word), cap(w.code)));
  const stars = el('span', { class: 'starsnow', role: 'img' });
  const fewer = el('button', { type: 'button', class: 'button', onclick: () => run('fewerStars') }, '−', el('span', { class: 'unseen' }, 'one star fewer'), cap('KeyE'));
  const more = el('button', { type: 'button', class: 'button', onclick: () => run('moreStars') }, '+', el('span', { class: 'unseen' }, 'one star more'), cap('KeyR'));
  const element = el('div', { class: 'deciders' },
    el('div', { class: 'decideset', role: 'group', 'aria-label': 'Your verdict' }, ...buttons),
    el('div', { class: 'starset', role: 'group', 'aria-label': 'Stars' }, fewer, stars, more));
  let signature = '';
  return {
    element,
    /** @param {State} s @param {Frame} f */
    update(s, f) {
      const verdict = verdictOf(s, f), own = s.mine.has(f.id), n = starsOf(s, f);
      const next = [verdict, own, n, ...caps.map((k) => printedOn(k.dataset.code ?? ''))].join();
      if (next === signature) return;
      signature = next;
      for (const b of buttons) {
        const on = own && b.dataset.wish === verdict;
        setAttr(b, 'aria-pressed', b.dataset.wish === 'none' ? null : String(on));
        b.classList.toggle('stands', b.dataset.wish === verdict);
      }
      stars.replaceChildren(barbs(n), el('span', {}, verdict !== 'keep' ? 'stars are for keeps' : n > 0 ? starWords(n) : 'stars as measured'));
      setAttr(stars, 'aria-label', verdict !== 'keep' ? 'no stars: not a keep' : n > 0 ? starWords(n) : 'stars as measured');
      for (const k of caps) setText(k, printedOn(k.dataset.code ?? ''));
    },
  };
}

export class Aside {
  #title = el('h2', {});
  #where = el('p', { class: 'soft' });
  #engine = el('p', { class: 'engine' });
  #picture = el('img', { alt: '', draggable: 'false' });
  #layer = svg('svg', { class: 'overlay', 'aria-hidden': 'true' });
  #hatch = el('canvas', { class: 'hatch', hidden: true, 'aria-hidden': 'true' });
  #box = el('button', { type: 'button', class: 'whole', 'aria-label': 'Close look at 100 %' }, this.#picture, this.#hatch, this.#layer);
  #toggles;
  #tick;
  #why = el('ul', { class: 'reasons' });
  #numbers = el('dl', { class: 'numbers' });
  #notes = el('ul', { class: 'notes' });
  #clipped = el('p', { class: 'soft small', hidden: true });
  #content;
  #next = new Image();
  /** The frame that will probably be looked at next: its picture is fetched when there is nothing else to do. */
  ahead = '';
  #signature = '';
  /** @type {State|null} */
  #state = null;

  /** @param {HTMLElement} box @param {(e: import('./state.js').Event) => void} dispatch @param {Run} run */
  constructor(box, dispatch, run) {
    this.decide = deciders(run);
    this.plot = new Plot((id) => dispatch({ type: 'go', id }));
    this.#box.addEventListener('click', () => run('close'));
    this.#picture.addEventListener('load', () => this.#overlays());
    this.#picture.addEventListener('settled', () => {
      this.#overlays();
      if (this.ahead) images.show(this.#next, fullUrl(this.ahead, this.#side()), 5);
    });
    new ResizeObserver(() => this.#overlays()).observe(this.#box);
    this.#toggles = overlayToggles(dispatch);
    const look = (/** @type {string} */ name, /** @type {string} */ words, /** @type {string} */ key) =>
      el('button', { type: 'button', class: 'button', onclick: () => run(name) }, words, el('kbd', { 'aria-hidden': 'true' }, key));
    this.#tick = look('tick', 'Tick', 'T');
    this.#content = el('div', { class: 'current' },
      el('header', {}, this.#title, this.#where),
      this.decide.element, this.#engine,
      this.#box, this.#toggles.element, this.#clipped,
      el('div', { class: 'looks', role: 'group', 'aria-label': 'Look closer' }, look('close', 'Close look', '⏎'), look('versus', 'Side by side', 'V'), this.#tick),
      el('h3', {}, 'Why'), this.#why,
      el('h3', {}, 'Course of the burst'), this.plot.element,
      el('h3', {}, 'Numbers'), this.#numbers, this.#notes);
    box.replaceChildren(this.#content);
    this.box = box;
  }

  /** @param {State} s */
  render(s) {
    const before = this.#state;
    this.#state = s;
    const f = s.byId.get(s.here);
    this.#content.hidden = !f;
    if (!f || s.close) return;
    this.decide.update(s, f);
    this.#toggles.update(s);
    setAttr(this.#tick, 'aria-pressed', String(s.ticked.has(f.id)));
    const signature = [f.id, s.mine.get(f.id)?.verdict, s.mine.get(f.id)?.rating].join();
    if (signature !== this.#signature || before?.shoot !== s.shoot) {
      const moved = before?.here !== s.here || before.shoot !== s.shoot || this.#signature === '';
      this.#signature = signature;
      setText(this.#title, f.name);
      setText(this.#where, `Burst ${s.shoot.bursts.findIndex((b) => b.id === f.burst) + 1}, ${poseWords(f)}`);
      this.#engine.replaceChildren('burstsieve says ', el('b', {}, f.verdict), f.verdict === 'keep' && f.rating ? `, ${starWords(f.rating)}` : '',
        s.mine.has(f.id) ? '; your word stands' : '', f.sidecar ? `; its sidecar holds a rating of yours: ${f.sidecar}` : '');
      if (moved) this.#frame(f);
    }
    if (before?.overlays !== s.overlays) this.#overlays();
    this.#course(s, f);
  }

  #side() {
    return Math.max(480, Math.min(1600, Math.round((this.#box.clientWidth || 460) * window.devicePixelRatio)));
  }

  /** @param {Frame} f */
  #frame(f) {
    this.box.scrollTop = 0;
    this.#box.style.aspectRatio = f.width > 0 && f.height > 0 ? `${f.width} / ${f.height}` : '3 / 2';
    images.show(this.#picture, fullUrl(f.id, this.#side()), 0);
    this.#facts(f);
    if (!details.now(f.id))
      void details.ask(f.id).then(() => {
        if (this.#state?.here === f.id) this.#facts(f);
      });
    this.#overlays();
  }

  /** @param {Frame} f */
  #facts(f) {
    const d = details.now(f.id);
    const reasons = d && d.reasons.length > 0 ? d.reasons : [{ code: f.codes[0] ?? '', text: f.reason, confidence: NaN }];
    this.#why.replaceChildren(...reasons.map((r) =>
      el('li', {}, r.text, Number.isFinite(r.confidence) ? el('span', { class: 'soft' }, ` ${Math.round(100 * r.confidence)} % sure`) : '')));
    /** @type {[string, string][]} */
    const rows = [
      ['blur', measured(f.blur, 2, 'px') + (f.blur_confidence === null ? '' : `, ${Math.round(100 * f.blur_confidence)} % sure`)],
      ['motion', d?.motion || measured(f.motion, 1, 'px')],
      ['clipped whites', f.whites === null ? 'not known' : measured(100 * f.whites, 1, '%')],
      ['picture', `${f.width} × ${f.height} px`],
      ...(d?.facts ?? []),
      ...(d ? [/** @type {[string, string]} */ (['focus', d.landed.words])] : []),
    ];
    this.#numbers.replaceChildren(...rows.flatMap(([k, v]) => [el('dt', {}, k), el('dd', {}, v)]));
    this.#notes.replaceChildren(...(d?.notes ?? []).map((n) => el('li', {}, n)));
    this.#overlays();
  }

  #overlays() {
    const s = this.#state, f = s?.byId.get(s.here);
    if (!s || !f || s.close) return;
    const w = this.#box.clientWidth, h = this.#box.clientHeight;
    if (w === 0) return;
    drawOverlays(this.#layer, placed(f, { zoom: 0, dx: 0, dy: 0 }, w, h, 1), w, h, f, details.now(f.id), s.overlays);
    const there = s.overlays.whites && this.#picture.classList.contains('there') && this.#picture.complete;
    this.#hatch.hidden = !there;
    this.#clipped.hidden = !there;
    if (there) setText(this.#clipped, `Hatched: ${(100 * drawWhites(this.#hatch, this.#picture)).toFixed(1)} % of the picture is clipped in a channel, as seen at this size.`);
  }

  /** @param {State} s @param {Frame} f */
  #course(s, f) {
    const there = courses.now(f.burst);
    if (there) return this.plot.draw(s, there);
    void courses.ask(f.burst).then((c) => {
      const now = this.#state, current = now?.byId.get(now.here);
      if (!now || current?.burst !== f.burst) return;
      if (c && c.length > 0) this.plot.draw(now, c);
      else this.plot.clear();
    });
  }
}

/** @param {(e: import('./state.js').Event) => void} dispatch */
export function overlayToggles(dispatch) {
  const buttons = overlayList.map((o) =>
    el('button', { type: 'button', class: 'toggle', title: o.title, onclick: () => dispatch({ type: 'overlay', name: o.name }) }, el('span', {}, o.word), el('kbd', { 'aria-hidden': 'true' }, o.key)));
  return {
    element: el('div', { class: 'toggles', role: 'group', 'aria-label': 'Show on the picture' }, ...buttons),
    /** @param {State} s */
    update(s) {
      buttons.forEach((b, i) => setAttr(b, 'aria-pressed', String(s.overlays[overlayList[i].name])));
    },
  };
}
