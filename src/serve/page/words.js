// The page's words for what the data says.

import { starWords } from './marks.js';
import { starsOf, verdictOf } from './state.js';

/** @typedef {import('./types.js').State} State */
/** @typedef {import('./types.js').Frame} Frame */

/** @type {Record<string, string>} */
const reasons = {
  best_of_pose: 'best of its pose', softer: 'softer than another', close: 'close to the best', soft: 'subject soft',
  missed_focus: 'focus missed', motion: 'motion', whites_clipped: 'whites clipped', cut: 'cut by the edge',
  damaged: 'damaged', unreadable: 'unreadable', unmeasured: 'not measured', unplaced: 'not compared', unsure: 'sharpness unsure',
  yours: 'your own rating', head_hidden: 'head hidden', spare: 'spare: as good as a keep', liked: 'like what you kept',
};

/** @param {string} code */
export const reasonWords = (code) => reasons[code] ?? code.replaceAll('_', ' ');

/** @param {number} ms */
export function clock(ms) {
  const d = new Date(ms);
  return Number.isFinite(ms) && ms > 0 ? d.toISOString().slice(11, 19) : 'no time';
}

/** @param {number} ms */
export function day(ms) {
  return Number.isFinite(ms) && ms > 0 ? new Date(ms).toISOString().slice(0, 10) : '';
}

/** @param {number|null|undefined} v @param {number} digits @param {string} unit */
export function measured(v, digits, unit) {
  return v === null || v === undefined || !Number.isFinite(v) ? 'not known' : `${v.toFixed(digits)}${unit ? '\u00a0' + unit : ''}`;
}

/** 12,345; the browser's own way takes 30 ms the first time. @param {number} n */
export const thousands = (n) => String(n).replace(/\B(?=(\d{3})+$)/g, ',');

/** @param {number} n @param {string} one @param {string} [several] */
export const counted = (n, one, several = one + 's') => `${thousands(n)} ${n === 1 ? one : several}`;

/** @param {Frame} f */
export const poseWords = (f) => (f.pose > 0 ? `pose ${f.pose}, place ${f.place}` : 'not compared with others');

/** A frame in one sentence, for who hears the page. @param {State} s @param {Frame} f */
export function spoken(s, f) {
  const verdict = verdictOf(s, f);
  const parts = [f.name, verdict];
  if (verdict === 'keep') parts.push(starWords(starsOf(s, f)));
  if (s.mine.has(f.id)) parts.push('your verdict');
  parts.push(poseWords(f));
  if (f.reason) parts.push(f.reason);
  return parts.join(', ');
}
