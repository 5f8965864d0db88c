// The paper: window, rulers, grid and time labels. Sizes are those of audit/charts/strip (drawn.py, axes.py, types.py).

import { hhmm } from "./times.js";

export const LEFT_PX = 56;
export const RIGHT_PX = 14;
export const EDGE_PX = 4;
export const SPACING_PX = 5;
export const TIME_PX = 12;
const LABEL_EVERY_PX = 70;
const LEVEL_PX = 11; // a line of figures beside the paper
const STEPS_MIN = [1, 2, 5, 10, 15, 30, 60, 120, 180, 240];

/** A stretch (s) of so many pixels, with the heights of heart rate and toco. */
export function windowOf(startS, endS, widthPx, heights) {
  const window = { start: startS, end: endS, columns: Math.max(1, Math.round(widthPx)) };
  window.perMinute = window.columns / ((endS - startS) / 60);
  window.fhrHeight = heights.fhr;
  window.tocoHeight = heights.toco;
  return window;
}

export const pxPerMin = (head, scale) => scale.cm_per_min * head.px_per_cm;

export function rulerOf(window, lowest = 0, highest = 1, height = 1) {
  const start = window.start / 60;
  return {
    lowest,
    highest,
    height,
    width: window.columns,
    x: (minute) => (minute - start) * window.perMinute,
    y: (level) => ((highest - level) / (highest - lowest)) * height,
  };
}

/** Minutes between light and between heavy upright lines. */
export function gridSteps(perMinute) {
  if (perMinute >= 75) return [1 / 6, 1];
  return perMinute >= 8 ? [1, 10] : [10, 60];
}

/** Every level of a high pane; every second, third ... of a flat one, so that no figure stands in another. */
function apart(levels, ruler) {
  if (levels.length < 2) return levels;
  const step = Math.max(1, Math.ceil(LEVEL_PX / Math.abs(ruler.y(levels[1]) - ruler.y(levels[0]))));
  return levels.filter((_, place) => place % step === 0);
}

/** Lines of the grid: two broken lines, light then heavy, and the levels beside them. */
export function paperOf(look, ruler, window, minor, major, title) {
  const [light, heavy] = gridSteps(window.perMinute);
  const start = window.start / 60;
  const end = window.end / 60;
  const ups = { light: [], heavy: [] };
  for (let k = Math.ceil(start / light - 1e-9); k <= Math.floor(end / light + 1e-9); k += 1) {
    const minute = k * light;
    const isHeavy = Math.abs(minute / heavy - Math.round(minute / heavy)) < 1e-3;
    ups[isHeavy ? "heavy" : "light"].push(minute);
  }
  const across = { light: [], heavy: [] };
  for (let level = ruler.lowest; level <= ruler.highest; level += minor) {
    across[level % major === 0 ? "heavy" : "light"].push(level);
  }
  const grid = ["light", "heavy"].map((name) => ({
    kind: "line",
    colour: look[name],
    width: name === "light" ? 0.6 : 1,
    dash: [],
    points: [
      ...ups[name].flatMap((minute) => [[ruler.x(minute), 0], [ruler.x(minute), ruler.height], null]),
      ...across[name].flatMap((level) => [[0, ruler.y(level)], [window.columns, ruler.y(level)], null]),
    ],
  }));
  const labels = apart(across.heavy, ruler).map((level) => word(-5, ruler.y(level), String(level), look.ink, { anchor: "end" }));
  title.split(", ").forEach((part, k) => labels.push(word(-LEFT_PX, 9 + 11 * k, part, look.ink, { size: 10 })));
  return [grid, labels];
}

/** Minutes and their hh:mm, far enough apart to be read. */
export function timeLabels(window) {
  const step = STEPS_MIN.find((one) => one * window.perMinute >= LABEL_EVERY_PX) ?? STEPS_MIN[STEPS_MIN.length - 1];
  const found = [];
  const last = Math.floor(window.end / 60 / step + 1e-9);
  for (let k = Math.ceil(window.start / 60 / step - 1e-9); k <= last; k += 1) found.push([k * step, hhmm(k * step * 60)]);
  return found;
}

export function word(x, y, text, colour, { size = 11, anchor = "start", bold = false, italic = false, halo = false } = {}) {
  return { kind: "word", x, y, text, colour, size, anchor, bold, italic, halo };
}

export function box(x, y, width, height, colour, opacity = 1) {
  return { kind: "box", x, y, width, height, colour, opacity };
}

export function shape(x, y, form, size, colour) {
  return { kind: "shape", x, y, form, size, colour };
}

export function line(points, colour, width, dash = []) {
  return { kind: "line", points, colour, width, dash };
}
