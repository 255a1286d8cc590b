// Talks to the server that brought the page. Failed: what it refused, with its words. Away: nothing answered.

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
export function getShoot() {
  const first = !asked;
  asked = true;
  return ask('/api/shoot', first ? { cache: 'default' } : {});
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
