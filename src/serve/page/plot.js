// A burst over time: sharpness with its band of confidence, motion, clipped whites. A click or tap goes to the frame.

import { el, svg } from './dom.js';
import { dot } from './marks.js';
import { verdictOf } from './state.js';
import { measured } from './words.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {{id: string, time_ms: number, blur: number|null, low: number|null, high: number|null, motion: number|null, whites: number|null}} Point */

const width = 440, left = 52, right = 12;

/** Even spacing where times are missing or equal, else by time. @param {Point[]} points @returns {number[]} */
export function places(points) {
  const times = points.map((p) => p.time_ms);
  const first = Math.min(...times), last = Math.max(...times);
  const room = width - left - right;
  if (!(last > first)) return points.map((_, i) => left + (points.length > 1 ? (i / (points.length - 1)) * room : room / 2));
  return times.map((t) => left + ((t - first) / (last - first)) * room);
}

/** A round number at or above v: 1, 2 or 5 times a power of ten. @param {number} v */
export function roundUp(v) {
  if (!(v > 0)) return 1;
  const p = 10 ** Math.floor(Math.log10(v));
  return [1, 2, 5, 10].map((k) => k * p).find((k) => k >= v * 0.999) ?? 10 * p;
}

export class Plot {
  element = el('figure', { class: 'plot' });
  /** @type {Point[]} */
  #points = [];
  /** @type {number[]} */
  #x = [];
  #now = svg('g', { class: 'now' });
  #svg = svg('svg', {});
  #signature = '';

  /** @param {(id: string) => void} go */
  constructor(go) {
    this.element.addEventListener('click', (e) => {
      const r = this.#svg.getBoundingClientRect();
      const x = ((e.clientX - r.left) / r.width) * width;
      let best = -1;
      this.#x.forEach((px, i) => {
        if (best < 0 || Math.abs(px - x) < Math.abs(this.#x[best] - x)) best = i;
      });
      if (best >= 0) go(this.#points[best].id);
    });
  }

  /** @param {State} s @param {Point[]} points in order of time */
  draw(s, points) {
    const verdicts = points.map((p) => {
      const f = s.byId.get(p.id);
      return f ? verdictOf(s, f) : 'undecided';
    });
    const signature = points.map((p, i) => p.id + verdicts[i]).join();
    if (signature !== this.#signature) {
      this.#signature = signature;
      this.#points = points;
      this.#x = places(points);
      const sharp = this.#sharpness(points, verdicts);
      const motion = this.#bars(points.map((p) => p.motion), 132, 'motion', 'px', 5);
      const whites = this.#bars(points.map((p) => (p.whites === null ? null : 100 * p.whites)), 186, 'whites', '%', 10);
      this.#svg = svg('svg', { viewBox: `0 0 ${width} 216`, role: 'img', 'aria-label': summary(points) }, ...sharp, ...motion, ...whites, this.#now);
      this.element.replaceChildren(this.#svg, el('figcaption', {}, 'Blur: up is sharper, the band is its confidence. Click to go to a frame.'));
    }
    const at = points.findIndex((p) => p.id === s.here);
    this.#now.replaceChildren();
    if (at >= 0) this.#now.append(svg('path', { d: `M${this.#x[at]} 8V206` }), svg('path', { d: `M${this.#x[at] - 4} 2h8l-4 6Z`, class: 'head' }));
  }

  clear() {
    this.#signature = '';
    this.#points = [];
    this.#x = [];
    this.element.replaceChildren(el('p', { class: 'soft' }, 'No course of this burst is known.'));
  }

  /** Blur in factors of two, sharp at the top. @param {Point[]} points @param {import('./types.js').Verdict[]} verdicts */
  #sharpness(points, verdicts) {
    const known = points.flatMap((p) => [p.low, p.high, p.blur]).filter((v) => v !== null && v > 0).map(Number);
    const low = Math.min(0.5, ...known), high = Math.max(4, ...known);
    const y = (/** @type {number} */ v) => 12 + (Math.log(v / low) / Math.log(high / low)) * 98;
    const out = [];
    for (const tick of [0.5, 1, 2, 4, 8].filter((t) => t >= low && t <= high))
      out.push(svg('path', { class: 'rule', d: `M${left} ${y(tick)}H${width - right}` }), svg('text', { x: left - 6, y: y(tick) + 4, class: 'tick' }, `${tick} px`));
    let band = '';
    let run = /** @type {number[]} */ ([]);
    const flush = () => {
      if (run.length === 1) band += `M${this.#x[run[0]] - 3} ${y(Number(points[run[0]].low))}h6V${y(Number(points[run[0]].high))}h-6Z`;
      if (run.length > 1)
        band += 'M' + run.map((i) => `${this.#x[i]} ${y(Number(points[i].low))}`).join('L') + 'L' +
          [...run].reverse().map((i) => `${this.#x[i]} ${y(Number(points[i].high))}`).join('L') + 'Z';
      run = [];
    };
    points.forEach((p, i) => (p.low && p.high ? run.push(i) : flush()));
    flush();
    out.push(svg('path', { class: 'band', d: band || 'M0 0' }));
    const line = points.map((p, i) => (p.blur ? `${this.#x[i]} ${y(p.blur)}` : '')).filter(Boolean).join('L');
    if (line) out.push(svg('path', { class: 'course', d: 'M' + line }));
    const r = points.length > 60 ? 3 : 4.5;
    points.forEach((p, i) => p.blur && out.push(dot(verdicts[i], this.#x[i], y(p.blur), r)));
    return out;
  }

  /** @param {(number|null)[]} values @param {number} top @param {string} name @param {string} unit @param {number} least */
  #bars(values, top, name, unit, least) {
    const high = 26;
    const most = roundUp(Math.max(least, ...values.map((v) => v ?? 0)));
    const out = [svg('path', { class: 'rule', d: `M${left} ${top + high}H${width - right}` }),
      svg('text', { x: left - 6, y: top + 9, class: 'tick' }, `${most} ${unit}`), svg('text', { x: left - 6, y: top + high, class: 'tick' }, name)];
    const wide = Math.max(1.5, Math.min(8, (width - left - right) / values.length / 2));
    values.forEach((v, i) => {
      if (v === null) out.push(svg('text', { x: this.#x[i], y: top + high - 2, class: 'unknown' }, '?'));
      else if (v > 0) out.push(svg('rect', { class: 'bar', x: this.#x[i] - wide / 2, width: wide, y: top + high - (v / most) * high, height: (v / most) * high }));
    });
    return out;
  }
}

/** @param {Point[]} points */
function summary(points) {
  const known = points.filter((p) => p.blur !== null);
  if (known.length === 0) return `Course of the burst: ${points.length} frames, no sharpness measured`;
  const best = known.reduce((a, b) => (Number(b.blur) < Number(a.blur) ? b : a));
  const moved = points.filter((p) => (p.motion ?? 0) > 0).length, clipped = points.filter((p) => (p.whites ?? 0) > 0).length;
  return `Course of the burst: ${points.length} frames, sharpest at ${measured(best.blur, 2, 'px')} is number ${points.indexOf(best) + 1}; motion in ${moved}, clipped whites in ${clipped}`;
}
