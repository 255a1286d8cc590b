// The bar above: what folder, how far the review is, what is shown, and what can be done.

import { el, setAttr, setText, svg } from './dom.js';
import { progress } from './state.js';
import { counted, reasonWords, thousands } from './words.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Show} Show */

/** @type {{show: Show, word: string}[]} */
const shows = [{ show: 'all', word: 'all' }, { show: 'undecided', word: 'undecided' }, { show: 'changed', word: 'changed by you' }];

export class Top {
  #folder = el('bdi', { dir: 'ltr' });
  #said = el('p', { class: 'progresswords' });
  #bar = svg('svg', { class: 'share', viewBox: '0 0 1000 10', preserveAspectRatio: 'none', 'aria-hidden': 'true' });
  #settled = el('progress', { class: 'unseen', max: 1, value: 0, 'aria-label': 'frames settled of those left undecided' });
  #shows;
  #reason;
  #undo;
  #redo;
  #step;
  #saving = el('span', { class: 'saving', hidden: true });
  #key = /** @type {unknown[]} */ ([]);
  /** @type {unknown} */
  #shoot = null;

  /** @param {HTMLElement} box @param {(e: import('./state.js').Event) => void} dispatch @param {(name: string) => void} run */
  constructor(box, dispatch, run) {
    const act = (/** @type {string} */ name, /** @type {string} */ words, /** @type {string} */ key, kind = 'button') =>
      el('button', { type: 'button', class: kind, onclick: () => run(name) }, words, key ? el('kbd', { 'aria-hidden': 'true' }, key) : '');
    this.#undo = act('undo', 'Undo', 'Z');
    this.#redo = act('redo', 'Redo', '⇧Z');
    this.#step = act('stepOn', 'step on', '.', 'toggle');
    this.#step.title = 'after a verdict go on to the next frame that waits';
    this.#shows = shows.map((x) => el('button', { type: 'button', class: 'toggle', onclick: () => dispatch({ type: 'narrow', narrow: { show: x.show } }) }, x.word));
    this.#reason = el('select', { 'aria-label': 'Only frames with this reason' });
    this.#reason.addEventListener('change', () => dispatch({ type: 'narrow', narrow: { reason: this.#reason.value } }));
    const size = (/** @type {string} */ name, /** @type {string} */ sign, /** @type {string} */ words) =>
      el('button', { type: 'button', class: 'toggle square', title: words, onclick: () => run(name) }, sign, el('span', { class: 'unseen' }, words));
    box.replaceChildren(
      el('div', { class: 'bar' },
        el('h1', {}, svg('svg', { viewBox: '0 0 20 20', class: 'feather v-keep', 'aria-hidden': 'true' }, svg('path', { d: 'M3 17C2 9 8 3 17 3C17 12 11 18 3 17Z', class: 'full' })), 'Review'),
        el('span', { class: 'folder' }, this.#folder),
        el('div', { class: 'progress' }, this.#said, this.#bar, this.#settled),
        this.#saving,
        el('div', { class: 'acts' }, this.#undo, this.#redo, act('help', 'Keys', '?'),
          act('debrief', 'Debrief', ''), act('done', 'Done', 'Ctrl ⏎', 'button primary'))),
      el('div', { class: 'bar second' },
        el('div', { class: 'narrow', role: 'group', 'aria-label': 'Narrow the list' }, el('span', { class: 'soft' }, 'Show'), ...this.#shows, el('kbd', { 'aria-hidden': 'true' }, 'N')),
        this.#reason, el('span', { class: 'spring' }), act('nextOpen', 'next open', 'Space', 'toggle'), this.#step,
        el('div', { class: 'sizes', role: 'group', 'aria-label': 'Size of the pictures' }, size('smaller', '−', 'smaller pictures'), size('larger', '+', 'larger pictures'))));
  }

  chooseReason() {
    this.#reason.focus();
  }

  /** @param {State} s */
  render(s) {
    this.#saving.hidden = s.saving === 0;
    setText(this.#saving, s.saving === 0 ? '' : `${s.saving} not saved yet`);
    const key = [s.shoot, s.mine, s.narrow, s.shown, s.canUndo, s.canRedo, s.stepOn];
    if (key.every((k, i) => k === this.#key[i])) return;
    this.#key = key;
    if (this.#shoot !== s.shoot) this.#reasons(s);
    const p = progress(s);
    setText(this.#folder, s.shoot.folder);
    this.#folder.title = s.shoot.folder;
    const left = p.asked === 0 ? 'nothing was left undecided' : p.open === 0 ? `all ${p.asked} open frames settled` : `${thousands(p.settled)} of ${counted(p.asked, 'open frame')} settled`;
    setText(this.#said, `${left} · ${thousands(p.changed)} changed`);
    this.#settled.value = p.asked === 0 ? 1 : p.settled / p.asked;
    this.#share(p);
    this.#shows.forEach((b, i) => setAttr(b, 'aria-pressed', String(s.narrow.show === shows[i].show)));
    if (this.#reason.value !== s.narrow.reason) this.#reason.value = s.narrow.reason;
    setAttr(this.#undo, 'disabled', s.canUndo ? null : '');
    setAttr(this.#redo, 'disabled', s.canRedo ? null : '');
    setAttr(this.#step, 'aria-pressed', String(s.stepOn));
  }

  /** Keep, undecided, reject: solid, hatched, outlined. @param {ReturnType<typeof progress>} p */
  #share(p) {
    const all = Math.max(1, p.frames);
    const keep = (1000 * p.keep) / all, undecided = (1000 * p.undecided) / all;
    const hatch = [];
    for (let x = keep; undecided > 0 && x < keep + undecided; x += 9) hatch.push(`M${x.toFixed(1)} 10L${Math.min(keep + undecided, x + 6).toFixed(1)} 0`);
    this.#bar.replaceChildren(
      svg('rect', { x: 0, y: 0, width: keep, height: 10, class: 'keep' }),
      svg('path', { d: hatch.join('') || 'M0 0', class: 'undecided' }),
      svg('rect', { x: keep + undecided + 1, y: 1, width: Math.max(0, 998 - keep - undecided), height: 8, class: 'reject' }));
    this.#bar.parentElement?.setAttribute('title', `${p.keep} keep, ${p.undecided} undecided, ${p.reject} reject`);
  }

  /** @param {State} s */
  #reasons(s) {
    this.#shoot = s.shoot;
    /** @type {Map<string, number>} */
    const codes = new Map();
    for (const f of s.shoot.frames) for (const c of new Set(f.codes)) codes.set(c, (codes.get(c) ?? 0) + 1);
    this.#reason.replaceChildren(el('option', { value: '' }, 'for any reason'),
      ...[...codes].sort((a, b) => b[1] - a[1]).map(([c, n]) => el('option', { value: c }, `${reasonWords(c)} (${thousands(n)})`)));
  }
}
