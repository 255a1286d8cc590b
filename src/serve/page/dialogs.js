// Two boxes over the page: the list of keys, and 'done', which writes the sidecars.

import { Failed, post } from './api.js';
import { el, setAttr } from './dom.js';
import { help } from './keys.js';
import { printedOn } from './keycaps.js';
import { feather } from './marks.js';
import { plainText } from './names.js';
import { verdictOf } from './state.js';
import { counted } from './words.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {(e: import('./state.js').Event) => void} Dispatch */

/** @param {string} keys */
function caps(keys) {
  return keys.split(' ').map((k) => {
    const code = /^<(.+)>$/.exec(k);
    return /^(\+|–|these|arrows|with)$/.test(k) && keys.includes(' ' + k + ' ') ? el('span', {}, ` ${k} `) : el('kbd', {}, code ? printedOn(code[1]) : k);
  });
}

/** The left hand's keys as they lie. */
function leftHand() {
  const key = (/** @type {string} */ code, /** @type {string} */ word, /** @type {import('./types.js').Verdict|null} */ verdict) =>
    el('span', { class: 'bigkey' + (verdict ? ' v-' + verdict : '') }, el('kbd', {}, printedOn(code)), verdict ? feather(verdict) : '', el('span', {}, word));
  return el('div', { class: 'hand', 'aria-hidden': 'true' },
    el('div', { class: 'handrow up' }, key('KeyE', 'star fewer', null), key('KeyR', 'star more', null)),
    el('div', { class: 'handrow' }, key('KeyA', 'as judged', null), key('KeyS', 'reject', 'reject'), key('KeyD', 'undecided', 'undecided'), key('KeyF', 'keep', 'keep')),
    el('p', { class: 'soft' }, 'The left hand rests here: from the index finger outwards a frame gets worse. The right hand has the arrows.'));
}

class Box {
  /** @param {string} title @param {Dispatch} dispatch @param {string} kind */
  constructor(title, dispatch, kind) {
    const id = kind + '-title';
    this.body = el('div', { class: 'body' });
    this.element = el('dialog', { class: kind, 'aria-labelledby': id },
      el('header', {}, el('h2', { id }, title), el('button', { type: 'button', class: 'button', onclick: () => dispatch({ type: 'dialog', name: 'none' }) }, 'Close', el('kbd', { 'aria-hidden': 'true' }, 'Esc'))),
      this.body);
    this.element.addEventListener('cancel', (e) => {
      e.preventDefault();
      dispatch({ type: 'dialog', name: 'none' });
    });
    this.element.addEventListener('click', (e) => e.target === this.element && dispatch({ type: 'dialog', name: 'none' }));
    document.body.append(this.element);
  }

  /** @param {boolean} open @returns {boolean} whether it opened just now */
  show(open) {
    if (open === this.element.open) return false;
    if (open) this.element.showModal();
    else this.element.close();
    return open;
  }
}

export class Dialogs {
  #help;
  #done;
  #writing = false;

