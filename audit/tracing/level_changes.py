"""Ten minutes decide: a shorter departure is an event, a longer one is a new baseline."""

from itertools import pairwise

import numpy as np

from audit.tracing.levels import BLOCK_S
from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import merge_runs, run_maxima, true_runs
from audit.tracing.types import FloatArray, LevelChange

# Of the method, not of a unit: how the edges of a level are found. What counts as a change is a setting.
# A step of the minute path above this is a jump, below it a drift.
JUMP_BPM = 8.0
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


def hold_levels(path: FloatArray, joined: FloatArray, seen_to: int, settings: TracingSettings) -> FloatArray:
    """Take out of the minute path the stretches that left their surroundings for less than 10 minutes.

    `path`: shape (n_minutes,), bpm. `joined`: shape (n_seconds,), smoothed FHR without holes, bpm. `seen_to`: the
    second after the last one that was seen; what is drawn after it proves nothing.
    """
    path = path.copy()
    for minute in range(1, path.size):
        if abs(path[minute] - path[minute - 1]) > JUMP_BPM:
            path[minute : _return(path, minute, joined[:seen_to], settings)] = path[minute - 1]
    return path


def _return(path: FloatArray, jump: int, joined: FloatArray, settings: TracingSettings) -> int:
    """The minute at which the tracing was back at the level it left at a jump; the jump where it stayed away."""
    level, reference = float(path[jump]), float(path[jump - 1])
    side = 1.0 if level > reference else -1.0
    excused = _excused_s(side, abs(level - reference))
    low = max(0, (jump - 2) * BLOCK_S)
    high = min(joined.size, jump * BLOCK_S + int(settings.baseline_change_s) + 2 * BLOCK_S)
    away = side * (joined[low:high] - reference) > settings.event_edge_bpm
    runs = merge_runs(true_runs(away), excused) + low
    runs = runs[runs[:, 1] > jump * BLOCK_S]
    if len(runs) == 0 or runs[0, 0] >= (jump + 2) * BLOCK_S:
        return jump + 1
    start, stop = int(runs[0, 0]), int(runs[0, 1])
    if stop - start >= settings.baseline_change_s:
        return jump
    return max(jump + 1, -(-stop // BLOCK_S))


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
    joined: FloatArray, line: FloatArray, seen_to: int, settings: TracingSettings
) -> tuple[FloatArray, bool]:
    """Lay the line into departures of >= 10 minutes that hold a level of their own; say whether any was found."""
    moved = False
    line = line.copy()
    for side in (-1.0, 1.0):
        away = side * (joined - line)[:seen_to]
        runs = true_runs(away > settings.event_edge_bpm)
        runs = runs[runs[:, 1] - runs[:, 0] >= settings.baseline_change_s]
        for start, stop in runs[run_maxima(away, runs) >= settings.baseline_change_bpm]:
            inside = joined[start:stop]
            level = float(np.median(inside))
            share = np.mean(np.abs(inside - level) <= LEVEL_WIDTH_BPM)
            if share >= LEVEL_SHARE and side * (level - float(np.median(line[start:stop]))) > settings.event_edge_bpm:
                line[start:stop] = level
                moved = True
    return line, moved


def list_changes(
    line: FloatArray, joined: FloatArray, seen_to: int, settings: TracingSettings
) -> tuple[LevelChange, ...]:
    """Every change of the baseline by at least `baseline_change_bpm` within five minutes that lasted."""
    n_seconds = line.size
    if n_seconds < settings.baseline_change_s:
        return ()
    index = np.arange(n_seconds)
    before = line[np.maximum(index - REACH_S, 0)]
    after = line[np.minimum(index + REACH_S, n_seconds - 1)]
    found: list[tuple[int, float, float]] = []
    for side in (-1.0, 1.0):
        rise = side * (after - before)
        for start, stop in true_runs(rise >= settings.baseline_change_bpm):
            best = _middle(line, rise, int(start), int(stop), side)
            onset = _departure(joined, best, float(before[best]), side, settings)
            change = (onset, float(before[best]), float(after[best]))
            if _lasts(change, joined[:seen_to], settings):
                found.append(change)
    kept = _apart(found, settings)
    ends = [onset for onset, _, _ in kept[1:]] + [n_seconds] * bool(kept)
    return tuple(
        LevelChange(onset_s=float(onset), end_s=float(end), from_bpm=level, to_bpm=to)
        for (onset, level, to), end in zip(kept, ends, strict=True)
    )


def _middle(line: FloatArray, rise: FloatArray, start: int, stop: int, side: float) -> int:
    """The middle of a change: where the line steps, else the middle of its greatest difference.

    A step seen from `REACH_S` on either side is as high for all that time, and noise would choose a second of it.
    """
    index = np.arange(start, stop)
    step = side * (line[np.minimum(index + STEP_S, line.size - 1)] - line[np.maximum(index - STEP_S, 0)])
    if step.max() >= JUMP_BPM:
        return start + int(np.median(np.flatnonzero(step >= step.max() - 0.5)))
    return start + int(np.median(np.flatnonzero(rise[start:stop] >= rise[start:stop].max() - 0.5)))


def _lasts(change: tuple[int, float, float], joined: FloatArray, settings: TracingSettings) -> bool:
    """Whether the tracing itself stayed away from the former level for 10 minutes, as seen."""
    onset, level, to = change
    side = 1.0 if to > level else -1.0
    away = side * (joined[onset : onset + int(settings.baseline_change_s)] - level) > settings.event_edge_bpm
    runs = merge_runs(true_runs(away), _excused_s(side, abs(to - level)))
    return len(runs) > 0 and bool(runs[0, 1] - runs[0, 0] >= settings.baseline_change_s - 2 * SETTLING_S)


def _apart(found: list[tuple[int, float, float]], settings: TracingSettings) -> list[tuple[int, float, float]]:
    """The largest changes first; one that blurs into a larger one is left out."""
    lasting = settings.baseline_change_s - 2.0 * SETTLING_S
    kept: list[tuple[int, float, float]] = []
    for change in sorted(found, key=lambda item: (-abs(item[2] - item[1]), item[0])):
        if all(abs(change[0] - other[0]) >= lasting for other in kept):
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
