// Which key does what. Two rules, so that there is little to learn:
// - Deciding lies under the resting left hand and goes by the place of the key, whatever is printed on it: from the index
//   finger outwards the frame gets worse (keep, undecided, reject, as judged); stars stand above. The right hand has the arrows.
// - What is shown on a picture, or how, is the first letter of its name.

/** @typedef {{key: string, code: string, shift: boolean, ctrl: boolean, alt: boolean}} Stroke */
/** @typedef {{name: string, shift: boolean}} Command */

/** @type {Record<string, string>} */
const byPlace = { KeyF: 'keep', KeyD: 'undecided', KeyS: 'reject', KeyA: 'none', KeyR: 'moreStars', KeyE: 'fewerStars' };

/** @type {Record<string, string>} */
const byKey = {
  arrowleft: 'left', arrowright: 'right', arrowup: 'up', arrowdown: 'down',
  pageup: 'burstBefore', pagedown: 'burstAfter', home: 'first', end: 'last', ' ': 'nextOpen',
  t: 'tick', v: 'versus', enter: 'close', escape: 'leave',
  b: 'bird', h: 'head', c: 'area', l: 'landed', w: 'whites',
  '+': 'larger', '=': 'larger', '-': 'smaller', 0: 'whole',
  z: 'undo', n: 'narrow', '.': 'stepOn', '?': 'help', f1: 'help',
};

/** @type {Record<string, string>} */
const withControl = { z: 'undo', y: 'redo', enter: 'done', s: 'done', home: 'top', end: 'end' };

/** @param {Stroke} stroke @returns {Command|null} */
export function commandOf(stroke) {
  const key = stroke.key.toLowerCase();
  if (stroke.alt) return null;
  if (stroke.ctrl) {
    const name = withControl[key];
    return name ? { name: name === 'undo' && stroke.shift ? 'redo' : name, shift: false } : null;
  }
  const placed = byPlace[stroke.code];
  if (placed) return { name: placed, shift: stroke.shift };
  const name = byKey[key];
  // Digits by place where the keyboard has them behind Shift.
  const digit = /^[1-9]$/.test(key) ? key : !name && /^(Digit|Numpad)[1-9]$/.test(stroke.code) ? stroke.code.slice(-1) : '';
  if (digit) return { name: 'place' + digit, shift: false };
  if (!name) return null;
  if (name === 'undo' && stroke.shift) return { name: 'redo', shift: false };
  return { name, shift: stroke.shift };
}

/** Keys as the help lists them: [keys, what they do]. Codes in angle brackets are named as the keyboard has them. */
export const help = [
  { title: 'Move', rows: [
    ['← →', 'the frame before, the frame after'],
    ['↑ ↓', 'the pose above, the pose below'],
    ['Page ↑ ↓', 'the burst before, the burst after'],
    ['Home End', 'first, last frame of the burst'],
    ['Ctrl+Home End', 'first, last frame of all'],
    ['1 – 9', 'that place in the pose; 1 is the best'],
    ['Space', 'the next frame that waits for you; with Shift the one before'],
  ] },
  { title: 'Decide', rows: [
    ['<KeyF>', 'keep'],
    ['<KeyD>', 'undecided'],
    ['<KeyS>', 'reject'],
    ['<KeyA>', 'as judged: takes your own verdict back'],
    ['<KeyE> <KeyR>', 'one star fewer, one star more'],
    ['Shift + these', 'the ticked frames, else the whole pose'],
    ['Z', 'undo; Shift+Z redo'],
    ['.', 'step on to the next open frame after a verdict, or stay'],
  ] },
  { title: 'Look', rows: [
    ['Enter', 'close look at 100 % on the head; Esc leaves it'],
    ['V', 'versus: side by side; again for one more, up to four'],
    ['T', 'tick a frame for side by side'],
    ['+ −', 'larger, smaller'],
    ['0', 'the whole frame, or 100 %'],
    ['Shift + arrows', 'move the picture in the close look'],
  ] },
  { title: 'Show on the picture', rows: [
    ['B', 'the bird as it was found'],
    ['H', 'its head'],
    ['C', "the camera's focus area"],
    ['L', 'where the focus landed'],
    ['W', 'clipped whites, hatched'],
  ] },
  { title: 'The rest', rows: [
    ['N', 'narrow: all, undecided, changed by you; with Shift by reason'],
    ['Ctrl+Enter', 'done: write the sidecars'],
    ['?', 'this list'],
  ] },
];
