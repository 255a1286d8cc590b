// The page's state and every change of it, without a screen or a network: (state, event) -> state. Nothing is changed in
// place, so that a view can tell by === what it need not draw again.

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Frame} Frame */
/** @typedef {import('./types.js').Shoot} Shoot */
/** @typedef {import('./types.js').Mine} Mine */
/** @typedef {import('./types.js').Change} Change */
/** @typedef {import('./types.js').Narrow} Narrow */
/** @typedef {import('./types.js').Overlays} Overlays */
/** @typedef {import('./types.js').Close} Close */

/**
 * @typedef {{type: 'go', id: string}
 *  | {type: 'tick', id: string}
 *  | {type: 'untick'}
 *  | {type: 'narrow', narrow: Partial<Narrow>}
 *  | {type: 'overlay', name: keyof Overlays}
 *  | {type: 'close', panes: string[]}
 *  | {type: 'pane', at: number}
 *  | {type: 'exchange', id: string}
 *  | {type: 'beside', id: string}
 *  | {type: 'view', zoom?: number, dx?: number, dy?: number}
 *  | {type: 'leave'}
 *  | {type: 'stepOn'}
 *  | {type: 'size', size: number}
 *  | {type: 'dialog', name: 'none'|'help'|'done'}
 *  | {type: 'saving', count: number}
 *  | {type: 'link', link: 'ok'|'lost'|'expired'}
 *  | {type: 'changed', revision: number, changed: Change[], own?: boolean, canUndo?: boolean, canRedo?: boolean}
 *  | {type: 'shoot', shoot: Shoot}} Event
 */

export const most = 4; // frames side by side: more are too narrow to judge a head by on a laptop

/** @param {Shoot} shoot @returns {State} */
export function begin(shoot) {
  const order = displayOrder(shoot);
  return {
    ...taken(shoot),
    here: order[0] ?? '',
    ticked: new Set(),
    narrow: { show: 'all', reason: '' },
    shown: null,
    overlays: { bird: false, head: false, area: false, landed: false, whites: false },
    close: null,
    stepOn: false,
    size: 1,
    dialog: 'none',
    saving: 0,
    link: 'ok',
  };
}

/** @param {Shoot} shoot */
function taken(shoot) {
  /** @type {Map<string, Mine>} */
  const mine = new Map();
  for (const f of shoot.frames) if (f.mine) mine.set(f.id, f.mine);
  return {
    shoot,
    byId: new Map(shoot.frames.map((f) => [f.id, f])),
    mine,
    revision: shoot.revision,
    newest: shoot.revision,
    told: /** @type {Map<string, number>} */ (new Map()),
    canUndo: shoot.can_undo ?? false,
    canRedo: shoot.can_redo ?? false,
  };
}

/** Poses of a burst, best first, then what is in none of them. @param {Shoot['bursts'][number]} burst */
export function posesOf(burst) {
  const poses = burst.poses.filter((p) => p.pose > 0 && p.frames.length > 0);
  const placed = new Set(poses.flatMap((p) => p.frames));
  const rest = burst.frames.filter((id) => !placed.has(id));
  return rest.length > 0 ? [...poses, { pose: 0, frames: rest }] : poses;
}

/** Frames as they stand on the page. @param {Shoot} shoot */
export function displayOrder(shoot) {
  return shoot.bursts.flatMap((b) => posesOf(b).flatMap((p) => p.frames));
}

/** What holds for a frame: the photographer's word, else burstsieve's. @param {State} s @param {Frame} f */
export function verdictOf(s, f) {
  return s.mine.get(f.id)?.verdict ?? f.verdict;
}

/** Stars that stand, 0 for none. Only what is kept has stars. @param {State} s @param {Frame} f */
export function starsOf(s, f) {
  if (verdictOf(s, f) !== 'keep') return 0;
  const own = s.mine.get(f.id)?.rating;
  return Math.max(0, own ?? f.rating ?? 0);
}

/** Left undecided by burstsieve, and not looked at yet. @param {State} s @param {Frame} f */
export function isOpen(s, f) {
  return f.verdict === 'undecided' && !s.mine.has(f.id);
}

/** @typedef {{open: number, asked: number, settled: number, keep: number, undecided: number, reject: number, changed: number, frames: number}} Progress */
/** @type {WeakMap<Map<string, Mine>, {shoot: Shoot, counted: Progress}>} */
const counts = new WeakMap();

/** Counted once for each set of decisions. @param {State} s @returns {Progress} */
export function progress(s) {
  const before = counts.get(s.mine);
  if (before?.shoot === s.shoot) return before.counted;
  const counted = count(s);
  counts.set(s.mine, { shoot: s.shoot, counted });
  return counted;
}

/** @param {State} s @returns {Progress} */
function count(s) {
  let open = 0, asked = 0, keep = 0, undecided = 0, reject = 0;
  for (const f of s.shoot.frames) {
    if (f.verdict === 'undecided') ++asked;
    if (isOpen(s, f)) ++open;
    const v = verdictOf(s, f);
    if (v === 'keep') ++keep;
    else if (v === 'reject') ++reject;
    else ++undecided;
  }
  return { open, asked, settled: asked - open, keep, undecided, reject, changed: s.mine.size, frames: s.shoot.frames.length };
}

/** @param {State} s @param {Narrow} n @returns {Set<string>|null} */
function let_through(s, n) {
  if (n.show === 'all' && n.reason === '') return null;
  const out = new Set();
  for (const f of s.shoot.frames) {
    if (n.show === 'undecided' && verdictOf(s, f) !== 'undecided') continue;
    if (n.show === 'changed' && !s.mine.has(f.id)) continue;
    if (n.reason !== '' && !f.codes.includes(n.reason)) continue;
    out.add(f.id);
  }
  return out;
}

