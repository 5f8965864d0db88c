// The clock of one concern as a line of times: what was found on the tracing above the line, what was recorded below it.

import { EDGE_PX, LEFT_PX, line, rulerOf, shape, windowOf, word } from "./paper.js";
import { placeLabels } from "./lanes.js";
import { hhmm } from "./times.js";

const ROW_OF_CLOCK_PX = 14;
const MARGIN_MIN = 5;

/** Only what was recorded while findings are not shown: the bare strip tells nobody where to look. */
export function timelineScene(head, view, concern, found) {
  const points = concern.points.filter((point) => found || !point.found);
  if (!points.length) return null;
  const minutes = points.map((point) => point.minute);
  const start = (Math.min(...minutes) - MARGIN_MIN) * 60;
  const end = (Math.max(...minutes) + MARGIN_MIN * 4) * 60;
  const window = windowOf(start, end, view.paneWidth, { fhr: 10, toco: 0 });
  const ruler = rulerOf(window);
  const above = points.filter((point) => point.found);
  const below = points.filter((point) => !point.found);
  const upper = rows(above, ruler, window);
  const lower = rows(below, ruler, window);
  const axis = upper.lanes * ROW_OF_CLOCK_PX + 4;
  const inside = [line([[0, axis], [window.columns, axis]], head.look.ink, 1.5)];
  upper.placed.forEach((label, k) => inside.push(...mark(head, above[k], ruler, axis, axis - 4 - (label.lane + 0.5) * ROW_OF_CLOCK_PX, label.left)));
  lower.placed.forEach((label, k) => inside.push(...mark(head, below[k], ruler, axis, axis + 6 + (label.lane + 0.5) * ROW_OF_CLOCK_PX, label.left)));
  const beside = [word(-LEFT_PX, axis, "Clock", head.look.ink, { size: 10, bold: true })];
  const height = axis + 8 + lower.lanes * ROW_OF_CLOCK_PX;
  const pane = { name: "timeline", top: 0, height, inside, beside, framed: false };
  return { left: EDGE_PX + LEFT_PX, paneWidth: window.columns, width: view.width, height, panes: [pane] };
}

const textOf = (point) => `${hhmm(point.minute * 60)} ${point.text}`;

function rows(points, ruler, window) {
  const placed = placeLabels(points.map((point) => ruler.x(point.minute)), points.map(textOf), window.columns);
  return { placed, lanes: placed.reduce((top, label) => Math.max(top, label.lane + 1), 0) };
}

function mark(head, point, ruler, axis, y, left) {
  const x = ruler.x(point.minute);
  const [at, anchor] = left ? [x - 5, "end"] : [x + 5, "start"];
  return [
    line([[x, axis], [x, y]], head.look.ink, 1.2),
    shape(x, axis, point.found ? "down" : "up", 8, head.look.ink),
    word(at, y, textOf(point), head.look.ink, { anchor, bold: point.chief }),
  ];
}

export function timelineInWords(concern, found) {
  const shown = concern.points.filter((point) => found || !point.found).map(textOf);
  const missing = concern.missing.length ? `; not recorded: ${concern.missing.join(", ")}` : "";
  return `Clock${found ? ` of ${concern.name}, ${concern.status}` : ""}: ${shown.join("; ")}${missing}.`;
}
