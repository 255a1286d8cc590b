// What is printed on the keys whose place counts: told by the browser where it can, learnt from the keys pressed elsewhere.

/** @type {Map<string, string>} */
const printed = new Map();

/** @param {string} code KeyF @returns {string} F, on most keyboards */
export function printedOn(code) {
  return printed.get(code) ?? code.replace(/^Key/, '');
}

/** @param {KeyboardEvent} e @returns {boolean} whether something was learnt */
export function learn(e) {
  if (!e.code.startsWith('Key') || e.key.length !== 1 || e.ctrlKey || e.altKey) return false;
  const cap = e.key.toUpperCase();
  if (printedOn(e.code) === cap) return false;
  printed.set(e.code, cap);
  return true;
}

/** @param {() => void} then */
export async function askBrowser(then) {
  try {
    const keyboard = /** @type {any} */ (navigator).keyboard;
    const map = await keyboard?.getLayoutMap();
    if (!map) return;
    for (const [code, key] of map) if (code.startsWith('Key')) printed.set(code, String(key).toUpperCase());
    then();
  } catch {
    // Not every browser tells; QWERTY names stand.
  }
}