  /** @param {Dispatch} dispatch @param {(text: string) => void} say @param {() => void} closed */
  constructor(dispatch, say, closed) {
    this.#help = new Box('Keys', dispatch, 'help');
    this.#done = new Box('Done', dispatch, 'done');
    this.dispatch = dispatch;
    this.say = say;
    for (const b of [this.#help, this.#done]) b.element.addEventListener('close', closed);
  }

  /** @param {State} s */
  render(s) {
    if (this.#help.show(s.dialog === 'help'))
      this.#help.body.replaceChildren(leftHand(), el('div', { class: 'keytables' }, ...help.map((part) =>
        el('section', {}, el('h3', {}, part.title), el('dl', {}, ...part.rows.flatMap(([keys, words]) => [el('dt', {}, ...caps(keys)), el('dd', {}, words)]))))));
    if (this.#done.show(s.dialog === 'done')) this.#ask(s);
  }

  /** @param {State} s */
  #ask(s) {
    const n = { keep: 0, undecided: 0, reject: 0 };
    for (const id of s.mine.keys()) {
      const f = s.byId.get(id);
      if (f) ++n[verdictOf(s, f)];
    }
    const open = s.shoot.frames.filter((f) => f.verdict === 'undecided' && !s.mine.has(f.id)).length;
    const only = el('input', { type: 'checkbox' });
    const button = el('button', { type: 'button', class: 'button primary' }, 'Write the sidecars');
    button.addEventListener('click', () => void this.#write(s, button, only.checked));
    this.#done.body.replaceChildren(
      el('p', {}, s.mine.size === 0 ? 'You have not changed a verdict. The sidecars beside the photographs get those of burstsieve.' : `Your verdict on ${counted(s.mine.size, 'frame')} goes into the sidecars beside the photographs; the other frames get that of burstsieve.`),
      s.mine.size === 0 ? '' : el('ul', { class: 'tally' }, ...(/** @type {const} */ (['keep', 'undecided', 'reject'])).map((v) => el('li', {}, feather(v), el('b', {}, String(n[v])), ` ${v}`))),
      el('p', { class: 'soft' }, 'Photographs are never written. What other programs put into the sidecars stays. You can go on afterwards and write again.'),
      open > 0 ? el('p', { class: 'soft' }, `${counted(open, 'frame')} left undecided by burstsieve ${open === 1 ? 'waits' : 'wait'} for you still; undecided frames get no rating.`) : '',
      s.saving > 0 ? el('p', { class: 'warn' }, `${counted(s.saving, 'decision')} not saved yet: they are not part of this.`) : '',
      s.mine.size > 0 ? el('label', { class: 'only' }, only, 'only the frames that I decided on') : '',
      el('div', { class: 'actions' }, button));
    button.focus();
  }

  /** @param {State} s @param {HTMLButtonElement} button @param {boolean} onlyMine */
  async #write(s, button, onlyMine) {
    if (this.#writing) return;
    this.#writing = true;
    setAttr(button, 'disabled', '');
    button.textContent = 'Writing…';
    try {
      /** @type {import('./api.js').Written} */
      const w = await post('/api/done', onlyMine ? { only: 'mine' } : {});
      const failed = Array.isArray(w.failed) ? w.failed : [];
      const said = `${counted(w.created, 'sidecar')} created, ${w.updated} updated, ${w.unchanged} unchanged${failed.length > 0 ? `, ${failed.length} could not be written` : ''}.`;
      this.#done.body.replaceChildren(
        el('p', { class: failed.length > 0 ? 'warn' : 'good', id: 'written' }, said),
        failed.length > 0 ? el('ul', { class: 'failures' }, ...failed.map((f) => el('li', {}, el('b', {}, plainText(f.name)), ` ${plainText(f.why)}`))) : '',
        el('p', { class: 'soft' }, failed.length > 0 ? 'What failed keeps its verdict here: mend the cause and write again.' : 'The review can be closed now, or go on.'),
        el('div', { class: 'actions' }, el('button', { type: 'button', class: 'button primary', onclick: () => this.dispatch({ type: 'dialog', name: 'none' }) }, 'Back to the bursts')));
      this.#done.body.querySelector('button')?.focus();
      this.say(said);
    } catch (e) {
      const why = e instanceof Failed || e instanceof Error ? e.message : String(e);
      this.#done.body.replaceChildren(el('p', { class: 'warn' }, `Nothing can be said of the sidecars: ${why}.`), el('p', { class: 'soft' }, 'Your decisions are safe. Writing again does no harm.'),
        el('div', { class: 'actions' }, el('button', { type: 'button', class: 'button primary', onclick: () => this.#ask(s) }, 'Try again')));
      this.say(`The sidecars were not written: ${why}`);
    }
    this.#writing = false;
  }
}
