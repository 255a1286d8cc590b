// One frame in the list: the whole frame and, beside it, its head at 100 %; below, the verdict and what it rests on.

import { cropUrl, thumbUrl } from './api.js';
import { el, setAttr, setText } from './dom.js';
import { images } from './images.js';
import { barbs, feather } from './marks.js';
import { starsOf, verdictOf } from './state.js';
import { areaOnBird, headSquare } from './viewport.js';
import { measured } from './words.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Frame} Frame */

export class Card {
  #signature = '';
  #frame;
  #thumb = el('img', { alt: '', draggable: 'false' });
  #head = el('img', { alt: '', draggable: 'false' });
  #verdict = el('span', { class: 'verdict' });
  #name = el('span', { class: 'name' });
  #why = el('span', { class: 'why' });
  #blur = el('span', { class: 'number' });
  #place = el('span', { class: 'place' });

  /** @param {Frame} frame @param {number} column @param {number} headSide CSS px @param {boolean} near whether it is in sight now */
  constructor(frame, column, headSide, near) {
    this.#frame = frame;
    this.element = el(
      'div',
      { role: 'gridcell', class: 'card', id: 'frame-' + frame.id, 'data-id': frame.id, 'aria-colindex': column + 2, tabindex: -1 },
      el('span', { class: 'pics' },
        el('span', { class: 'pic frame' }, this.#thumb),
        el('span', { class: 'pic head' }, this.#head, frame.head ? '' : el('span', { class: 'nohead' }, frame.head_view === 'hidden' ? 'head hidden' : areaOnBird(frame) ? 'focus area' : 'no head found'))),
      el('span', { class: 'row' }, this.#place, this.#verdict),
      el('span', { class: 'row small' }, this.#name, this.#blur),
      this.#why,
    );
    this.element.dataset.id = frame.id;
    // What is seen is what is heard, with a few words between that only the ear needs.
    this.#place.replaceChildren(heard('place '), frame.place > 0 ? String(frame.place) : '–', heard(frame.pose > 0 ? ` in pose ${frame.pose}, ` : ', '));
    setText(this.#name, frame.name);
    this.#name.title = frame.name;
    setText(this.#blur, frame.blur === null ? '' : measured(frame.blur, 2, 'px'));
    setText(this.#why, frame.reason);
    const side = Math.round(headSide * window.devicePixelRatio);
    images.show(this.#thumb, thumbUrl(frame.id), near ? 1 : 3);
    images.show(this.#head, cropUrl(frame.id, headSquare(frame, side), side), near ? 2 : 4);
  }

  /** @param {State} s */
  update(s) {
    const f = this.#frame;
    const verdict = verdictOf(s, f), stars = starsOf(s, f), mine = s.mine.has(f.id), ticked = s.ticked.has(f.id), here = s.here === f.id;
    const signature = [verdict, stars, mine, ticked, here].join();
    if (signature === this.#signature) return;
    this.#signature = signature;
    const e = this.element;
    e.className = `card v-${verdict}${mine ? ' mine' : ''}${here ? ' here' : ''}${ticked ? ' ticked' : ''}`;
    setAttr(e, 'aria-selected', String(ticked));
    setAttr(e, 'tabindex', here ? '0' : '-1');
    this.#verdict.replaceChildren(feather(verdict), el('b', {}, verdict), heard(' '), verdict === 'keep' && stars > 0 ? barbs(stars) : '', verdict === 'keep' && stars > 0 ? el('span', { class: 'count5' }, String(stars), heard(stars === 1 ? ' star' : ' stars')) : '', heard(', '),
      mine ? el('span', { class: 'yours' }, 'yours') : '', ticked ? el('span', { class: 'tick' }, 'ticked') : '');
  }

  drop() {
    images.drop(this.#thumb);
    images.drop(this.#head);
  }
}

/** @param {string} words */
const heard = (words) => el('span', { class: 'unseen' }, words);
