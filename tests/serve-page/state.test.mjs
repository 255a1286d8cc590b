// The page's state, layout, keys and arithmetic without a browser.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { readShoot } from '../../src/serve/page/api.js';
import { arrange, besides, lineAt, moved, nextOpen, notBeside, poseOf } from '../../src/serve/page/layout.js';
import { begin, displayOrder, isOpen, progress, reduce, starsOf, verdictOf } from '../../src/serve/page/state.js';
import { dice, invent } from './mock-shoot.mjs';

const heights = { burst: 50, line: 100, posegap: 8 };

/** Burst 1: pose 1 = b a (best first), pose 2 = c, and d in no pose; burst 2: pose 1 = e f g. */
function small() {
  const frame = (id, burst, pose, place, verdict, extra = {}) => ({
    id, name: id.toUpperCase() + '.JPG', burst, pose, place, time_ms: 0, width: 600, height: 400, verdict, rating: verdict === 'keep' ? 4 : verdict === 'reject' ? -1 : null,
    blur: 1, blur_confidence: 1, motion: 0, whites: 0, cut: 0, head: null, subject: null, reason: '', codes: [], damaged: false, mine: null, ...extra });
  return {
    folder: '/harbour', revision: 7, session: 's',
    bursts: [
      { id: '1', camera: 'C', start: 0, frames: ['a', 'b', 'c', 'd'], poses: [{ pose: 1, frames: ['b', 'a'] }, { pose: 2, frames: ['c'] }] },
      { id: '2', camera: 'C', start: 9, frames: ['e', 'f', 'g'], poses: [{ pose: 1, frames: ['e', 'f', 'g'] }] },
    ],
    frames: [
      frame('a', '1', 1, 2, 'undecided', { codes: ['close'] }), frame('b', '1', 1, 1, 'keep'), frame('c', '1', 2, 1, 'undecided', { codes: ['soft', 'cut'] }),
      frame('d', '1', 0, 0, 'undecided', { codes: ['unplaced'] }), frame('e', '2', 1, 1, 'keep'), frame('f', '2', 1, 2, 'reject', { codes: ['softer'] }),
      frame('g', '2', 1, 3, 'undecided', { codes: ['close'], mine: { verdict: 'reject', rating: null } }),
    ],
  };
}
const changed = (...list) => ({ type: 'changed', revision: 8, changed: list.map(([id, mine]) => ({ id, mine })) });

test('frames stand by pose, best first, those in no pose last', () => {
  assert.deepEqual(displayOrder(small()), ['b', 'a', 'c', 'd', 'e', 'f', 'g']);
  assert.equal(begin(small()).here, 'b');
});

test('the photographer’s word stands before burstsieve’s, and comes off again', () => {
  let s = begin(small());
  const a = s.byId.get('a');
  assert.equal(verdictOf(s, a), 'undecided');
  assert.ok(isOpen(s, a));
  s = reduce(s, changed(['a', { verdict: 'keep', rating: 2 }]));
  assert.equal(verdictOf(s, a), 'keep');
  assert.equal(starsOf(s, a), 2);
  assert.ok(!isOpen(s, a));
  assert.equal(s.revision, 8);
  s = reduce(s, changed(['a', null]));
  assert.equal(verdictOf(s, a), 'undecided');
  assert.equal(starsOf(s, a), 0);
});

test('an explicit undecided is a decision: the frame no longer waits', () => {
  const s = reduce(begin(small()), changed(['c', { verdict: 'undecided', rating: null }]));
  assert.equal(verdictOf(s, s.byId.get('c')), 'undecided');
  assert.ok(!isOpen(s, s.byId.get('c')));
});

test('a reject has no stars, whatever rating it carries', () => {
  const s = begin(small());
  assert.equal(starsOf(s, s.byId.get('f')), 0);
});

test('progress counts what was left undecided, and what is settled of it', () => {
  const p = progress(begin(small()));
  assert.deepEqual([p.asked, p.open, p.settled, p.changed], [4, 3, 1, 1]);
  assert.deepEqual([p.keep, p.undecided, p.reject], [2, 3, 2]);
});

test('a change of an unknown frame is passed over; an older revision does not turn the clock back', () => {
  const s = begin(small());
  const t = reduce(s, { type: 'changed', revision: 3, changed: [{ id: 'nobody', mine: { verdict: 'keep', rating: null } }] });
  assert.equal(t.revision, 7);
  assert.equal(t.mine.size, s.mine.size);
});

