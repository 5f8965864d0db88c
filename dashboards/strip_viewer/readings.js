// What stands at a time, and what is in view, in words: for the line under the strip and for screen readers.

import { categoriesAt } from "./categories.js";
import { valueAt } from "./payload.js";
import { agreedIn, within } from "./scene.js";
import { duration, hhmm, hhmmss } from "./times.js";

const NEAREST_S = 600;
const AGREED_S = 30;

/** Everything known of a time: pairs of name and text. Findings are told only when they are shown. */
export function readingAt(head, seconds, found) {
  const fhr = valueAt(head.lines.fhr, seconds);
  const toco = valueAt(head.lines.toco, seconds);
  const out = [
    ["", hhmmss(seconds)],
    ["FHR", Number.isNaN(fhr) ? "no signal" : `${Math.round(fhr)} bpm`],
    ["toco", Number.isNaN(toco) ? "no signal" : String(Math.round(toco))],
  ];
  if (!found || !head.findings) return out;
  const { baseline, stated, variability } = head.lines;
  if (baseline) {
    const level = valueAt(baseline, seconds + 0.5);
    const isStated = valueAt(stated, seconds + 0.5) === 1;
    const text = Number.isNaN(level) ? "none" : `${Math.round(level)} bpm${isStated ? "" : " (drawn through)"}`;
    out.push(["baseline", text]);
    const width = valueAt(variability, seconds);
    out.push(["variability", Number.isNaN(width) ? "not known" : `${Math.round(width)} bpm`]);
  }
  for (const one of categoriesAt(head, seconds / 60)) out.push([one.name, `${one.category}: ${one.reasons}`]);
  for (const event of nearest(head, seconds)) out.push(["event", event]);
  for (const row of spansAt(head, seconds)) out.push(["", row]);
  for (const row of agreedIn(head, { start: seconds - AGREED_S, end: seconds + AGREED_S })) out.push(["meeting", `${row.what}, ${row.at}`]);
  return out;
}

function spansAt(head, seconds) {
  const minute = seconds / 60;
  const here = (rows) => rows.filter((row) => row.minute <= minute && minute <= row.end_minute);
  const { decelerations, accelerations, contractions, spans } = head.findings;
  return [
    ...here(decelerations).map(evidence),
    ...here(accelerations).map((row) => `${row.what}, ${row.height}`),
    ...here(contractions).map((row) => row.what),
    ...here(spans).map((row) => row.text),
  ];
}

/** A deceleration with what its kind rests on. */
function evidence(row) {
  return (
    `${row.what}, ${row.from_to}, depth ${row.depth}, ${row.lasts}, area ${row.area}, onset to nadir ${row.onset_to_nadir},` +
    ` fall as judged ${row.judged_fall}, nadir after contraction peak ${row.lag}, toco ${row.toco}, seen ${row.seen}`
  );
}

/** The care events nearest before and after, within ten minutes. */
function nearest(head, seconds) {
  const near = head.findings.events.map((row) => ({ ...row, by: row.minute * 60 - seconds }));
  const before = near.filter((row) => row.by <= 0 && row.by >= -NEAREST_S).pop();
  const after = near.find((row) => row.by > 0 && row.by <= NEAREST_S);
  const say = (row, side) => `${row.what} ${duration(Math.abs(row.by))} ${side}`;
  return [...(before ? [say(before, "before")] : []), ...(after ? [say(after, "after")] : [])];
}

/** The stretch in view as a text: levels, losses, and what was found when that is shown. */
export function viewInWords(head, window, found) {
  const { fhr, toco } = head.lines;
  const level = summary(fhr, window);
  const parts = [`Strip from ${hhmm(window.start)} to ${hhmm(Math.min(window.end, head.end_s))}`];
  if (level.n === 0) parts.push("no fetal heart rate");
  else parts.push(`fetal heart rate ${Math.round(level.low)} to ${Math.round(level.high)} bpm, middle ${Math.round(level.mean)}`);
  if (level.all > 0 && level.n < level.all) parts.push(`signal ${Math.round((100 * level.n) / level.all)} % of the time`);
  if (summary(toco, window).n === 0) parts.push("no toco");
  if (found && head.findings) {
    const counts = [
      [within(head.findings.decelerations, window).length, "deceleration"],
      [within(head.findings.accelerations, window).length, "acceleration"],
      [within(head.findings.contractions, window).length, "contraction"],
    ];
    for (const [n, name] of counts) parts.push(`${n} ${name}${n === 1 ? "" : "s"}`);
    const events = head.findings.events.filter((row) => row.minute * 60 >= window.start && row.minute * 60 < window.end);
    if (events.length) parts.push(`care: ${events.map((row) => `${row.text} ${row.at}`).join(", ")}`);
    for (const row of agreedIn(head, window)) parts.push(`meeting: ${row.what} ${row.at}`);
    for (const one of categoriesAt(head, Math.min(window.end, head.end_s) / 60 - 0.01)) parts.push(`${one.name} at its end ${one.category}`);
  }
  return `${parts.join("; ")}.`;
}

function summary(line, window) {
  const out = { n: 0, all: 0, low: Infinity, high: -Infinity, mean: NaN };
  if (!line) return out;
  const first = Math.max(0, Math.ceil((window.start - line.start_s) * line.rate_hz));
  const stop = Math.min(line.n, Math.ceil((window.end - line.start_s) * line.rate_hz));
  let sum = 0;
  for (let k = first; k < stop; k += 1) {
    const value = line.values[k];
    out.all += 1;
    if (Number.isNaN(value)) continue;
    out.n += 1;
    sum += value;
    if (value < out.low) out.low = value;
    if (value > out.high) out.high = value;
  }
  out.mean = sum / out.n;
  return out;
}
