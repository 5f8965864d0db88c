"""Ten minutes decide: a shorter departure is an event, a longer one is a new baseline."""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from audit.tracing.levels import BLOCK_S
from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import merge_runs, run_maxima, true_runs
from audit.tracing.types import BoolArray, FloatArray, LevelChange

# Of the method, not of a unit: how the edges of a level are found. What counts as a change is a setting.
# A step of the minute path above this is a jump, below it a drift.
JUMP_BPM = 8.0
# While the path is held, a level has been left by this share of the jump: dips of the fluctuation beside it, a few bpm
# deep, made departures of 9.5 min into ten. An event's own edges decide afterwards.
AWAY_SHARE = 1 / 3
# Returns to the former level that do not undo a change: dips after a rise; peaks after a moderate fall.
DIP_S, RISE_S, SHORT_RISE_S, HIGHEST_RISE_BPM = 120, 30, 10, 30.0
# Half the time over which a change of level is measured.
REACH_S, STEP_S = 150, 15
# The edges of a change are known to about this.
SETTLING_S = 30
# A long departure is a level when this share of it lies within LEVEL_WIDTH_BPM of its own median.
LEVEL_SHARE, LEVEL_WIDTH_BPM = 0.6, 10.0
# A way from one level to another is looked for so far beside an event, which is no longer than this and goes no
# further than the two levels by more than PAST_BPM.
PASSAGE_BESIDE_S, LONGEST_PASSAGE_S, PAST_BPM = 5, 120, 5.0
# The drift inside a stretch without jumps is smoothed over this many minutes on either side.
SMOOTH_MIN = 3
# A level has been left once the line has come back by this share of the change.
LEFT_SHARE = 0.5


def hold_levels(path: FloatArray, joined: FloatArray, seen: BoolArray, settings: TracingSettings) -> FloatArray:
    """Take out of the minute path the stretches that left their surroundings for less than 10 minutes.

    `path`: shape (n_minutes,), bpm. `joined`: shape (n_seconds,), smoothed FHR without holes, bpm. `seen`: shape
    (n_seconds,); what is drawn after the last second that was seen proves nothing, and neither does a level of which
    little was seen.
    """
    path = path.copy()
    for minute in range(1, path.size):
        if abs(path[minute] - path[minute - 1]) > JUMP_BPM:
            path[minute : _return(path, minute, joined, seen, settings)] = path[minute - 1]
    return path


