// The strip as shapes in pixels, pane below pane, in the order and at the places of audit/charts/strip/drawn.py, so that
// screen and paper show the same picture. `layers` is a set of names; the bare strip is the empty set.

import { EDGE_PX, LEFT_PX, RIGHT_PX, SPACING_PX, TIME_PX, box, line, paperOf, rulerOf, shape, timeLabels, word } from "./paper.js";
import { PX_PER_CHARACTER, placeLabels, spaced } from "./lanes.js";
import { categoryPane, edgeOf } from "./categories.js";
import { thinned } from "./thinning.js";

const LANE_PX = 15;
const LETTER_PX = 11;
const UNSEEN_PX = 14;
const TRACING_PX = 1.1;
const INSET = 2;
const LOST_CODE = 1;
const SOLID = [];

export function sceneOf(head, window, layers, { other = null, marks: notes = [] } = {}) {
  const found = head.findings;
  const on = (name) => found !== null && layers.has(name);
  const marks = marksOf(found, window, on);
  const panes = [];
  if (marks.length) panes.push(markPane(head, window, marks));
  panes.push(fhrPane(head, window, on, marks, other));
  const unseen = on("excluded") ? unseenRuns(head, window) : [];
  if (unseen.length) panes.push(unseenPane(head, window, unseen));
  panes.push(timePane(head, window));
  panes.push(tocoPane(head, window, on, marks));
  const lanes = on("categories") ? categoryPane(head, window) : null;
  if (lanes) panes.push(lanes);
  const agreed = on("agreed") ? agreedIn(head, window) : [];
  if (agreed.length) panes.push(agreedPane(head, window, agreed));
  if (notes.length) panes.push(notePane(head, window, notes));
  let top = EDGE_PX;
  for (const pane of panes) {
    pane.top = top;
    top += pane.height + SPACING_PX;
  }
  const width = EDGE_PX + LEFT_PX + window.columns + RIGHT_PX;
  return { left: EDGE_PX + LEFT_PX, paneWidth: window.columns, width, height: top - SPACING_PX + EDGE_PX, panes };
}

/** Rows that touch the window (minutes). */
export function within(rows, window) {
  return rows.filter((row) => row.end_minute * 60 > window.start && row.minute * 60 < window.end);
}

/** Care events and marks of the clock that are switched on; what the clock marks is not marked twice. */
export function marksOf(found, window, on) {
  const clock = on("clock") ? found.clock.filter((row) => row.minute * 60 >= window.start && row.minute * 60 <= window.end) : [];
  const births = clock.filter((row) => row.role === "birth").map((row) => row.text);
  const events = on("events") ? found.events.filter((row) => row.minute * 60 >= window.start && row.minute * 60 < window.end) : [];
  const answered = (row) => clock.some((one) => one.role === "response" && Math.abs(one.minute - row.minute) < 0.001 && one.text === `response: ${row.text}`);
  const shown = events.filter((row) => !births.includes(row.text) && !answered(row));
  return [...shown.map((row) => ({ ...row, role: "event" })), ...clock];
}

function looksOf(look, role) {
  const [colour, dash] = look.roles[role] ?? look.roles.event;
  return { colour, dash: dash.length === 2 && dash[1] === 0 ? SOLID : dash, thick: role === "event" ? 1 : 1.8 };
}

function markPane(head, window, marks) {
  const ruler = rulerOf(window);
  const at = marks.map((row) => ruler.x(row.minute));
  const placed = placeLabels(at, marks.map((row) => row.text), window.columns);
  const height = (1 + Math.max(...placed.map((label) => label.lane))) * LANE_PX;
  const lines = [];
  const labels = []; // over the lines of all marks
  marks.forEach((row, k) => {
    const y = height - (placed[k].lane + 0.5) * LANE_PX;
    const look = looksOf(head.look, row.role);
    lines.push(line([[at[k], y], [at[k], height]], look.colour, look.thick, look.dash));
    const [x, anchor] = placed[k].left ? [at[k] - 4, "end"] : [at[k] + 4, "start"];
    labels.push(word(x, y, row.text, head.look.ink, { anchor, halo: true }));
  });
  return { name: "marks", height, inside: [...lines, ...labels], beside: [], framed: false };
}

