// Where everything stands in the list of bursts, and which frame a move leads to: pure arithmetic, so that ten thousand
// frames need no element that is not in sight.

import { isOpen, posesOf } from './state.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Line} Line */
/** @typedef {import('./types.js').Layout} Layout */
/** @typedef {{burst: number, line: number, posegap: number}} Heights CSS px */

/**
 * A line per burst, then a line per pose, or several where a pose has more frames than there are columns.
 * @param {State} s @param {number} columns @param {Heights} h @returns {Layout}
 */
export function arrange(s, columns, h) {
  /** @type {Line[]} */
  const lines = [];
  /** @type {string[]} */
  const order = [];
  const lineOf = new Map();
  let top = 0;
  s.shoot.bursts.forEach((burst, b) => {
    let headed = false;
    for (const pose of posesOf(burst)) {
      const frames = s.shown ? pose.frames.filter((id) => s.shown?.has(id)) : pose.frames;
      if (frames.length === 0) continue;
      if (!headed) {
        lines.push({ kind: 'burst', burst: b, top, height: h.burst });
        top += h.burst;
        headed = true;
      }
      for (let i = 0; i < frames.length; i += columns) {
        const part = frames.slice(i, i + columns);
        const height = h.line + (i + columns >= frames.length ? h.posegap : 0);
        for (const id of part) lineOf.set(id, lines.length);
        lines.push({ kind: 'frames', burst: b, pose: pose.pose, first: i === 0, total: pose.frames.length, frames: part, top, height });
        order.push(...part);
        top += height;
      }
    }
  });
  return { lines, height: top, order, lineOf, columns };
}

/** The first line whose end is below y. @param {Layout} l @param {number} y */
export function lineAt(l, y) {
  let low = 0, high = l.lines.length;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (l.lines[mid].top + l.lines[mid].height > y) high = mid;
    else low = mid + 1;
  }
  return low;
}

/** @param {Layout} l @param {number} line @param {1|-1} way */
function nextFrames(l, line, way) {
  for (let i = line + way; i >= 0 && i < l.lines.length; i += way) {
    const found = l.lines[i];
    if (found.kind === 'frames') return found;
  }
  return null;
}

/** @typedef {'left'|'right'|'up'|'down'|'burstBefore'|'burstAfter'|'first'|'last'|'top'|'end'} Move */

/** The frame that a move leads to; the same one at an end. @param {Layout} l @param {string} here @param {Move} move */
export function moved(l, here, move) {
  const at = l.lineOf.get(here);
  if (at === undefined) return l.order[0] ?? here;
  const line = l.lines[at];
  if (line.kind !== 'frames') return here;
  const i = l.order.indexOf(here);
  switch (move) {
    case 'left':
      return l.order[i - 1] ?? here;
    case 'right':
      return l.order[i + 1] ?? here;
    case 'up':
    case 'down': {
      const to = nextFrames(l, at, move === 'up' ? -1 : 1);
      return to ? to.frames[Math.min(line.frames.indexOf(here), to.frames.length - 1)] : here;
    }
    case 'burstBefore':
    case 'burstAfter':
      return nextBurst(l, at, line.burst, move === 'burstAfter' ? 1 : -1) ?? here;
    case 'first':
    case 'last': {
      const own = l.lines.filter((x) => x.kind === 'frames' && x.burst === line.burst);
      const to = move === 'first' ? own[0] : own[own.length - 1];
      return to.kind === 'frames' ? to.frames[move === 'first' ? 0 : to.frames.length - 1] : here;
    }
    case 'top':
      return l.order[0];
    case 'end':
      return l.order[l.order.length - 1];
  }
}

/** First frame of the burst after, or before. @param {Layout} l @param {number} at @param {number} burst @param {1|-1} way */
function nextBurst(l, at, burst, way) {
  let found = null;
  for (let i = at; i >= 0 && i < l.lines.length; i += way) {
    const line = l.lines[i];
    if (line.kind !== 'frames' || line.burst === burst) continue;
    if (found !== null && line.burst !== found.burst) break;
    found = line;
    if (way > 0) break;
  }
  return found ? found.frames[0] : null;
}

/** The next frame that waits for a decision, going round at the end; null: none does.
 *  @param {State} s @param {Layout} l @param {1|-1} way */
export function nextOpen(s, l, way) {
  const n = l.order.length;
  const at = l.order.indexOf(s.here);
  for (let k = 1; k <= n; ++k) {
    const id = l.order[(((at + way * k) % n) + n) % n];
    const f = s.byId.get(id);
    if (f && id !== s.here && isOpen(s, f)) return id;
  }
  return null;
}

/** Frames of the current one's pose, best first. @param {State} s */
export function poseOf(s) {
  const f = s.byId.get(s.here);
  const burst = f && s.shoot.bursts.find((b) => b.id === f.burst);
  return (burst && posesOf(burst).find((p) => p.frames.includes(s.here))?.frames) ?? (f ? [f.id] : []);
}

/** What stands side by side: the ticked ones of the pose, else the current frame and the best other one. @param {State} s */
export function besides(s) {
  if (s.ticked.size >= 2) return [...s.ticked];
  const pose = poseOf(s);
  const other = pose.find((id) => id !== s.here);
  return other === undefined ? [s.here] : pose.filter((id) => id === s.here || id === other);
}

/** The best of the pose that stands in no pane yet. @param {State} s */
export function bestBeside(s) {
  return poseOf(s).find((id) => !s.close?.panes.includes(id)) ?? null;
}

/** The next of the pose that stands in no pane yet. @param {State} s @param {1|-1} way */
export function notBeside(s, way) {
  const pose = poseOf(s);
  const taken = new Set(s.close?.panes ?? []);
  const at = pose.indexOf(s.here);
  for (let k = 1; k <= pose.length; ++k) {
    const id = pose[(((at + way * k) % pose.length) + pose.length) % pose.length];
    if (!taken.has(id)) return id;
  }
  return null;
}
