// Text from files as it can be shown: control characters and those that turn the direction of writing would let a name look like
// another; they are shown as a box.

const unseen = /[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/g;

/** @param {unknown} text */
export function plainText(text) {
  return String(text ?? '').replace(unseen, '\u25a1');
}
