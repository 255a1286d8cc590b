// Elements without markup: what comes from files (names, reasons, notes) only ever becomes text.

const svgSpace = 'http://www.w3.org/2000/svg';

/** @typedef {Node|string|null|false|undefined} Child */

/**
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag @param {Record<string, unknown>} [attributes] on…: a listener; true/false: with or without
 * @param {...Child} children @returns {HTMLElementTagNameMap[T]}
 */
export function el(tag, attributes = {}, ...children) {
  const out = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith('on')) out.addEventListener(name.slice(2), /** @type {EventListener} */ (value));
    else if (value === true) out.setAttribute(name, '');
    else if (value !== false && value !== null && value !== undefined) out.setAttribute(name, String(value));
  }
  add(out, children);
  return out;
}

/** @param {string} tag @param {Record<string, string|number>} attributes @param {...Child} children @returns {SVGElement} */
export function svg(tag, attributes = {}, ...children) {
  const out = /** @type {SVGElement} */ (document.createElementNS(svgSpace, tag));
  for (const [name, value] of Object.entries(attributes)) out.setAttribute(name, String(value));
  add(out, children);
  return out;
}

/** @param {Element} to @param {Child[]} children */
function add(to, children) {
  for (const c of children) if (c !== null && c !== false && c !== undefined) to.append(c);
}

/** Touches the page only where something differs. @param {Element} e @param {string} text */
export function setText(e, text) {
  if (e.textContent !== text) e.textContent = text;
}

/** @param {Element} e @param {string} name @param {string|null} value */
export function setAttr(e, name, value) {
  if (value === null) e.removeAttribute(name);
  else if (e.getAttribute(name) !== value) e.setAttribute(name, value);
}

/** @template {Element} T @param {string} selector @param {new () => T} kind @param {ParentNode} [within] @returns {T} */
export function find(selector, kind, within = document) {
  const found = within.querySelector(selector);
  if (!(found instanceof kind)) throw new Error('the page lacks ' + selector);
  return found;
}
