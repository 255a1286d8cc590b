// Puts the parts together: keys and taps become events, events become state, state is drawn.

import { Away, getShoot } from './api.js';
import { Aside } from './aside.js';
import { CloseLook } from './close.js';
import { Dialogs } from './dialogs.js';
import { el, find, setText } from './dom.js';
import { Follower } from './follow.js';
import { images } from './images.js';
import { askBrowser, learn } from './keycaps.js';
import { commandOf } from './keys.js';
import { bestBeside, besides, moved, nextOpen, notBeside, poseOf } from './layout.js';
import { List } from './list.js';
import { starWords } from './marks.js';
import { Saver } from './saver.js';
import { begin, reduce, starsOf } from './state.js';
import { Top } from './top.js';
import { counted } from './words.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Wish} Wish */
/** @typedef {import('./state.js').Event} Event */

const stage = find('#stage', HTMLElement), notice = find('#notice', HTMLElement), said = find('#said', HTMLElement), plain = find('#plain', HTMLElement);

/** Spoken, after it is true. @param {string} text */
function say(text) {
  said.textContent = '';
  // The same words twice are heard twice only if the element was empty in between.
  requestAnimationFrame(() => (said.textContent = text));
}

/** A page instead of the list. @param {string} title @param {string} text @param {boolean} again */
function instead(title, text, again) {
  stage.classList.add('bare');
  plain.hidden = false;
  document.querySelector('#top .soft')?.remove();
  plain.className = 'plain';
  plain.replaceChildren(el('h2', {}, title), el('p', {}, text), again ? el('button', { type: 'button', class: 'button primary', onclick: () => location.reload() }, 'Try again') : '');
}

class Page {
  /** @param {State} state */
  constructor(state) {
    this.state = state;
    const dispatch = (/** @type {Event} */ e) => this.dispatch(e);
    const run = (/** @type {string} */ name, shift = false) => this.run(name, shift);
    this.top = new Top(find('#top', HTMLElement), dispatch, run);
    this.list = new List(find('#bursts', HTMLElement), dispatch, () => run('close'));
    this.aside = new Aside(find('#aside', HTMLElement), dispatch, run);
    this.close = new CloseLook(find('#close', HTMLElement), dispatch, run);
    this.dialogs = new Dialogs(dispatch, say, () => this.focus());
    this.noticeTimer = 0;
    this.drawn = false;
    this.draw();
    this.focus();
    this.follower = new Follower({
      revision: () => this.state.revision,
      changed: (a) => this.heard(a),
      link: (link) => this.linked(link),
      reload: async () => this.dispatch({ type: 'shoot', shoot: await getShoot() }),
    });
    this.saver = new Saver({
      saving: (count) => this.dispatch({ type: 'saving', count }),
      saved: (a, job) => this.saved(a, job),
      refused: (text, job) => this.tell(job.kind === 'decide' ? `Not saved: ${text}` : text, 'error'),
      back: () => this.follower.back(),
      expired: () => this.linked('expired'),
    });
    this.saver.restore(state.shoot.session);
    document.addEventListener('keydown', (e) => this.key(e));
    // After a click, not after a key, the keys belong to the frames again.
    document.addEventListener('click', (e) => {
      if (e.detail > 0 && e.target instanceof Element && e.target.closest('#top button, #aside button, #close button')) this.focus(true);
    });
    window.addEventListener('beforeunload', (e) => this.saver.waiting > 0 && e.preventDefault());
    void askBrowser(() => this.draw());
  }

  /** @param {Event} e */
  dispatch(e) {
    const before = this.state;
    this.state = reduce(before, e);
    if (this.state === before) return;
    this.draw();
    const s = this.state;
    if (before.here !== s.here || Boolean(before.close) !== Boolean(s.close) || before.shown !== s.shown) this.focus();
  }

  draw() {
    const s = this.state;
    if (stage.classList.contains('closer') !== (s.close !== null))
      for (const e of [stage, document.body]) e.classList.toggle('closer', s.close !== null);
    this.list.render(s);
    this.top.render(s);
    this.close.render(s);
    this.dialogs.render(s);
    if (this.drawn) return this.besides();
    // The first time the list is painted before what stands beside it.
    this.drawn = true;
    requestAnimationFrame(() => setTimeout(() => this.besides()));
  }

  besides() {
    const s = this.state;
    this.aside.ahead = moved(this.list.layout, s.here, 'right');
    this.aside.render(s);
  }

  focus(always = false) {
    if (this.state.dialog !== 'none') return;
    const at = always ? null : document.activeElement;
    // Who is in the bar or the panel with the keyboard stays there, unless it has gone.
    if (at && at !== document.body && at.isConnected && !at.closest('#bursts, #close, dialog') && at.checkVisibility()) return;
    if (this.state.close) this.close.focus();
    else this.list.focus();
  }