function markLines(head, marks, ruler) {
  return marks.map((row) => {
    const look = looksOf(head.look, row.role);
    const x = ruler.x(row.minute);
    return line([[x, 0], [x, ruler.height]], look.colour, look.thick, look.dash);
  });
}

function fhrPane(head, window, on, marks, other) {
  const [low, high] = head.fhr;
  const ruler = rulerOf(window, low, high, window.fhrHeight);
  const [inside, labels] = paperOf(head.look, ruler, window, 10, 30, "FHR, bpm");
  inside.push(...markLines(head, marks, ruler));
  const falls = on("decelerations") ? within(head.findings.decelerations, window) : [];
  for (const row of falls) inside.push(...fallSpan(head.look, row, ruler, low));
  const heart = head.look.heart;
  if (on("maternal") && head.lines.mhr) inside.push(lineOf(head.lines.mhr, window, ruler, heart, [2, 2]));
  if (other && head.lines[`fhr_${other}`]) {
    inside.push(lineOf(head.lines[`fhr_${other}`], window, ruler, heart, [5, 2]));
    inside.push(word(6, ruler.y(204), "dashed: other fetus", heart));
  }
  inside.push(...tracing(head, "fhr", window, ruler, low, "No fetal heart rate in this stretch"));
  if (on("baseline") && head.lines.baseline) inside.push(...baseline(head, window, ruler));
  if (on("excluded") && head.lines.exclusion) inside.push(...crosses(head, window, ruler));
  if (on("spans")) {
    for (const row of within(head.findings.spans, window)) {
      const start = Math.max(row.minute, window.start / 60);
      const end = Math.min(row.end_minute, window.end / 60);
      inside.push(bar(ruler, { minute: start, end_minute: end }, 190, 193, head.look.quiet));
      inside.push(word(ruler.x(start) + 2, ruler.y(186), row.text, head.look.ink, { italic: true }));
    }
  }
  if (on("accelerations")) {
    const rows = within(head.findings.accelerations, window);
    const colour = head.look.acceleration;
    for (const row of rows) inside.push(bar(ruler, row, 203, 207, colour));
    inside.push(...letters(rows.map((row) => row.peak_minute), rows.map(() => "A"), 198, ruler, colour));
  }
  const kinds = falls.map((row) => kindOf(head.look, row.kind)[0]);
  const middles = falls.map((row) => (Math.max(row.minute, window.start / 60) + Math.min(row.end_minute, window.end / 60)) / 2);
  inside.push(...letters(middles, kinds, low + 12, ruler, head.look.ink, marks.map((row) => ruler.x(row.minute))));
  return { name: "fhr", height: window.fhrHeight, inside, beside: labels, framed: true };
}

function tocoPane(head, window, on, marks) {
  const [low, high] = head.toco;
  const ruler = rulerOf(window, low, high, window.tocoHeight);
  const [inside, labels] = paperOf(head.look, ruler, window, 10, 20, "Toco");
  inside.push(...markLines(head, marks, ruler));
  // toco rests at zero: only what is truly below it leaves the paper
  inside.push(...tracing(head, "toco", window, ruler, low - 1, "No toco in this stretch"));
  if (on("contractions")) {
    const rows = within(head.findings.contractions, window);
    for (const row of rows) inside.push(bar(ruler, row, 95, 98, head.look.contraction));
    for (const row of rows) inside.push(shape(ruler.x(row.peak_minute), ruler.y(91), "down", 7, head.look.contraction));
  }
  return { name: "toco", height: window.tocoHeight, inside, beside: labels, framed: true };
}

function lineOf(channel, window, ruler, colour, dash = SOLID, width = TRACING_PX, keep = null, which = "") {
  const points = thinned(channel, window, keep, which);
  return line(points.map(([minute, value]) => (value === null ? null : [ruler.x(minute), ruler.y(value)])), colour, width, dash);
}

/** The line, with a triangle on the edge wherever it leaves the paper. */
function tracing(head, name, window, ruler, lowest, nothing) {
  const points = thinned(head.lines[name], window);
  const ink = head.look.ink;
  if (!points.length) {
    return [word(window.columns / 2, ruler.height / 2, nothing, head.look.quiet, { size: 13, anchor: "middle" })];
  }
  const out = [line(points.map(([minute, value]) => (value === null ? null : [ruler.x(minute), ruler.y(value)])), ink, TRACING_PX)];
  for (const [minute, value] of points) {
    if (value === null) continue;
    if (value < lowest) out.push(shape(ruler.x(minute), ruler.y(ruler.lowest + INSET), "down", 5, ink));
    if (value > ruler.highest) out.push(shape(ruler.x(minute), ruler.y(ruler.highest - INSET), "up", 5, ink));
  }
  return out;
}

