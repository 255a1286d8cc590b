// Decisions on their way to the disk, one after the other in the order they were made. The mark on the page changes only when
// the server has said that the decision is durable. While nothing answers they wait, also over a reload of this tab.

import { Away, Failed, change } from './api.js';

/** @typedef {import('./types.js').Wish} Wish */
/** @typedef {{kind: 'decide', frames: string[], verdict: Wish, rating?: number, said: string} | {kind: 'undo'} | {kind: 'redo'}} Job */

/**
 * @typedef {object} Ears what the saver tells
 * @property {(count: number) => void} saving
 * @property {(saved: import('./api.js').Saved, job: Job) => void} saved
 * @property {(text: string, job: Job) => void} refused
 * @property {() => Promise<boolean>} back resolves when the server answers again: whether anything changed meanwhile
 * @property {() => void} expired
 */

const memory = 'burstsieve.waiting';

export class Saver {
  /** @type {Job[]} */
  #jobs = [];
  #running = false;
  #ears;

  /** @param {Ears} ears */
  constructor(ears) {
    this.#ears = ears;
  }

  get waiting() {
    return this.#jobs.length;
  }

  /** @param {Job} job */
  push(job) {
    this.#jobs.push(job);
    this.#remember();
    void this.#run();
  }

  /** Decisions that a reload of this tab left unsaved. @param {string} session */
  restore(session) {
    try {
      const kept = JSON.parse(sessionStorage.getItem(memory) ?? 'null');
      if (kept?.session === session) for (const job of kept.jobs) this.#jobs.push(job);
      this.#amiss = kept !== null;
    } catch {
      // Storage is a convenience: without it, or with nonsense in it, there is nothing to restore.
    }
    this.#session = session;
    if (this.#jobs.length > 0) void this.#run();
  }
  #session = '';

  // Only while something is amiss: writing to the browser's storage takes as long as saving does.
  #remember() {
    this.#ears.saving(this.#jobs.length);
    if (!this.#amiss) return;
    try {
      const jobs = this.#jobs.filter((j) => j.kind === 'decide');
      if (jobs.length === 0) sessionStorage.removeItem(memory);
      else sessionStorage.setItem(memory, JSON.stringify({ session: this.#session, jobs }));
    } catch {
      // As above.
    }
    if (this.#jobs.length === 0) this.#amiss = false;
  }
  #amiss = false;

  async #run() {
    if (this.#running || this.#stopped) return;
    this.#running = true;
    while (this.#jobs.length > 0) {
      const job = this.#jobs[0];
      let done = true;
      try {
        const saved = await change(job.kind, job.kind === 'decide' ? wordsOf(job) : {});
        this.#ears.saved(saved, job);
      } catch (e) {
        done = await this.#failed(e, job);
      }
      if (!done) continue;
      this.#jobs.shift();
      this.#remember();
      if (this.#stopped) break;
    }
    this.#running = false;
  }
  #stopped = false;

  /** Whether the job is over. @param {unknown} e @param {Job} job */
  async #failed(e, job) {
    this.#amiss = true;
    this.#remember();
    if (e instanceof Away) {
      const changed = await this.#ears.back();
      // A decision can be said twice; an undo whose answer was lost may have been done.
      if (job.kind === 'decide' || !changed) return false;
      this.#ears.refused(`burstsieve was away during the ${job.kind}: please look whether it was done`, job);
      return true;
    }
    if (e instanceof Failed && (e.status === 401 || e.status === 403)) {
      this.#ears.expired();
      this.#stopped = true;
      this.#jobs.unshift(job); // stays in memory for the reload; shifted away by the caller
      return true;
    }
    this.#ears.refused(e instanceof Error ? e.message : String(e), job);
    return true;
  }
}

/** @param {Extract<Job, {kind: 'decide'}>} job */
function wordsOf(job) {
  return { frames: job.frames, verdict: job.verdict, ...(job.rating === undefined ? {} : { rating: job.rating }) };
}