  /** @param {KeyboardEvent} e */
  key(e) {
    if (e.defaultPrevented || e.isComposing || this.state.dialog !== 'none') return;
    const target = e.target instanceof Element ? e.target : null;
    const name = target?.tagName;
    if (name === 'SELECT' && e.key === 'Escape') return this.focus(true);
    if (name === 'SELECT' || name === 'INPUT') return;
    const command = commandOf({ key: e.key, code: e.code, shift: e.shiftKey, ctrl: e.ctrlKey || e.metaKey, alt: e.altKey });
    // A button or link keeps the keys that work it.
    if (!command || ((name === 'BUTTON' || name === 'A') && (e.key === 'Enter' || e.key === ' ') && !e.ctrlKey)) return;
    e.preventDefault();
    if (learn(e)) this.draw();
    if (e.repeat && !/^(left|right|up|down|burst)/.test(command.name)) return;
    this.run(command.name, command.shift);
  }

  /** @param {string} name @param {boolean} shift */
  run(name, shift = false) {
    const s = this.state;
    if (/^place[1-9]$/.test(name)) return this.place(Number(name.slice(5)));
    switch (name) {
      case 'keep': case 'undecided': case 'reject': case 'none':
        return this.decide(name, shift);
      case 'moreStars': case 'fewerStars':
        return this.stars(name === 'moreStars' ? 1 : -1);
      case 'left': case 'right': case 'up': case 'down':
        return s.close ? this.closeMove(name, shift) : this.dispatch({ type: 'go', id: moved(this.list.layout, s.here, name) });
      case 'burstBefore': case 'burstAfter': case 'first': case 'last': case 'top': case 'end':
        return this.dispatch({ type: 'go', id: moved(this.list.layout, s.here, name) });
      case 'nextOpen':
        return this.open(shift ? -1 : 1);
      case 'bird': case 'head': case 'area': case 'landed': case 'whites':
        return this.dispatch({ type: 'overlay', name });
      case 'undo': case 'redo':
        return this.saver.push({ kind: name });
      case 'narrow': {
        if (shift) return this.top.chooseReason();
        const shows = /** @type {const} */ (['all', 'undecided', 'changed']);
        const next = shows[(shows.indexOf(s.narrow.show) + 1) % shows.length];
        this.dispatch({ type: 'narrow', narrow: { show: next } });
        return say(`${next === 'all' ? 'All frames' : next === 'changed' ? 'Changed by you' : 'Undecided'}: ${counted(this.list.layout.order.length, 'frame')}`);
      }
      case 'help': case 'done':
        return this.dispatch({ type: 'dialog', name });
      case 'debrief':
        return void this.debrief();
      case 'stepOn':
        this.dispatch({ type: 'stepOn' });
        return say(this.state.stepOn ? 'Steps on after a verdict' : 'Stays after a verdict');
      default:
        return this.look(name);
    }
  }

  /** @param {string} name */
  look(name) {
    const s = this.state;
    switch (name) {
      case 'close':
        return s.close ? undefined : this.dispatch({ type: 'close', panes: [s.here] });
      case 'versus':
        return this.versus();
      case 'tick':
        this.dispatch({ type: 'tick', id: s.here });
        return say(this.state.ticked.has(s.here) ? `Ticked, ${this.state.ticked.size} in all` : 'Tick taken off');
      case 'leave':
        return this.dispatch(s.close ? { type: 'leave' } : { type: 'untick' });
      case 'larger': case 'smaller': {
        const way = name === 'larger' ? 1 : -1;
        return s.close ? this.close.zoom(way) : this.dispatch({ type: 'size', size: s.size + way });
      }
      case 'whole':
        if (s.close) this.dispatch({ type: 'view', zoom: s.close.zoom === 0 ? 1 : 0, dx: 0, dy: 0 });
    }
  }

  /** What cost frames on this outing: a page of its own, if this shoot has one. */
  async debrief() {
    const answer = await fetch('/debrief', { credentials: 'same-origin' }).catch(() => null);
    if (answer?.ok) location.assign('/debrief');
    else this.tell(answer ? 'There is no debrief of this shoot.' : 'burstsieve does not answer.', 'error');
  }

  versus() {
    const s = this.state;
    if (s.close ? s.close.panes.length === 1 && !bestBeside(s) : besides(s).length < 2)
      return this.tell('This pose has no other frame. Tick frames (T) to set them side by side.', 'news');
    this.dispatch(s.close ? { type: 'beside', id: bestBeside(s) ?? s.here } : { type: 'close', panes: besides(s) });
  }

  /** @param {'left'|'right'|'up'|'down'} name @param {boolean} shift */
  closeMove(name, shift) {
    const s = this.state, way = name === 'left' || name === 'up' ? -1 : 1, across = name === 'left' || name === 'right';
    if (!s.close) return;
    if (shift) return this.close.pan(across ? way / 6 : 0, across ? 0 : way / 6);
    if (s.close.panes.length === 1) return this.dispatch({ type: 'go', id: moved(this.list.layout, s.here, name) });
    if (across) return this.dispatch({ type: 'pane', at: s.close.at + way });
    const id = notBeside(s, way);
    if (id) this.dispatch({ type: 'exchange', id });
  }

