// What is known of one frame and one burst beyond the list: asked for when it is looked at, kept while the page is open.

import { get, segment } from './api.js';
import { plainText } from './names.js';

/** @typedef {import('./types.js').Box} Box */
/** @typedef {{code: string, text: string, confidence: number}} Reason */
/** @typedef {{value: number, unit: string, confidence: number}} Measured */
/**
 * @typedef {object} Detail
 * @property {Reason[]} reasons
 * @property {Map<string, Measured>} measures
 * @property {Box[]} birds the subject first
 * @property {Box|null} head
 * @property {Box|null} area where the camera focused
 * @property {string} areaSource
 * @property {{box: Box|null, short: string, words: string}} landed
 * @property {string} motion what moved, in words
 * @property {[string, string][]} facts
 * @property {string[]} notes
 */

/** @param {any} b @returns {Box|null} */
export function boxOf(b) {
  const v = Array.isArray(b) ? b : b && typeof b === 'object' ? [b.x, b.y, b.w, b.h] : null;
  if (!v || v.length !== 4 || !v.every((n) => typeof n === 'number' && Number.isFinite(n)) || v[2] <= 0 || v[3] <= 0) return null;
  return /** @type {Box} */ (v);
}

/** Where the sharpest plane is: the bird's own, or another whose place was measured. @param {Map<string, Measured>} m */
export function landedFrom(m) {
  const ratio = m.get('focus_elsewhere');
  if (!ratio) return { box: null, short: '', words: 'where the focus landed is not known' };
  if (ratio.value <= 1) return { box: null, short: '', words: 'the focus is on the bird' };
  const part = ['x', 'y', 'w', 'h'].map((k) => m.get('focus_elsewhere_' + k)?.value);
  const side = m.get('focus_elsewhere_side')?.value ?? 0;
  const where = side < 0 ? 'before the bird' : side > 0 ? 'behind the bird' : 'beside the bird';
  return { box: boxOf(part), short: `landed ${where}`, words: `landed ${where}: ${ratio.value.toFixed(1)} times sharper there` };
}

/** @param {any} c @returns {[string, string][]} */
function factsOf(c) {
  if (!c) return [];
  /** @type {[string, string][]} */
  const out = [];
  if (c.model) out.push(['camera', plainText([c.make, c.model].filter(Boolean).join(' '))]);
  if (c.lens) out.push(['lens', plainText(c.lens)]);
  const parts = [];
  if (c.focal_mm) parts.push(`${Number(c.focal_mm).toFixed(0)} mm`);
  if (c.f_number) parts.push(`f/${c.f_number}`);
  if (c.exposure_s) parts.push(c.exposure_s < 0.5 ? `1/${Math.round(1 / c.exposure_s)} s` : `${c.exposure_s} s`);
  if (c.iso) parts.push(`ISO ${c.iso}`);
  if (parts.length > 0) out.push(['exposure', parts.join('  ')]);
  return out;
}

/** @param {any} d the server's answer @returns {Detail} */
export function readDetail(d) {
  /** @type {Map<string, Measured>} */
  const measures = new Map(Object.entries(d.measures ?? {}));
  /** @type {any[]} */
  const subjects = Array.isArray(d.subjects) ? d.subjects : [];
  const area = d.af ?? d.capture?.af ?? null;
  return {
    reasons: (Array.isArray(d.reasons) ? d.reasons : []).map((/** @type {any} */ r) => ({ code: String(r.code), text: plainText(r.text), confidence: Number(r.confidence) })),
    measures,
    birds: subjects.map((s) => boxOf(s.box)).filter((b) => b !== null),
    head: boxOf(subjects[0]?.head?.box ?? subjects[0]?.head),
    area: boxOf(area?.box ?? area),
    areaSource: area?.source ? plainText(area.source) : '',
    landed: landedFrom(measures),
    motion: plainText(d.motion?.text),
    facts: factsOf(d.capture),
    notes: Array.isArray(d.notes) ? d.notes.map(plainText) : [],
  };
}

/** @param {any} d @returns {import('./plot.js').Point[]} */
export function readSeries(d) {
  /** @type {any[]} */
  const frames = Array.isArray(d) ? d : (d.frames ?? []);
  const number = (/** @type {any} */ v) => (typeof v === 'number' && Number.isFinite(v) ? v : null);
  return frames.map((f) => ({
    id: String(f.id), time_ms: Number(f.time_ms ?? 0), blur: number(f.blur), low: number(f.blur_low), high: number(f.blur_high),
    motion: number(f.motion), whites: number(f.whites),
  }));
}

const kept = 400;

/** @template T */
class Shelf {
  /** @type {Map<string, T>} */
  #there = new Map();
  /** @type {Map<string, Promise<T|null>>} */
  #coming = new Map();

  /** @param {(id: string) => string} path @param {(d: any) => T} read */
  constructor(path, read) {
    this.path = path;
    this.read = read;
  }

  /** @param {string} id */
  now(id) {
    return this.#there.get(id) ?? null;
  }

  /** @param {string} id @returns {Promise<T|null>} null: not to be had */
  async ask(id) {
    const there = this.#there.get(id);
    if (there) return there;
    const coming = this.#coming.get(id) ?? get(this.path(id)).then(this.read, () => null);
    this.#coming.set(id, coming);
    const value = await coming;
    this.#coming.delete(id);
    if (value !== null) this.#there.set(id, value);
    if (this.#there.size > kept) this.#there.delete(/** @type {string} */ (this.#there.keys().next().value));
    return value;
  }
}

/** @type {Shelf<Detail>} */
export const details = new Shelf((id) => `/api/frame/${segment(id)}`, readDetail);
/** @type {Shelf<import('./plot.js').Point[]>} */
export const courses = new Shelf((id) => `/api/burst/${segment(id)}/series`, readSeries);