/** Solid where it could be stated, dotted where it is only drawn through. */
function baseline(head, window, ruler) {
  const { baseline: drawn, stated } = head.lines;
  return [[1, SOLID], [0, [2, 4]]]
    .map(([wanted, dash]) => lineOf(drawn, window, ruler, head.look.baseline, dash, 1.6, (k) => stated.values[k] === wanted, `stated ${wanted}`))
    .filter((one) => one.points.some((point) => point !== null));
}

function crosses(head, window, ruler) {
  const codes = head.lines.exclusion.values;
  const found = [];
  const there = new Set(inView(head.lines.exclusion, window).map((run) => run.code));
  for (const code of Object.keys(head.findings.exclusions).map(Number)) {
    if (code === LOST_CODE || !there.has(code)) continue;
    for (const [minute, value] of thinned(head.lines.fhr, window, (k) => codes[k] === code, `code ${code}`)) {
      if (value !== null) found.push(shape(ruler.x(minute), ruler.y(value), "cross", 6, head.look.unused));
    }
  }
  return found;
}

const kindOf = (look, kind) => look.kinds[kind] ?? look.kinds.unclassified;

/** A tint from onset to end between lines in the kind's dash, and a bar at the foot. */
function fallSpan(look, row, ruler, lowest) {
  const [, colour, dash] = kindOf(look, row.kind);
  const [low, high] = [ruler.x(row.minute), ruler.x(row.end_minute)];
  const edge = dash.length === 2 && dash[1] === 0 ? SOLID : dash;
  return [
    box(low, 0, high - low, ruler.height, colour, 0.1),
    line([[low, 0], [low, ruler.height]], colour, 1, edge),
    line([[high, 0], [high, ruler.height]], colour, 1, edge),
    bar(ruler, row, lowest, lowest + 5, colour, 0.9),
  ];
}

function bar(ruler, row, low, high, colour, opacity = 1) {
  const start = ruler.x(row.minute);
  return box(start, ruler.y(high), ruler.x(row.end_minute) - start, ruler.y(low) - ruler.y(high), colour, opacity);
}

/** Letters inside the edges that do not touch the one before; the bars below are drawn all the same. One that would stand
 *  in a line of a mark (`lines`, px) moves to the right of it. */
function letters(minutes, texts, level, ruler, colour, lines = []) {
  const beside = (x) => {
    const crossed = lines.find((one) => Math.abs(one - x) < LETTER_PX / 2);
    return crossed === undefined ? x : crossed + LETTER_PX / 2 + 1;
  };
  const edge = LETTER_PX / 2;
  const at = minutes.map((minute) => beside(Math.min(Math.max(ruler.x(minute), edge), ruler.width - edge)));
  const room = spaced(at, LETTER_PX);
  return at
    .map((x, k) => word(x, ruler.y(level), texts[k], colour, { size: 12, anchor: "middle", bold: true }))
    .filter((_, k) => room[k]);
}

function timePane(head, window) {
  const ruler = rulerOf(window);
  const beside = timeLabels(window).map(([minute, text]) =>
    word(ruler.x(minute), TIME_PX / 2, text, head.look.ink, { anchor: "middle" }),
  );
  return { name: "time", height: TIME_PX, inside: [], beside, framed: false };
}

const RUNS = new WeakMap(); // of a labour's samples not used: found once, not at each step

/** Every run of samples of one code other than used: from and to (s), code. */
function unusedRuns(line) {
  if (RUNS.has(line)) return RUNS.get(line);
  const time = (k) => line.start_s + k / line.rate_hz;
  const found = [];
  let first = 0;
  for (let k = 1; k <= line.n; k += 1) {
    if (k < line.n && line.values[k] === line.values[first]) continue;
    if (line.values[first] !== 0) found.push({ low: time(first), high: time(k), code: line.values[first] });
    first = k;
  }
  RUNS.set(line, found);
  return found;
}

