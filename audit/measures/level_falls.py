"""Falls of the rate that became the baseline: a final bradycardia has its burden too.

A departure of 10 minutes or more is a baseline change and no deceleration (NICHD 2008), and so it is in none of the
deceleration columns. Its area is measured from the level before it.
"""

import numpy as np

from audit.tracing.runs import true_runs
from audit.tracing.types import FloatArray, LevelChange, Reading

BASELINE_CHANGE_S = 600  # NICHD 2008
# Of the method: the level before a slow fall is looked for this far back (before a step, for 10 minutes), and is left
# by this much.
LOOK_BACK_S, LEFT_BY_BPM = 1800, 5.0


def former_levels(reading: Reading, below_bpm: float) -> FloatArray:
    """The level before each fall of 10 minutes or more to a rate under `below_bpm`, for the seconds of the fall.

    `reading`: the reading of the whole tracing. `below_bpm`: bpm; under it a baseline is a bradycardia (110 in NICHD
    2008, FIGO 2015 and NICE NG229).
    Gives an array of shape (n_seconds,), NaN outside such falls.

    Changes of the level that the reading lists, and slow falls through which it drew a falling baseline. A tracing that
    was low from its beginning has no level before it, and no fall.
    """
    line = reading.baseline_drawn_1hz
    former = np.full(line.size, np.nan)
    for change in reading.level_changes:
        if _is_bradycardia(reading, change, below_bpm):
            onset, level = round(change.onset_s), change.from_bpm
            before = line[max(onset - BASELINE_CHANGE_S, 0) : onset]
            if before.size and float(before.max()) > level + LEFT_BY_BPM:  # it was on its way down already
                onset, level = _left(before, onset)
            _raise(former, onset, round(change.end_s), level)
    with np.errstate(invalid="ignore"):
        low = true_runs(line < below_bpm)
    for start, stop in low.tolist():
        before = line[max(start - LOOK_BACK_S, 0) : start]
        if before.size == 0 or not np.isnan(former[start:stop]).all():
            continue
        onset, level = _left(before, start)
        if stop - onset >= BASELINE_CHANGE_S:
            _raise(former, onset, stop, level)
    return former


def _raise(former: FloatArray, start: int, stop: int, level_bpm: float) -> None:
    """Of two falls over the same second the higher former level counts."""
    former[start:stop] = np.fmax(former[start:stop], level_bpm)


def _left(before: FloatArray, stop: int) -> tuple[int, float]:
    """The second at which the line that ends at `stop` left its highest level, and that level, bpm."""
    level = float(before.max())
    return stop - before.size + int(np.flatnonzero(before >= level - LEFT_BY_BPM)[-1]) + 1, level


def _is_bradycardia(reading: Reading, change: LevelChange, below_bpm: float) -> bool:
    """Whether a change of level is a fall to under `below_bpm`, at its beginning or for most of its seen time."""
    if change.to_bpm >= change.from_bpm:
        return False
    during = reading.fhr_1hz[round(change.onset_s) : round(change.end_s)]
    during = during[np.isfinite(during)]
    return change.to_bpm < below_bpm or (during.size > 0 and float(np.median(during)) < below_bpm)
