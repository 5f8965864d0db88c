// The lanes of minute categories: bars whose height and text say the category as well as their colour.

import { PX_PER_CHARACTER } from "./lanes.js";
import { box, line, rulerOf, word } from "./paper.js";

const ROW_PX = 20;
const LONGEST_NAME = 12; // characters
const REPEAT_PX = 420;
const SIDES_FROM_PX = 4;
// a bar's height in its row, from and to, and the middle of its text, as shares from the top: the higher, the more severe
const BARS = { 0: [0, 1, 0.5], 1: [0.62, 0.96, 0.31], 2: [0.34, 0.96, 0.65], 3: [0.04, 0.96, 0.5] };

/** Neighbouring minutes of one category in a lane, cut to the minutes that touch the window. */
export function runsOf(lane, window) {
  const runs = [];
  lane.from.forEach((from, k) => {
    const to = lane.to[k];
    if (!(to * 60 > window.start && from * 60 < window.end)) return;
    const last = runs[runs.length - 1];
    if (last && last.category === lane.category[k] && Math.abs(from - last.to) <= 0.01) {
      last.to = to;
    } else {
      runs.push({ from, to, category: lane.category[k], severity: lane.severity[k], short: lane.short[k] });
    }
  });
  return runs;
}

export function categoryPane(head, window) {
  const lanes = head.findings.categories.map((lane) => ({ ...lane, runs: runsOf(lane, window) }));
  const shown = lanes.filter((lane) => lane.runs.length);
  if (!shown.length) return null;
  const ruler = rulerOf(window);
  const bars = [];
  const edges = [];
  const texts = [];
  shown.forEach((lane, row) => {
    const points = [];
    for (const run of lane.runs) {
      const [top, foot, middle] = BARS[run.severity].map((share) => (row + share) * ROW_PX);
      const [low, high] = [ruler.x(run.from), ruler.x(run.to)];
      bars.push(box(low, top, high - low, foot - top, head.look.severities[run.severity]));
      points.push(...edgeOf(low, high, top, foot, window.columns));
      texts.push(...labelsOf(run, ruler, window, middle, head.look.ink));
    }
    edges.push(line(points, head.look.edge, 1));
  });
  const names = shown.flatMap((lane, row) => nameOf(lane.name, row, head.look.ink));
  return { name: "categories", height: ROW_PX * shown.length, inside: [...bars, ...edges, ...texts], beside: names, framed: true };
}

/** The name of a lane beside it; one that has no room in a line takes one for each word. */
function nameOf(name, row, ink) {
  const lines = name.length > LONGEST_NAME ? name.split(" ") : [name];
  return lines.map((part, k) =>
    word(-5, (row + (k + 0.5) / lines.length) * ROW_PX, part, ink, { size: 9, anchor: "end" }),
  );
}

/** Points of the edge of a bar, cut just outside the pane; null lifts the pen. Narrow bars have no sides. */
export function edgeOf(low, high, top, foot, width) {
  const [left, right] = [Math.max(low, -1), Math.min(high, width + 1)];
  const [upper, lower] = [top + 0.5, foot - 0.5];
  if (right - left < SIDES_FROM_PX) return [[left, upper], [right, upper], null, [left, lower], [right, lower], null];
  return [[left, upper], [right, upper], [right, lower], [left, lower], [left, upper], null];
}

/** The short text at the start of a run that has room, repeated in long ones. */
function labelsOf(run, ruler, window, middle, ink) {
  const start = Math.max(run.from, window.start / 60);
  const end = Math.min(run.to, window.end / 60);
  const width = (end - start) * window.perMinute;
  if (width < run.short.length * PX_PER_CHARACTER + 6) return [];
  const count = 1 + Math.floor(Math.max(0, width - 60) / REPEAT_PX);
  return Array.from({ length: count }, (_, k) =>
    word(ruler.x(start) + k * REPEAT_PX + 3, middle, run.short, ink, { bold: true }),
  );
}

/** The category and reasons of every lane at a minute. */
export function categoriesAt(head, minute) {
  return (head.findings?.categories ?? []).flatMap((lane) => {
    const k = lane.from.findIndex((from, n) => from <= minute && minute < lane.to[n]);
    return k < 0 ? [] : [{ name: lane.name, category: lane.category[k], reasons: lane.texts[lane.reasons[k]] }];
  });
}
