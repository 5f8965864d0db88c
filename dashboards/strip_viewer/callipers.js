// Measuring between two points: seconds, bpm, and the area between the line and the level of the first point.

import { duration, hhmmss } from "./times.js";

/** What lies between two points, each with a time (s) and a level (bpm). */
export function measured(line, from, to) {
  const [first, last] = from.at <= to.at ? [from, to] : [to, from];
  const seconds = last.at - first.at;
  const area = areaBelow(line, first.at, last.at, first.level);
  return { from: first.at, seconds, bpm: last.level - first.level, area: area.sum, unseen: area.unseen };
}

/** Area (bpm·s) between a level and the line where it lies below it; seconds without signal are counted apart. */
function areaBelow(line, startS, endS, level) {
  const out = { sum: 0, unseen: 0 };
  const step = 1 / line.rate_hz;
  const first = Math.max(0, Math.ceil((startS - line.start_s) * line.rate_hz - 1e-6));
  const stop = Math.min(line.n, Math.ceil((endS - line.start_s) * line.rate_hz - 1e-6));
  for (let k = first; k < stop; k += 1) {
    const value = line.values[k];
    if (Number.isNaN(value)) out.unseen += step;
    else if (value < level) out.sum += (level - value) * step;
  }
  return out;
}

export function measuredInWords(found) {
  const sign = found.bpm > 0 ? "+" : "";
  const unseen = found.unseen >= 0.5 ? ` (${Math.round(found.unseen)} s unseen)` : "";
  return (
    `${hhmmss(found.from)}, ${duration(found.seconds)}${unseen}, ${sign}${Math.round(found.bpm)} bpm,` +
    ` area below its level ${Math.round(found.area)} bpm·s`
  );
}
