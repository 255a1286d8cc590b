// The mark of a verdict is a feather: whole, half, or empty and struck through. The shape carries the meaning, the word
// stands beside it, the colour repeats it.

import { svg } from './dom.js';

/** @typedef {import('./types.js').Verdict} Verdict */

const whole = 'M3 17C2 9 8 3 17 3C17 12 11 18 3 17Z';
const half = 'M3 17C2 9 8 3 17 3Z';

/** @param {Verdict} verdict */
export function feather(verdict) {
  const out = svg('svg', { viewBox: '0 0 20 20', class: 'feather v-' + verdict, 'aria-hidden': 'true', focusable: 'false' });
  if (verdict === 'keep') out.append(svg('path', { d: whole, class: 'full' }), svg('path', { d: 'M5 15L12.5 7.5', class: 'shaft' }));
  else if (verdict === 'undecided') out.append(svg('path', { d: half, class: 'full' }), svg('path', { d: whole, class: 'line' }));
  else out.append(svg('path', { d: whole, class: 'line' }), svg('path', { d: 'M4 4.5L16.5 16.5', class: 'line' }));
  return out;
}

/** Stars as five barbs, those given standing tall. @param {number} stars 0..5 */
export function barbs(stars) {
  const out = svg('svg', { viewBox: '0 0 34 14', class: 'barbs', 'aria-hidden': 'true', focusable: 'false' });
  for (let i = 0; i < 5; ++i) {
    const x = 2 + i * 7;
    const on = i < stars;
    out.append(svg('path', { d: on ? `M${x} 13L${x + 3} 1` : `M${x} 13L${x + 0.75} 10`, class: on ? 'on' : 'off' }));
  }
  return out;
}

/** A verdict's place in a plot: full dot, half dot, struck ring. @param {Verdict} verdict @param {number} x @param {number} y @param {number} r */
export function dot(verdict, x, y, r) {
  const g = svg('g', { class: 'dot v-' + verdict });
  if (verdict === 'keep') g.append(svg('circle', { cx: x, cy: y, r, class: 'full' }));
  else {
    g.append(svg('circle', { cx: x, cy: y, r: r - 0.5, class: 'hollow' }));
    if (verdict === 'undecided') g.append(svg('path', { d: `M${x - r} ${y}A${r} ${r} 0 0 0 ${x + r} ${y}Z`, class: 'full' }));
    else g.append(svg('path', { d: `M${x - r} ${y - r}L${x + r} ${y + r}`, class: 'line' }));
  }
  return g;
}

/** @param {number} stars */
export function starWords(stars) {
  return stars === 0 ? 'no stars' : stars === 1 ? '1 star' : stars + ' stars';
}
