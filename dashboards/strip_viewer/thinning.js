// Thin a line to its pixel columns without losing an extreme: first, lowest, highest and last of each ("M4"), as
// audit/charts/strip/decimate.py does for paper.

// the points of a line in the latest stretch: while a strip is fitted its height changes, they do not
const LATEST = new WeakMap();

/**
 * Points [minute, value] of a channel in a window of so many columns; a null value breaks the line. Not to be changed.
 * `keep` says which samples count, and `which` names that choice: without a name its points are not kept.
 */
export function thinned(line, window, keep = null, which = "") {
  if (keep && !which) return pointsOf(line, window, keep);
  if (!LATEST.has(line)) LATEST.set(line, new Map());
  const { start, end, columns } = window;
  const known = LATEST.get(line).get(which);
  if (known && known.start === start && known.end === end && known.columns === columns) return known.points;
  const points = pointsOf(line, window, keep);
  LATEST.get(line).set(which, { start, end, columns, points });
  return points;
}

function pointsOf(line, window, keep) {
  const { start, end, columns } = window;
  const time = (k) => line.start_s + k / line.rate_hz;
  const first = Math.max(0, Math.ceil((start - line.start_s) * line.rate_hz - 1e-6));
  const stop = Math.min(line.n, Math.ceil((end - line.start_s) * line.rate_hz - 1e-6));
  const perSecond = columns / (end - start);
  const points = [];
  let column = -1;
  let four = null;
  let lastSeen = -1;
  let lastColumn = -1;
  const flush = () => {
    if (!four) return;
    let former = -1;
    for (const k of [...new Set(four)].sort((a, b) => a - b)) {
      if (former < 0 && lastSeen >= 0 && lastColumn !== column && gapBetween(lastSeen, k)) {
        points.push([(time(lastSeen) + time(k)) / 120, null]);
      }
      points.push([time(k) / 60, line.values[k]]);
      former = k;
    }
    lastSeen = former;
    lastColumn = column;
  };
  const seen = (k) => !Number.isNaN(line.values[k]) && (!keep || keep(k));
  const gapBetween = (from, to) => {
    for (let k = from + 1; k < to; k += 1) if (!seen(k)) return true;
    return false;
  };
  for (let k = first; k < stop; k += 1) {
    if (!seen(k)) continue;
    const at = Math.min(Math.floor((time(k) - start) * perSecond), columns - 1);
    if (at !== column) {
      flush();
      column = at;
      four = [k, k, k, k];
    } else {
      if (line.values[k] < line.values[four[1]]) four[1] = k;
      if (line.values[k] > line.values[four[2]]) four[2] = k;
      four[3] = k;
    }
  }
  flush();
  return doubled(points, 1 / line.rate_hz / 60);
}

/** A point alone between gaps gets a twin one sample later, so that it is drawn at all. */
function doubled(points, step) {
  const out = [];
  points.forEach((point, k) => {
    out.push(point);
    const alone = (other) => other === undefined || other[1] === null;
    if (point[1] !== null && alone(points[k - 1]) && alone(points[k + 1])) out.push([point[0] + step, point[1]]);
  });
  return out;
}