  /** @param {number} n */
  place(n) {
    const s = this.state, id = poseOf(s)[n - 1];
    if (!id) return;
    if (s.close && s.close.panes.length > 1) {
      const at = s.close.panes.indexOf(id);
      return this.dispatch(at >= 0 ? { type: 'pane', at } : { type: 'exchange', id });
    }
    this.dispatch({ type: 'go', id });
  }

  /** @param {1|-1} way */
  open(way) {
    const id = nextOpen(this.state, this.list.layout, way);
    if (id) this.dispatch(this.state.close ? { type: 'close', panes: [id] } : { type: 'go', id });
    else this.tell('No frame waits for you.', 'news');
  }

  /** @param {Wish} wish @param {boolean} all */
  decide(wish, all) {
    const s = this.state;
    if (!s.here) return;
    const frames = !all ? [s.here] : s.close ? s.close.panes : s.ticked.size > 0 ? [...s.ticked] : poseOf(s);
    const of = frames.length === 1 ? (s.byId.get(frames[0])?.name ?? '') : counted(frames.length, 'frame');
    this.saver.push({ kind: 'decide', frames, verdict: wish, said: `${wish === 'none' ? 'As judged' : wish}: ${of}` });
    if (s.stepOn && (!s.close || s.close.panes.length === 1)) this.open(1);
  }

  /** Stars are for keeps; where there are none yet the first step gives three. @param {1|-1} way */
  stars(way) {
    const s = this.state, f = s.byId.get(s.here);
    if (!f) return;
    const now = starsOf(s, f);
    const rating = now > 0 ? Math.min(5, Math.max(1, now + way)) : 3;
    if (rating === now) return say(starWords(now));
    this.saver.push({ kind: 'decide', frames: [f.id], verdict: 'keep', rating, said: `keep, ${starWords(rating)}: ${f.name}` });
  }

  /** @param {import('./api.js').Saved} a @param {import('./saver.js').Job} job */
  saved(a, job) {
    this.dispatch({ type: 'changed', revision: a.revision, changed: a.changed, own: true, canUndo: a.can_undo, canRedo: a.can_redo });
    if (job.kind === 'decide') return say(job.said);
    const id = a.changed[0]?.id;
    if (id) this.dispatch(this.state.close && !this.state.close.panes.includes(id) ? { type: 'close', panes: [id] } : { type: 'go', id });
    const what = a.changed.length === 0 ? `Nothing to ${job.kind}` : `${job.kind === 'undo' ? 'Undone' : 'Redone'}: ${a.changed.length === 1 ? (this.state.byId.get(id)?.name ?? '') : counted(a.changed.length, 'frame')}`;
    this.tell(what, 'news');
  }

  /** From another tab. @param {import('./api.js').Saved} a */
  heard(a) {
    this.dispatch({ type: 'changed', revision: a.revision, changed: a.changed, canUndo: a.can_undo, canRedo: a.can_redo });
  }

  /** @param {'ok'|'lost'|'expired'} link */
  linked(link) {
    const before = this.state.link;
    if (before === link || before === 'expired') return;
    this.dispatch({ type: 'link', link });
    if (link === 'ok') images.again();
    if (link === 'ok') this.tell('burstsieve is back; what waited is being saved.', 'news');
    else if (link === 'expired') this.tell(`This page belongs to an earlier start of burstsieve. Open the address that it printed last, in this tab.${this.saver.waiting > 0 ? ` ${counted(this.saver.waiting, 'decision')} not saved yet: saved then, if burstsieve review has the same --port.` : ''}`, 'lasting');
    else this.tell('burstsieve does not answer. Is it still running? What you decide now waits here and is saved when it is back.', 'lasting');
  }

  /** @param {string} text @param {'news'|'error'|'lasting'} kind */
  tell(text, kind) {
    clearTimeout(this.noticeTimer);
    notice.hidden = false;
    notice.className = kind;
    setText(notice, text);
    if (kind !== 'lasting') this.noticeTimer = window.setTimeout(() => (notice.hidden = true), kind === 'news' ? 2600 : 9000);
  }
}

async function start() {
  try {
    const shoot = await getShoot();
    document.title = `Review: ${shoot.folder.split('/').pop() || shoot.folder}`;
    if (shoot.frames.length === 0) return instead('No photographs here', `burstsieve found no photograph in ${shoot.folder}. Nothing was written.`, true);
    new Page(begin(shoot));
  } catch (e) {
    const away = e instanceof Away;
    instead(away ? 'burstsieve does not answer' : 'The review could not be opened', away ? 'The program that serves this page is not running any more. Start burstsieve review again and open the address that it prints.' : (e instanceof Error ? e.message : String(e)), true);
  }
}

void start();
