// The close look's arithmetic. Picture pixels are those of the upright full-size frame; pane pixels are CSS pixels; `scale`
// is CSS pixels per picture pixel. At zoom 1 one picture pixel is one pixel of the screen, whatever the screen's density.

/** @typedef {import('./types.js').Frame} Frame */
/** @typedef {import('./types.js').Box} Box */
/** @typedef {{scale: number, left: number, top: number, width: number, height: number}} Place of the whole frame in the pane */

/** @param {Box} b @returns {[number, number]} */
const middle = (b) => [b[0] + b[2] / 2, b[1] + b[3] / 2];

/** The camera's focus area where it lies on the bird: photographers put it on the head. @param {Frame} f @returns {Box|null} */
export function areaOnBird(f) {
  if (!f.area || !f.subject) return null;
  const [x, y] = middle(f.area), s = f.subject;
  return x >= s[0] && x <= s[0] + s[2] && y >= s[1] && y <= s[1] + s[3] ? f.area : null;
}

/** What the frame is about: the head, else the camera's focus area on the bird, else the bird, else the middle. Fractions.
 *  @param {Frame} f @returns {[number, number]} */
export function focusOf(f) {
  const box = f.head ?? areaOnBird(f) ?? f.subject;
  return box ? middle(box) : [0.5, 0.5];
}

/** @param {Frame} f @param {number} pw @param {number} ph */
export function fitScale(f, pw, ph) {
  return f.width > 0 && f.height > 0 ? Math.min(pw / f.width, ph / f.height) : 1;
}

/**
 * @param {Frame} f @param {{zoom: number, dx: number, dy: number}} view @param {number} pw @param {number} ph
 * @param {number} density device pixels per CSS pixel @returns {Place}
 */
export function placed(f, view, pw, ph, density) {
  const scale = view.zoom === 0 ? fitScale(f, pw, ph) : view.zoom / density;
  const width = f.width * scale, height = f.height * scale;
  if (view.zoom === 0) return { scale, left: (pw - width) / 2, top: (ph - height) / 2, width, height };
  const [x, y] = focusOf(f);
  return { scale, left: pw / 2 - (x * f.width + view.dx) * scale, top: ph / 2 - (y * f.height + view.dy) * scale, width, height };
}

/** The part of the frame that is in sight and `more` of it around, as fractions; null: none is.
 *  @param {Place} p @param {number} pw @param {number} ph @param {number} more @returns {Box|null} */
export function inSight(p, pw, ph, more = 0) {
  const mx = (pw * more) / p.width, my = (ph * more) / p.height;
  const x0 = Math.max(0, -p.left / p.width - mx), x1 = Math.min(1, (pw - p.left) / p.width + mx);
  const y0 = Math.max(0, -p.top / p.height - my), y1 = Math.min(1, (ph - p.top) / p.height + my);
  return x1 > x0 && y1 > y0 ? [x0, y0, x1 - x0, y1 - y0] : null;
}

/** A square around the head that shows `side` screen pixels at 100 %, moved inside the frame. @param {Frame} f @param {number} side @returns {Box} */
export function headSquare(f, side) {
  const w = Math.min(1, side / Math.max(1, f.width)), h = Math.min(1, side / Math.max(1, f.height));
  const [x, y] = focusOf(f);
  return [Math.min(1 - w, Math.max(0, x - w / 2)), Math.min(1 - h, Math.max(0, y - h / 2)), w, h];
}

export const steps = [0.25, 0.5, 1, 2, 4];

/** @param {number} zoom @param {1|-1} way */
export function stepped(zoom, way) {
  if (zoom === 0) return way > 0 ? 0.25 : 0;
  const next = way > 0 ? steps.find((s) => s > zoom * 1.01) : [...steps].reverse().find((s) => s < zoom * 0.99);
  return next ?? (way > 0 ? steps[steps.length - 1] : 0);
}

/** Zoom that keeps the picture point under (px, py) where it is. @param {Frame} f @param {{zoom: number, dx: number, dy: number}} view
 *  @param {number} zoom @param {number} pw @param {number} ph @param {number} px @param {number} py @param {number} density */
export function zoomedAt(f, view, zoom, pw, ph, px, py, density) {
  if (zoom === 0) return { zoom, dx: 0, dy: 0 };
  const was = placed(f, view, pw, ph, density);
  const x = (px - was.left) / was.scale, y = (py - was.top) / was.scale;
  const [fx, fy] = focusOf(f);
  const scale = zoom / density;
  return { zoom, dx: x - (px - pw / 2) / scale - fx * f.width, dy: y - (py - ph / 2) / scale - fy * f.height };
}
