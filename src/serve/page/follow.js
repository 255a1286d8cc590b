// Hears of decisions made elsewhere (a second tab, a restarted server) and knows whether the server is there. A hidden tab asks
// for nothing: browsers open only six connections to one server, for all tabs together.

import { Away, Failed, getChanges } from './api.js';

/**
 * @typedef {object} FollowEars
 * @property {() => number} revision
 * @property {(saved: import('./api.js').Saved) => void} changed
 * @property {(link: 'ok'|'lost'|'expired') => void} link
 * @property {() => Promise<void>} reload asks for the whole shoot anew
 */

/** @param {number} ms */
const sleep = (ms) => new Promise((r) => setTimeout(r, ms));

export class Follower {
  #ears;
  #lost = false;
  /** @type {((changed: boolean) => void)[]} */
  #waiting = [];
  #revisionWhenLost = 0;
  /** @type {AbortController|null} */
  #poll = null;

  /** @param {FollowEars} ears */
  constructor(ears) {
    this.#ears = ears;
    document.addEventListener('visibilitychange', () => document.hidden && this.#poll?.abort());
    void this.#loop();
  }

  /** For who met silence: resolves when the server answers again. @returns {Promise<boolean>} */
  back() {
    this.#lose();
    this.#poll?.abort();
    return new Promise((r) => this.#waiting.push(r));
  }

  #lose() {
    if (this.#lost) return;
    this.#lost = true;
    this.#revisionWhenLost = this.#ears.revision();
    this.#ears.link('lost');
  }

  async #loop() {
    for (;;) {
      if (document.hidden && !this.#lost) {
        await new Promise((r) => document.addEventListener('visibilitychange', r, { once: true }));
        continue;
      }
      this.#poll = new AbortController();
      const asked = this.#lost;
      const since = this.#ears.revision();
      try {
        const answer = await getChanges(since, !asked, this.#poll.signal);
        if (asked || answer.revision < since) await this.#ears.reload();
        else if (answer.changed.length > 0 || answer.revision > since) this.#ears.changed(answer);
        if (this.#lost && asked) this.#found();
      } catch (e) {
        if (e instanceof Failed && (e.status === 401 || e.status === 403)) {
          this.#ears.link('expired');
          return;
        }
        if (e instanceof Failed && e.status === 410) await this.#ears.reload();
        else if (e instanceof Away) this.#lose();
        await sleep(this.#lost ? 700 : 100);
      }
    }
  }

  #found() {
    this.#lost = false;
    this.#ears.link('ok');
    const changed = this.#ears.revision() !== this.#revisionWhenLost;
    for (const r of this.#waiting.splice(0)) r(changed);
  }
}
