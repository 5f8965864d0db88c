// The keys: one table for what they do and for the list that is shown.

export const KEYS = [
  ["ArrowLeft ArrowRight", "cross-hair 5 s back, forth (with Shift 1 s)"],
  ["m M", "a minute forth, back"],
  ["PageDown PageUp", "a page forth, back"],
  ["Home End", "start, end"],
  ["n N", "next, former finding"],
  ["c C", "next, former concern"],
  ["b", "bare strip or findings"],
  ["1 3 0", "1 cm/min, 3 cm/min, fit"],
  ["+ -", "nearer, farther"],
  ["k", "callipers: first point, second point, off"],
  ["ArrowUp ArrowDown", "level of the callipers up, down"],
  ["Enter", "mark this place"],
  ["f", "full screen"],
  ["Alt+PageDown Alt+PageUp", "next, former case of a meeting"],
  ["?", "these keys"],
];

/** What a key asks for, as [deed, argument]; null for a key that is not ours. */
export function deedOf(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return null;
  const second = event.shiftKey ? 1 : 5;
  const table = {
    ArrowLeft: ["point", -second], ArrowRight: ["point", second],
    ArrowUp: ["level", 1], ArrowDown: ["level", -1],
    m: ["minute", 1], M: ["minute", -1],
    PageDown: ["page", 1], PageUp: ["page", -1],
    Home: ["edge", -1], End: ["edge", 1],
    n: ["finding", 1], N: ["finding", -1],
    c: ["concern", 1], C: ["concern", -1],
    b: ["show", null], 1: ["scale", 0], 3: ["scale", 1], 0: ["scale", 2],
    "+": ["zoom", 0.5], "-": ["zoom", 2],
    k: ["calliper", null], Enter: ["mark", null], f: ["full", null], "?": ["keys", null],
    Escape: ["escape", null],
  };
  return Object.hasOwn(table, event.key) ? table[event.key] : null;
}
