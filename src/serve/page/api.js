// Talks to the server that brought the page. Failed: what it refused, with its words. Away: nothing answered.

import { plainText } from './names.js';

/** @typedef {import('./types.js').Shoot} Shoot */
/** @typedef {import('./types.js').Change} Change */
/** @typedef {{revision: number, changed: Change[], can_undo?: boolean, can_redo?: boolean, what?: string}} Saved */
/** @typedef {{created: number, updated: number, unchanged: number, failed: {id: string, name: string, why: string}[]}} Written */

export class Away extends Error {}

export class Failed extends Error {
  /** @param {number} status @param {string} text */
  constructor(status, text) {
    super(text);
    this.status = status;
  }
}

const token = () => document.querySelector('meta[name=token]')?.getAttribute('content') ?? '';

/** @param {string} path @param {RequestInit} options */
async function ask(path, options) {
  let response, text;
  try {
    response = await fetch(path, { credentials: 'same-origin', cache: 'no-store', ...options });
    text = await response.text();
  } catch (e) {
    if (options.signal?.aborted) throw e;
    throw new Away('burstsieve does not answer');
  }
  /** @type {any} */
  let value = null;
  try {
    value = JSON.parse(text);
  } catch {
    value = null;
  }
  if (!response.ok) throw new Failed(response.status, value?.error ?? `burstsieve answered ${response.status}`);
  if (value === null) throw new Failed(response.status, 'burstsieve answered something that is not JSON');
  return value;
}

/** The whole shoot; the first time what index.html has already sent for. */
let asked = false;
/** @returns {Promise<Shoot>} */
export async function getShoot() {
  const first = !asked;
  asked = true;
  return readShoot(await ask('/api/shoot', first ? { cache: 'default' } : {}));
}

/** The answer in the page's own types, in place: ids are text, as attributes have them. @param {any} d @returns {Shoot} */
export function readShoot(d) {
  for (const b of d.bursts) {
    b.id = String(b.id);
    b.camera = plainText(b.camera);
    b.start = typeof b.start === 'string' ? Date.parse(b.start) || 0 : Number(b.start ?? 0);
    b.frames = b.frames.map(String);
    for (const p of b.poses) p.frames = p.frames.map(String);
  }
  for (const f of d.frames) {
    f.id = String(f.id);
    f.burst = String(f.burst);
    f.name = plainText(f.name);
    f.reason = plainText(f.reason);
    f.sidecar = f.sidecar === null || f.sidecar === undefined ? '' : plainText(f.sidecar);
  }
  d.folder = plainText(d.folder);
  return d;
}

/** @param {any} d @returns {Saved} */
function readSaved(d) {
  for (const c of d.changed ?? []) c.id = String(c.id);
  return d;
}

/** Decisions since a revision, elsewhere or here. @param {number} since @param {boolean} wait @param {AbortSignal} signal */
export async function getChanges(since, wait, signal) {
  return readSaved(await ask(`/api/changes?since=${since}${wait ? '&wait=1' : ''}`, { signal }));
}

/** @param {'decide'|'undo'|'redo'} what @param {object} [body] */
export async function change(what, body) {
  return readSaved(await post('/api/' + what, body));
}

/** @param {string} path @param {AbortSignal} [signal] */
export function get(path, signal) {
  return ask(path, { signal });
}

/** @param {string} path @param {object} [body] */
export function post(path, body = {}) {
  return ask(path, { method: 'POST', body: JSON.stringify(body), headers: { 'Content-Type': 'application/json', 'X-Burstsieve-Token': token() } });
}

/** Ids are the server's, but a path is built from them: keep them one segment. @param {string|number} id */
export const segment = (id) => encodeURIComponent(String(id));

/** @param {string} id */
export const thumbUrl = (id) => `/thumb/${segment(id)}`;
/** @param {string} id @param {number} side */
export const fullUrl = (id, side) => `/full/${segment(id)}?side=${Math.round(side)}`;
/** @param {string} id @param {import('./types.js').Box} b @param {number} side */
export const cropUrl = (id, b, side) =>
  `/crop/${segment(id)}?x=${b[0].toFixed(6)}&y=${b[1].toFixed(6)}&w=${b[2].toFixed(6)}&h=${b[3].toFixed(6)}&side=${Math.round(side)}`;