test('answers that overtake each other: the newest word on a frame stands, and no step of another tab is passed over', () => {
  const reject = { verdict: 'reject', rating: null }, keep = { verdict: 'keep', rating: null };
  const step = (revision, own, ...list) => ({ type: 'changed', revision, own, changed: list.map(([id, mine]) => ({ id, mine })) });
  // Own steps 8 and 9 on one frame; the news of 8 come late.
  let s = reduce(reduce(begin(small()), step(8, true, ['a', keep])), step(9, true, ['a', reject]));
  s = reduce(s, step(8, false, ['a', keep]));
  assert.equal(s.mine.get('a').verdict, 'reject');
  assert.equal(s.revision, 9);
  // Another tab's step 10 lies between: asked for again from 9, although 11 is known.
  s = reduce(s, step(11, true, ['c', keep]));
  assert.equal(s.revision, 9);
  s = reduce(s, step(10, false, ['f', keep]));
  assert.equal(s.mine.get('f').verdict, 'keep');
  assert.equal(s.revision, 10);
  s = reduce(s, { ...step(11, false, ['c', keep]), canUndo: true });
  assert.equal(s.revision, 11);
  // What could be undone is the newest answer's word.
  assert.equal(reduce(s, { ...step(8, false), canUndo: false }).canUndo, true);
});

test('nothing is changed in place', () => {
  const s = Object.freeze(begin(small()));
  const before = new Map(s.mine);
  reduce(s, changed(['a', { verdict: 'keep', rating: 1 }]));
  reduce(s, { type: 'tick', id: 'a' });
  reduce(s, { type: 'overlay', name: 'head' });
  assert.deepEqual(s.mine, before);
  assert.equal(s.ticked.size, 0);
  assert.equal(s.overlays.head, false);
});

test('narrowing shows what fits, stays put while it is decided on, and moves to a frame that is shown', () => {
  let s = reduce(begin(small()), { type: 'narrow', narrow: { show: 'undecided' } });
  assert.deepEqual([...s.shown].sort(), ['a', 'c', 'd']);
  assert.equal(s.here, 'a');
  s = reduce(s, changed(['a', { verdict: 'keep', rating: null }]));
  assert.ok(s.shown.has('a'), 'the list does not jump under the hand');
  s = reduce(s, { type: 'narrow', narrow: { show: 'changed' } });
  assert.deepEqual([...s.shown].sort(), ['a', 'g']);
  s = reduce(s, { type: 'narrow', narrow: { show: 'all', reason: 'cut' } });
  assert.deepEqual([...s.shown], ['c']);
  assert.equal(s.here, 'c');
  s = reduce(s, { type: 'narrow', narrow: { reason: '' } });
  assert.equal(s.shown, null);
});

test('narrowed to nothing leaves the state whole', () => {
  const s = reduce(begin(small()), { type: 'narrow', narrow: { reason: 'no such' } });
  assert.equal(s.shown.size, 0);
  assert.equal(arrange(s, 3, heights).lines.length, 0);
  assert.equal(moved(arrange(s, 3, heights), s.here, 'right'), s.here);
});

test('lines: one per burst, one per pose, further ones where a pose is wider than the columns', () => {
  const l = arrange(begin(small()), 2, heights);
  assert.deepEqual(l.lines.map((x) => (x.kind === 'burst' ? 'burst' : x.frames.join(''))), ['burst', 'ba', 'c', 'd', 'burst', 'ef', 'g']);
  assert.deepEqual(l.lines.map((x) => x.top), [0, 50, 158, 266, 374, 424, 524]);
  assert.equal(l.height, 632);
  assert.equal(lineAt(l, 0), 0);
  assert.equal(lineAt(l, 50), 1);
  assert.equal(lineAt(l, 1e9), 7);
});

test('moves', () => {
  const l = arrange(begin(small()), 2, heights);
  const go = (from, ...moves) => moves.reduce((id, m) => moved(l, id, m), from);
  assert.equal(go('b', 'right'), 'a');
  assert.equal(go('b', 'left'), 'b');
  assert.equal(go('a', 'right'), 'c');
  assert.equal(go('a', 'down'), 'c', 'a shorter line gives its last');
  assert.equal(go('d', 'down'), 'e');
  assert.equal(go('g', 'down'), 'g');
  assert.equal(go('f', 'up', 'up'), 'c');
  assert.equal(go('a', 'burstAfter'), 'e');
  assert.equal(go('f', 'burstBefore'), 'b', 'the first frame of the burst before');
  assert.equal(go('b', 'burstBefore'), 'b');
  assert.equal(go('c', 'last'), 'd');
  assert.equal(go('c', 'first'), 'b');
  assert.equal(go('c', 'end'), 'g');
  assert.equal(go('g', 'top'), 'b');
});

