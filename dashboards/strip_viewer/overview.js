// The whole labour at a glance below the strip: its line with all extremes, the stretch in view, what is chosen on it.

import { EDGE_PX, LEFT_PX, line, rulerOf, timeLabels, windowOf, word, box } from "./paper.js";
import { edgeOf, runsOf } from "./categories.js";
import { thinned } from "./thinning.js";

const HEIGHT_PX = 34;

const THINNED = new WeakMap(); // the whole labour is thinned once for a width, not at each step

function thinnedOnce(head, whole) {
  const known = THINNED.get(head);
  if (known?.columns === whole.columns) return known.points;
  const points = thinned(head.lines.fhr, whole);
  THINNED.set(head, { columns: whole.columns, points });
  return points;
}

export function overviewScene(head, view, found) {
  const whole = windowOf(head.start_s, Math.max(head.end_s, head.start_s + 60), view.paneWidth, { fhr: HEIGHT_PX, toco: 0 });
  const ruler = rulerOf(whole, head.fhr[0], head.fhr[1], HEIGHT_PX);
  const inside = [];
  if (found && head.findings) {
    const lane = head.findings.categories.find((one) => one.name === head.findings.standard);
    for (const run of lane ? runsOf(lane, whole) : []) {
      if (run.severity < 2) continue;
      const height = run.severity === 3 ? 12 : 6;
      const [low, high, top] = [ruler.x(run.from), ruler.x(run.to), HEIGHT_PX - height];
      inside.push(box(low, top, high - low, height, head.look.severities[run.severity]));
      inside.push(line(edgeOf(low, high, top, HEIGHT_PX, whole.columns), head.look.edge, 1));
    }
  }
  const points = thinnedOnce(head, whole).map(([minute, value]) => (value === null ? null : [ruler.x(minute), ruler.y(value)]));
  inside.push(line(points, head.look.ink, 0.7));
  const [low, high] = [ruler.x(view.start / 60), ruler.x(Math.min(view.end, head.end_s) / 60)];
  inside.push(box(low, 0, high - low, HEIGHT_PX, head.look.ink, 0.12));
  inside.push(line([[low, 0], [high, 0], [high, HEIGHT_PX], [low, HEIGHT_PX], [low, 0]], head.look.ink, 1.6));
  const beside = timeLabels(whole).map(([minute, text]) => word(ruler.x(minute), HEIGHT_PX + 8, text, head.look.ink, { size: 10, anchor: "middle" }));
  beside.push(word(-LEFT_PX, HEIGHT_PX / 2, "all of it", head.look.ink, { size: 10 }));
  const pane = { name: "overview", top: 1, height: HEIGHT_PX, inside, beside, framed: true };
  return {
    left: EDGE_PX + LEFT_PX, paneWidth: whole.columns, width: view.width, height: HEIGHT_PX + 16, panes: [pane],
    secondsAt: (x) => (whole.start / 60 + (x - EDGE_PX - LEFT_PX) / whole.perMinute) * 60,
  };
}
