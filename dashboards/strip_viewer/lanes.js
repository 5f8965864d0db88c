// Labels in lanes so that none covers another, as audit/charts/strip/lanes.py places them on paper.

export const PX_PER_CHARACTER = 6.3;
const GAP_PX = 8;

/** The lane (0 = lowest) of each label, and whether it stands left of its mark. */
export function placeLabels(atPx, texts, widthPx) {
  const spans = sidesOf(atPx, texts.map((text) => [...text].length * PX_PER_CHARACTER + GAP_PX), widthPx);
  const waiting = atPx.map((_, k) => k);
  waiting.sort((a, b) => spans[a].left - spans[b].left || atPx[b] - atPx[a] || a - b);
  const done = [];
  const placed = [];
  while (waiting.length) {
    // in an order in which each meets only lines that are placed already, and so can stand above them
    const isFree = (k) => !waiting.some((j) => j !== k && holds(spans[k], atPx[j]));
    const k = waiting.find(isFree) ?? waiting[0];
    waiting.splice(waiting.indexOf(k), 1);
    const lane = bestLane(done, atPx[k], spans[k]);
    done.push({ lane, at: atPx[k], span: spans[k] });
    placed[k] = { lane, left: spans[k].left };
  }
  return placed;
}

const holds = (one, place) => one.low <= place && place <= one.high;

function sidesOf(atPx, needs, widthPx) {
  const spans = atPx.map((at, k) => spanOf(at, needs[k], at + needs[k] > widthPx && at - needs[k] >= 0));
  const turned = atPx.map((_, k) => k).filter((k) => spans[k].left);
  while (turned.length) {
    const other = turned.pop();
    atPx.forEach((at, k) => {
      const isInTheWay = holds(spans[k], atPx[other]) && holds(spans[other], at);
      if (spans[k].left || !isInTheWay || at - needs[k] < 0) return;
      spans[k] = spanOf(at, needs[k], true);
      turned.push(k);
    });
  }
  return spans;
}

function spanOf(at, need, left) {
  return left ? { low: at - need, high: at - 1, left } : { low: at + 1, high: at + need, left };
}

function bestLane(done, at, span) {
  const highest = 1 + done.reduce((top, label) => Math.max(top, label.lane), -1);
  const meets = (label) => span.low < label.span.high && label.span.low < span.high;
  let best = null;
  for (let lane = 0; lane <= highest; lane += 1) {
    if (done.some((label) => label.lane === lane && meets(label))) continue;
    const crossed =
      done.filter((label) => label.lane >= lane && holds(span, label.at)).length +
      done.filter((label) => label.lane < lane && holds(label.span, at)).length;
    if (best === null || crossed < best.crossed) best = { lane, crossed };
  }
  return best.lane;
}

/** Which marks, from the left, stand far enough from the last kept one. */
export function spaced(atPx, leastPx) {
  const keep = atPx.map(() => false);
  let last = -Infinity;
  for (const k of atPx.map((_, n) => n).sort((a, b) => atPx[a] - atPx[b])) {
    if (atPx[k] - last >= leastPx) {
      keep[k] = true;
      last = atPx[k];
    }
  }
  return keep;
}