/** The frame to stand on when the current one is not shown: the next that is, else the last. @param {State} s */
function nearest(s) {
  if (!s.shown) return s.byId.has(s.here) ? s.here : (displayOrder(s.shoot)[0] ?? '');
  if (s.shown.has(s.here)) return s.here;
  const order = displayOrder(s.shoot);
  const at = Math.max(0, order.indexOf(s.here));
  for (let i = at; i < order.length; ++i) if (s.shown.has(order[i])) return order[i];
  for (let i = at; i >= 0; --i) if (s.shown.has(order[i])) return order[i];
  return '';
}

/** @param {State} s @param {Event} e @returns {State} */
export function reduce(s, e) {
  switch (e.type) {
    case 'go':
      if (!s.byId.has(e.id) || (e.id === s.here && !s.close)) return s;
      return standing(s, e.id);
    case 'tick':
      return { ...s, ticked: ticked(s, e.id) };
    case 'untick':
      return s.ticked.size === 0 ? s : { ...s, ticked: new Set() };
    case 'narrow': {
      const narrow = { ...s.narrow, ...e.narrow };
      const next = { ...s, narrow, shown: let_through(s, narrow) };
      return standing(next, nearest(next) || s.here);
    }
    case 'overlay':
      return { ...s, overlays: { ...s.overlays, [e.name]: !s.overlays[e.name] } };
    case 'close':
    case 'pane':
    case 'exchange':
    case 'beside':
    case 'view':
    case 'leave':
      return closer(s, e);
    case 'stepOn':
      return { ...s, stepOn: !s.stepOn };
    case 'size':
      return { ...s, size: Math.min(2, Math.max(0, e.size)) };
    case 'dialog':
      return { ...s, dialog: e.name };
    case 'saving':
      return { ...s, saving: e.count };
    case 'link':
      return s.link === e.link ? s : { ...s, link: e.link };
    case 'changed':
      return changed(s, e);
    case 'shoot': {
      const next = { ...s, ...taken(e.shoot), link: /** @type {const} */ ('ok') };
      const shown = let_through(next, next.narrow);
      const kept = { ...next, shown, close: null, ticked: new Set([...s.ticked].filter((id) => next.byId.has(id))) };
      const panes = s.close?.panes.filter((id) => next.byId.has(id)) ?? [];
      return standing({ ...kept, close: s.close && panes.length > 0 ? { ...s.close, panes, at: 0 } : null }, nearest(kept));
    }
  }
}

/** Goes to a frame. A close look follows: to its pane where it has one, else to the frame alone. @param {State} s @param {string} id @returns {State} */
function standing(s, id) {
  if (!s.close) return { ...s, here: id };
  const at = s.close.panes.indexOf(id);
  return { ...s, here: id, close: at >= 0 ? { ...s.close, at } : { ...s.close, panes: [id], at: 0 } };
}

/** @param {State} s @param {string} id */
function ticked(s, id) {
  const out = new Set(s.ticked);
  if (!out.delete(id)) out.add(id);
  return out;
}

/** @param {State} s @param {Extract<Event, {type: 'close'|'pane'|'exchange'|'beside'|'view'|'leave'}>} e @returns {State} */
function closer(s, e) {
  if (e.type === 'close') {
    const panes = [...new Set(e.panes)].filter((id) => s.byId.has(id)).slice(0, most);
    if (panes.length === 0) return s;
    const at = Math.max(0, panes.indexOf(s.here));
    return { ...s, here: panes[at], close: { panes, at, zoom: 1, dx: 0, dy: 0 } };
  }
  if (!s.close) return s;
  const c = s.close;
  switch (e.type) {
    case 'pane': {
      const n = c.panes.length, at = ((e.at % n) + n) % n;
      return { ...s, here: c.panes[at], close: { ...c, at } };
    }
    case 'exchange':
      if (!s.byId.has(e.id) || c.panes.includes(e.id)) return s;
      return { ...s, here: e.id, close: { ...c, panes: c.panes.map((id, i) => (i === c.at ? e.id : id)) } };
    case 'beside':
      // One more beside; with four, or when the pose has no other, back to the current one alone.
      if (c.panes.length >= most || !s.byId.has(e.id) || c.panes.includes(e.id)) return { ...s, close: { ...c, panes: [s.here], at: 0 } };
      return { ...s, close: { ...c, panes: [...c.panes, e.id] } };
    case 'view':
      return { ...s, close: { ...c, zoom: e.zoom ?? c.zoom, dx: e.dx ?? c.dx, dy: e.dy ?? c.dy } };
    case 'leave':
      return { ...s, close: null };
  }
}

/**
 * Answers can overtake each other: that to one's own decision comes on another connection than news of others. A frame keeps
 * the state of the newest revision that spoke of it. `revision`, from which news are asked, passes no step that was not told:
 * the answer to an own decision tells that step alone.
 * @param {State} s @param {Extract<Event, {type: 'changed'}>} e @returns {State}
 */
function changed(s, e) {
  const mine = new Map(s.mine), told = new Map(s.told);
  for (const c of e.changed) {
    if (!s.byId.has(c.id) || e.revision < (told.get(c.id) ?? 0)) continue;
    told.set(c.id, e.revision);
    if (c.mine) mine.set(c.id, c.mine);
    else mine.delete(c.id);
  }
  const known = !e.own || e.revision === s.revision + 1;
  const newest = e.revision >= s.newest;
  return {
    ...s,
    mine,
    told,
    newest: Math.max(s.newest, e.revision),
    revision: known ? Math.max(s.revision, e.revision) : s.revision,
    canUndo: newest ? (e.canUndo ?? s.canUndo) : s.canUndo,
    canRedo: newest ? (e.canRedo ?? s.canRedo) : s.canRedo,
  };
}