const inView = (line, window) => unusedRuns(line).filter((run) => run.high > window.start && run.low < window.end);

/** Runs of samples that were missing or not used, wide enough to be drawn (half a pixel). */
export function unseenRuns(head, window) {
  const line = head.lines.exclusion;
  if (!line) return [];
  const narrowest = (0.5 * 60) / window.perMinute;
  return inView(line, window)
    .filter((run) => run.high - run.low >= narrowest)
    .map(({ low, high, code }) => ({ minute: low / 60, end_minute: high / 60, code, why: head.findings.exclusions[code] }));
}

function unseenPane(head, window, runs) {
  const ruler = rulerOf(window);
  const inside = [];
  for (const run of runs) {
    const [low, high] = [ruler.x(run.minute), ruler.x(run.end_minute)];
    inside.push(box(low, 0, high - low, UNSEEN_PX, run.code === LOST_CODE ? head.look.lost : head.look.unused));
    if (high - low > run.why.length * PX_PER_CHARACTER + 8) {
      inside.push(word((low + high) / 2, UNSEEN_PX / 2, run.why, head.look.ink, { size: 10, anchor: "middle" }));
    }
  }
  const name = word(-5, UNSEEN_PX / 2, "not used", head.look.ink, { size: 9, anchor: "end" });
  return { name: "unseen", height: UNSEEN_PX, inside, beside: [name], framed: true };
}

/** What the meeting agreed that touches the window. */
export function agreedIn(head, window) {
  return head.agreed.filter((row) => row.end_minute * 60 >= window.start && row.minute * 60 <= window.end);
}

/** What the meeting agreed: minutes as flags in lanes, above them a row of events struck out (cross) or added. */
function agreedPane(head, window, rows) {
  const ruler = rulerOf(window);
  const ink = head.look.ink;
  const spans = rows.filter((row) => row.role !== "point");
  const inside = [];
  for (const row of spans) {
    const [low, high] = [ruler.x(row.minute), ruler.x(row.end_minute)];
    const middle = (Math.max(low, 0) + Math.min(high, window.columns)) / 2;
    const struck = row.role === "struck_out";
    if (!struck) inside.push(box(low, 2, high - low, LANE_PX - 4, head.look.quiet, 0.35));
    inside.push(line(edgeOf(low, high, 2, LANE_PX - 2, window.columns), ink, 1, struck ? [3, 2] : SOLID));
    inside.push(shape(middle, LANE_PX / 2, struck ? "cross" : "up", 6, ink));
  }
  const points = rows.filter((row) => row.role === "point");
  const [height, flags] = flagsOf(ruler, window, points, spans.length ? LANE_PX : 0, ink);
  const name = word(-5, LANE_PX / 2, "meeting", ink, { size: 9, anchor: "end" });
  return { name: "agreed", height, inside: [...inside, ...flags], beside: [name], framed: true };
}

/** What people marked: a flag with its text, in a lane of its own below everything that was computed. */
function notePane(head, window, notes) {
  const inView = notes.filter((row) => row.at_s >= window.start && row.at_s <= window.end);
  const shown = inView.map((row) => ({ minute: row.at_s / 60, text: row.text }));
  const [height, inside] = flagsOf(rulerOf(window), window, shown, 0, head.look.ink);
  const name = word(-5, LANE_PX / 2, "marks", head.look.ink, { size: 9, anchor: "end" });
  return { name: "notes", height: Math.max(height, LANE_PX), inside, beside: [name], framed: false };
}

/** Flags with their texts in lanes below `top` px, each with a pole from the strip down to it: the height, and the shapes. */
function flagsOf(ruler, window, rows, top, ink) {
  const at = rows.map((row) => ruler.x(row.minute));
  const placed = placeLabels(at, rows.map((row) => row.text), window.columns);
  const height = top + LANE_PX * (1 + placed.reduce((most, label) => Math.max(most, label.lane), -1));
  const shapes = rows.flatMap((row, k) => {
    const y = top + (placed[k].lane + 0.5) * LANE_PX;
    const [x, anchor] = placed[k].left ? [at[k] - 7, "end"] : [at[k] + 7, "start"];
    return [line([[at[k], 0], [at[k], y]], ink, 1.4), shape(at[k], y, "up", 8, ink), word(x, y, row.text, ink, { anchor })];
  });
  return [height, shapes];
}
