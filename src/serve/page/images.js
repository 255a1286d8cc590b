// Pictures in the order in which they matter: what is looked at first, then what is in sight; what has left the sight before it
// came is called off. Few at a time, so that a decision never waits behind them.

const lanes = 3; // of the six connections that a browser opens to one server
const kept = 96e6; // bytes: some thousand heads and thumbnails, or some hundred whole frames

/** @typedef {{url: string, blob: string, users: Set<HTMLImageElement>, bytes: number, level: number, control: AbortController|null, state: 'waits'|'comes'|'there'|'missing', order: number}} Picture */

export class Images {
  /** @type {Map<string, Picture>} */
  #pictures = new Map();
  /** @type {WeakMap<HTMLImageElement, Picture>} */
  #of = new WeakMap();
  /** @type {Set<HTMLImageElement>} */
  #failed = new Set();
  #bytes = 0;
  #coming = 0;
  #count = 0;
  #planned = false;

  /** Shows the picture in the element as soon as it can be had. @param {HTMLImageElement} image @param {string} url @param {number} level 0 first */
  show(image, url, level) {
    const before = this.#of.get(image);
    if (before?.url === url) return;
    if (before) this.#leave(image, before);
    let p = this.#pictures.get(url);
    if (!p) {
      p = { url, blob: '', users: new Set(), bytes: 0, level, control: null, state: 'waits', order: ++this.#count };
      this.#pictures.set(url, p);
    }
    p.users.add(image);
    p.order = ++this.#count;
    if (p.state === 'waits') p.level = Math.min(p.level, level);
    this.#of.set(image, p);
    image.classList.remove('there');
    image.parentElement?.classList.remove('missing');
    if (p.state === 'there' || p.state === 'missing') this.#put(p, image);
    else this.#plan();
  }

  /** The server is back: what could not be had is asked for once more. */
  again() {
    for (const image of [...this.#failed]) {
      const url = this.#of.get(image)?.url;
      this.drop(image);
      if (url && image.isConnected) this.show(image, url, 2);
    }
  }

  /** The element no longer wants a picture. @param {HTMLImageElement} image */
  drop(image) {
    const p = this.#of.get(image);
    if (p) this.#leave(image, p);
    this.#of.delete(image);
  }

  /** @param {HTMLImageElement} image @param {Picture} p */
  #leave(image, p) {
    p.users.delete(image);
    this.#failed.delete(image);
    if (p.users.size > 0 || p.state === 'there') return;
    p.control?.abort();
    this.#pictures.delete(p.url);
  }

  /** @param {Picture} p @param {HTMLImageElement} image */
  #put(p, image) {
    if (p.state === 'there') {
      if (image.getAttribute('src') !== p.blob) image.src = p.blob;
      image.classList.add('there');
    } else {
      image.removeAttribute('src');
      this.#failed.add(image);
      image.parentElement?.classList.add('missing');
    }
    image.dispatchEvent(new Event('settled'));
  }

  // A moment later: a whole screen of wishes is sorted at once.
  #plan() {
    if (this.#planned) return;
    this.#planned = true;
    queueMicrotask(() => {
      this.#planned = false;
      this.#start();
    });
  }

  #start() {
    if (this.#coming >= lanes) return;
    const waiting = [...this.#pictures.values()].filter((p) => p.state === 'waits').sort((a, b) => a.level - b.level || a.order - b.order);
    for (const p of waiting.slice(0, lanes - this.#coming)) void this.#fetch(p);
  }

  /** @param {Picture} p */
  async #fetch(p) {
    p.state = 'comes';
    p.control = new AbortController();
    ++this.#coming;
    try {
      const response = await fetch(p.url, { signal: p.control.signal, credentials: 'same-origin' });
      if (!response.ok) throw new Error(String(response.status));
      const blob = await response.blob();
      p.blob = URL.createObjectURL(blob);
      p.bytes = blob.size;
      this.#bytes += blob.size;
      p.state = 'there';
    } catch {
      p.state = 'missing';
    }
    --this.#coming;
    for (const image of p.users) this.#put(p, image);
    if (p.state === 'missing') this.#pictures.delete(p.url); // asked for again the next time
    this.#forget();
    this.#plan();
  }

  #forget() {
    if (this.#bytes <= kept) return;
    const old = [...this.#pictures.values()].filter((p) => p.users.size === 0 && p.state === 'there').sort((a, b) => a.order - b.order);
    for (const p of old) {
      if (this.#bytes <= 0.8 * kept) return;
      URL.revokeObjectURL(p.blob);
      this.#bytes -= p.bytes;
      this.#pictures.delete(p.url);
    }
  }
}

export const images = new Images();
