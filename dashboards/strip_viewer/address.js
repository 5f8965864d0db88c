// The address of what is in view (`at`, `scale`, `show`), and places kept while the pages are open.

import { hhmmss, secondsOf } from "./times.js";

const KEPT = new Map(); // place of each strip, for as long as the tab lives
const CODES = { "1 cm/min": "1", "3 cm/min": "3", Fit: "fit" };

export const keptOf = (key) => KEPT.get(key);
export const keep = (key, view) => KEPT.set(key, view.kept());

const isOfAnother = (own, words) => Object.entries(own).some(([name, value]) => words.has(name) && words.get(name) !== value);

/** What the address says of this strip; an address of another strip says nothing. */
export function asked(own) {
  const words = new URLSearchParams(globalThis.location.search);
  if (own && isOfAnother(own, words)) return {};
  const scale = Object.keys(CODES).find((name) => CODES[name] === words.get("scale"));
  const span = Number(words.get("minutes"));
  return {
    here: own ? Object.keys(own).some((name) => words.has(name)) : false,
    isStep: words.has("step"), // a meeting's step leads to its strip where that was left
    at: secondsOf(words.get("at")),
    scale,
    span: span > 0 ? span * 60 : undefined,
    found: words.has("show") ? words.get("show") === "findings" : undefined,
  };
}

/** Write the view into the address; `step` leaves the former one behind for the browser's back button. */
export function write(own, view, step) {
  const words = new URLSearchParams(globalThis.location.search);
  if (isOfAnother(own, words)) return; // the page goes on to another strip
  for (const [name, value] of Object.entries(own)) words.set(name, value);
  words.set("at", hhmmss(view.place));
  words.set("scale", CODES[view.scale]);
  if (view.scale === "Fit" && view.span !== null) words.set("minutes", String(Math.round(view.span / 60)));
  else words.delete("minutes");
  if (view.found) words.set("show", "findings");
  else words.delete("show");
  const text = `${globalThis.location.pathname}?${words.toString().replaceAll("%3A", ":")}`;
  if (text === globalThis.location.pathname + globalThis.location.search) return;
  globalThis.history[step ? "pushState" : "replaceState"](globalThis.history.state, "", text);
}