def _return(path: FloatArray, jump: int, joined: FloatArray, seen: BoolArray, settings: TracingSettings) -> int:
    """The minute at which the tracing was back at the level it left at a jump; the jump where it stayed away."""
    level, reference = float(path[jump]), float(path[jump - 1])
    side = 1.0 if level > reference else -1.0
    excused = _excused_s(side, abs(level - reference))
    joined = joined[: _seen_to(seen)]
    low = max(0, (jump - 2) * BLOCK_S)
    high = min(joined.size, jump * BLOCK_S + int(settings.baseline_change_s) + 2 * BLOCK_S)
    left_bpm = max(settings.event_edge_bpm, AWAY_SHARE * abs(level - reference))
    away = side * (joined[low:] - reference) > left_bpm
    runs = merge_runs(true_runs(away[: high - low]), excused) + low
    runs = runs[runs[:, 1] > jump * BLOCK_S]
    if len(runs) == 0 or runs[0, 0] >= (jump + 2) * BLOCK_S:
        return jump + 1
    start, stop = int(runs[0, 0]), int(runs[0, 1])
    if stop - start >= settings.baseline_change_s:
        if _seen_for_s(away[start - low :], seen[start:], excused) >= settings.baseline_min_seen_s:
            return jump
        stop = start + int(merge_runs(true_runs(away[start - low :]), excused)[0, 1])
    return max(jump + 1, -(-stop // BLOCK_S))


def _seen_to(seen: BoolArray) -> int:
    return int(np.flatnonzero(seen)[-1]) + 1


def _seen_for_s(away: BoolArray, seen: BoolArray, excused_s: int) -> int:
    """How long a level was seen before it was seen to be left, s: a baseline needs two minutes (NICHD 2008).

    `away`: shape (n_seconds,), from the first second of the level on, however far it is drawn.
    """
    runs = merge_runs(true_runs(away[seen[: away.size]]), excused_s)
    return int(runs[0, 1] - runs[0, 0]) if len(runs) else 0


def _excused_s(side: float, size_bpm: float) -> int:
    """An upward change is not undone by decelerations from the new level, nor a downward one by accelerations."""
    if side > 0:
        return DIP_S
    return RISE_S if size_bpm <= HIGHEST_RISE_BPM else SHORT_RISE_S


def sharpen_jumps(path: FloatArray, joined: FloatArray, n_seconds: int) -> FloatArray:
    """The minute path at one value a second: drifts smoothed, jumps moved to the second that fits the tracing best."""
    jumps = np.flatnonzero(np.abs(np.diff(path)) > JUMP_BPM) + 1
    edges = np.concatenate(([0], jumps, [path.size]))
    middle = (np.arange(path.size) + 0.5) * BLOCK_S
    cut = [0]
    pieces: list[FloatArray] = []
    for start, stop in pairwise(edges):
        padded = np.pad(path[start:stop], SMOOTH_MIN, mode="edge")
        pieces.append(np.convolve(padded, np.full(2 * SMOOTH_MIN + 1, 1 / (2 * SMOOTH_MIN + 1)), mode="valid"))
    for jump in jumps:
        cut.append(max(cut[-1], _best_cut(int(jump) * BLOCK_S, path[jump - 1], path[jump], joined)))
    cut.append(n_seconds)
    line = np.empty(n_seconds)
    for number, piece in enumerate(pieces):
        seconds = np.arange(cut[number], cut[number + 1])
        line[seconds] = np.interp(seconds, middle[edges[number] : edges[number + 1]], piece)
    return line


def _best_cut(near_s: int, before: float, after: float, joined: FloatArray) -> int:
    low, high = max(0, near_s - 2 * BLOCK_S), min(joined.size, near_s + 2 * BLOCK_S)
    limit = abs(after - before)
    gain = np.minimum(np.abs(joined[low:high] - after), limit) - np.minimum(np.abs(joined[low:high] - before), limit)
    total = np.concatenate(([0.0], np.cumsum(gain)))
    return low + int(total.argmax())


def follow_long_departures(
    joined: FloatArray, line: FloatArray, seen: BoolArray, settings: TracingSettings
) -> tuple[FloatArray, bool]:
    """Lay the line into departures of >= 10 minutes that hold a level of their own; say whether any was found."""
    moved = False
    line = line.copy()
    for side in (-1.0, 1.0):
        away = side * (joined - line)[: _seen_to(seen)]
        runs = true_runs(away > settings.event_edge_bpm)
        runs = runs[runs[:, 1] - runs[:, 0] >= settings.baseline_change_s]
        for start, stop in runs[run_maxima(away, runs) >= settings.baseline_change_bpm]:
            inside = joined[start:stop]
            level = float(np.median(inside))
            share = np.mean(np.abs(inside - level) <= LEVEL_WIDTH_BPM)
            if np.count_nonzero(seen[start:stop]) < settings.baseline_min_seen_s:
                continue
            if share >= LEVEL_SHARE and side * (level - float(np.median(line[start:stop]))) > settings.event_edge_bpm:
                line[start:stop] = level
                moved = True
    return line, moved


def list_changes(
    line: FloatArray, joined: FloatArray, seen: BoolArray, settings: TracingSettings
) -> tuple[LevelChange, ...]:
    """Every change of the baseline by at least `baseline_change_bpm` within five minutes that lasted and was seen.

    `line`, `joined`: shape (n_seconds,), bpm: the baseline as drawn, and the smoothed FHR without holes. `seen`: shape
    (n_seconds,). A level ends with the next change, or where the line has come back.
    """
    n_seconds = line.size
    if n_seconds < settings.baseline_change_s:
        return ()
    joined = joined[: _seen_to(seen)]
    index = np.arange(n_seconds)
    before = line[np.maximum(index - REACH_S, 0)]
    after = line[np.minimum(index + REACH_S, n_seconds - 1)]
    found: list[LevelOfLine] = []
    for side in (-1.0, 1.0):
        rise = side * (after - before)
        for start, stop in true_runs(rise >= settings.baseline_change_bpm):
            best = _middle(line, rise, int(start), int(stop), side)
            departure = _departure(joined, best, float(before[best]), side, settings)
            change = LevelOfLine(departure, float(before[best]), float(after[best]))
            onset = _lasting_onset(change, joined, seen, settings)
            if onset is not None:
                there = max(best + REACH_S, onset + int(settings.baseline_change_s))
                found.append(change._replace(onset_s=onset, there_s=there))
    kept = _apart(found, settings)
    nexts = [change.onset_s for change in kept[1:]] + [n_seconds] * bool(kept)
    return tuple(
        LevelChange(
            onset_s=float(change.onset_s),
            end_s=float(min(upto, _left(change, line, settings))),
            from_bpm=change.from_bpm,
            to_bpm=change.to_bpm,
        )
        for change, upto in zip(kept, nexts, strict=True)
    )


class LevelOfLine(NamedTuple):
    """A change of the line: its onset, both levels, and when it has lasted and the second one is reached."""

    onset_s: int
    from_bpm: float
    to_bpm: float
    there_s: int = 0

    @property
    def side(self) -> float:
        return 1.0 if self.to_bpm > self.from_bpm else -1.0


def _left(change: LevelOfLine, line: FloatArray, settings: TracingSettings) -> int:
    """The second at which the line has come back from a level without a change that is listed, slowly or unseen."""
    away = change.side * (line[change.there_s :] - change.from_bpm)
    halfway = np.flatnonzero(away < (1 - LEFT_SHARE) * abs(change.to_bpm - change.from_bpm))
    if halfway.size == 0:
        return line.size
    first = int(halfway[0])
    back = np.flatnonzero(away[first : first + int(settings.baseline_change_s)] <= settings.event_edge_bpm)
    return change.there_s + first + (int(back[0]) if back.size else 0)


def _middle(line: FloatArray, rise: FloatArray, start: int, stop: int, side: float) -> int:
    """The middle of a change: where the line steps, else the middle of its greatest difference.

    A step seen from `REACH_S` on either side is as high for all that time, and noise would choose a second of it.
    """
    index = np.arange(start, stop)
    step = side * (line[np.minimum(index + STEP_S, line.size - 1)] - line[np.maximum(index - STEP_S, 0)])
    if step.max() >= JUMP_BPM:
        return start + int(np.median(np.flatnonzero(step >= step.max() - 0.5)))
    return start + int(np.median(np.flatnonzero(rise[start:stop] >= rise[start:stop].max() - 0.5)))


def _lasting_onset(change: LevelOfLine, joined: FloatArray, seen: BoolArray, settings: TracingSettings) -> int | None:
    """The second from which the tracing itself stayed away from the former level for 10 minutes, two of them seen.

    That of the change, or soon after it, where it came back at first: a deceleration just before a fall that lasts.
    """
    away = change.side * (joined[change.onset_s :] - change.from_bpm) > settings.event_edge_bpm
    excused = _excused_s(change.side, abs(change.to_bpm - change.from_bpm))
    for number, (start, stop) in enumerate(merge_runs(true_runs(away), excused).tolist()):
        if start > REACH_S:
            break
        lasts = stop - start >= settings.baseline_change_s - 2 * SETTLING_S
        of_it = _seen_for_s(away[start:], seen[change.onset_s + start :], excused)
        if lasts and of_it >= settings.baseline_min_seen_s:
            return change.onset_s + int(start) * bool(number)
    return None


def _apart(found: list[LevelOfLine], settings: TracingSettings) -> list[LevelOfLine]:
    """The largest changes first; one that blurs into a larger one is left out."""
    lasting = settings.baseline_change_s - 2.0 * SETTLING_S
    kept: list[LevelOfLine] = []
    for change in sorted(found, key=lambda item: (-abs(item.to_bpm - item.from_bpm), item.onset_s)):
        if all(abs(change.onset_s - other.onset_s) >= lasting for other in kept):
            kept.append(change)
    return sorted(kept)


def _departure(joined: FloatArray, middle: int, level: float, side: float, settings: TracingSettings) -> int:
    """The last second before the middle of a change at which the tracing was still at its former level."""
    low = max(0, middle - 2 * REACH_S)
    at_level = np.flatnonzero(side * (joined[low : middle + 1] - level) <= settings.event_edge_bpm)
    return low + int(at_level[-1]) + 1 if at_level.size else low


def is_passage(onset_s: float, end_s: float, extreme_bpm: float, line: FloatArray, settings: TracingSettings) -> bool:
    """Whether what looks like an event is the way from one level to another: it does not come back to where it began.

    `onset_s`, `end_s`: of the event. `extreme_bpm`: its lowest or highest rate. `line`: shape (n_seconds,), the
    baseline, bpm; it steps where a level changes, the rate takes its time.
    """
    before = float(line[max(int(onset_s) - PASSAGE_BESIDE_S, 0)])
    after = float(line[min(int(end_s) + PASSAGE_BESIDE_S, line.size - 1)])
    low, high = min(before, after), max(before, after)
    between = low - PAST_BPM <= extreme_bpm <= high + PAST_BPM
    return between and high - low >= settings.baseline_change_bpm and end_s - onset_s <= LONGEST_PASSAGE_S