test('the next open frame, round the end, and none', () => {
  let s = begin(small());
  const l = arrange(s, 2, heights);
  assert.equal(nextOpen(s, l, 1), 'a');
  assert.equal(nextOpen(s, l, -1), 'd');
  s = reduce(s, changed(['a', { verdict: 'keep', rating: null }], ['c', { verdict: 'keep', rating: null }], ['d', { verdict: 'reject', rating: null }]));
  assert.equal(nextOpen(s, l, 1), null);
});

test('side by side: the current frame and the best other one, or the ticked ones, four at most', () => {
  let s = reduce(begin(small()), { type: 'go', id: 'g' });
  assert.deepEqual(poseOf(s), ['e', 'f', 'g']);
  assert.deepEqual(besides(s), ['e', 'g']);
  s = reduce(s, { type: 'close', panes: besides(s) });
  assert.deepEqual([s.close.panes, s.close.at, s.here], [['e', 'g'], 1, 'g']);
  assert.equal(notBeside(s, 1), 'f');
  s = reduce(s, { type: 'beside', id: 'f' });
  assert.deepEqual(s.close.panes, ['e', 'g', 'f']);
  s = reduce(s, { type: 'pane', at: 3 });
  assert.equal(s.here, 'e', 'panes go round');
  s = reduce(s, { type: 'beside', id: notBeside(s, 1) ?? s.here });
  assert.deepEqual(s.close.panes, ['e'], 'no other left: alone again');
  s = reduce(s, { type: 'go', id: 'b' });
  assert.deepEqual(s.close.panes, ['b'], 'a single close look follows');
  assert.equal(reduce(s, { type: 'leave' }).close, null);
});

test('exchanging a frame never shows one twice', () => {
  let s = reduce(begin(small()), { type: 'close', panes: ['e', 'f'] });
  s = reduce(s, { type: 'exchange', id: 'f' });
  assert.deepEqual(s.close.panes, ['e', 'f']);
  s = reduce(s, { type: 'exchange', id: 'g' });
  assert.deepEqual(s.close.panes, ['g', 'f']);
});

test('a shoot read anew keeps where one was and drops what is gone', () => {
  let s = reduce(reduce(begin(small()), { type: 'go', id: 'f' }), { type: 'tick', id: 'f' });
  const next = small();
  next.frames = next.frames.filter((f) => f.id !== 'f');
  next.bursts[1].frames = ['e', 'g'];
  next.bursts[1].poses[0].frames = ['e', 'g'];
  s = reduce(s, { type: 'shoot', shoot: next });
  assert.equal(s.here, 'b');
  assert.equal(s.ticked.size, 0);
});

test('any series of events leaves a state that can be laid out: 3000 random ones', () => {
  const roll = dice(5);
  let s = begin(readShoot({ ...invent(120, 3), revision: 0, session: 'x' }));
  const ids = [...s.byId.keys(), 'nobody'];
  const id = () => ids[Math.floor(roll() * ids.length)];
  const some = [
    () => ({ type: 'go', id: id() }), () => ({ type: 'tick', id: id() }), () => ({ type: 'untick' }), () => ({ type: 'close', panes: [id(), id(), id(), id(), id()] }),
    () => ({ type: 'pane', at: Math.floor(roll() * 9) - 4 }), () => ({ type: 'exchange', id: id() }), () => ({ type: 'beside', id: id() }), () => ({ type: 'leave' }),
    () => ({ type: 'view', zoom: roll() * 4 }), () => ({ type: 'narrow', narrow: { show: ['all', 'undecided', 'changed'][Math.floor(roll() * 3)] } }),
    () => ({ type: 'narrow', narrow: { reason: ['', 'soft', 'close'][Math.floor(roll() * 3)] } }),
    () => changed([id(), roll() < 0.3 ? null : { verdict: ['keep', 'reject', 'undecided'][Math.floor(roll() * 3)], rating: null }]),
  ];
  for (let i = 0; i < 3000; ++i) {
    s = reduce(s, some[Math.floor(roll() * some.length)]());
    assert.ok(s.byId.has(s.here));
    if (s.close) assert.ok(s.close.panes.length >= 1 && s.close.panes.length <= 4 && s.close.panes.every((p) => s.byId.has(p)) && s.close.panes[s.close.at] === s.here);
    const p = progress(s);
    assert.equal(p.keep + p.undecided + p.reject, 120);
    if (i % 50 === 0) {
      const l = arrange(s, 1 + Math.floor(roll() * 5), heights);
      assert.equal(l.order.length, s.shown ? s.shown.size : 120);
      for (const m of ['left', 'right', 'up', 'down', 'burstAfter', 'burstBefore', 'first', 'last', 'top', 'end']) assert.ok(s.byId.has(moved(l, s.here, m)));
    }
  }
});
