"""When monitoring ended: both transducers off for good, which is no loss of signal at the bedside.

A probe is taken off for a transfer to theatre, for birth, or because monitoring is over. Common practice, no source
gives a rule; ours: nothing of the heart rate is accepted from there to the end, and the toco shows no contraction and
does not move either. Where the toco goes on, somebody was being monitored and the heart rate was lost at the bedside.
"""

import numpy as np

from audit.tracing.contractions import UterineActivity
from audit.tracing.runs import true_runs
from audit.tracing.types import FloatArray

# Of the method: a shorter silence at the end is loss like any other; the usual time from one contraction to the next,
# for which a toco may lie still; how long the toco is looked at in one piece, and which share of the usual contraction
# it must move to be on somebody.
SHORTEST_END_S = 60
BETWEEN_CONTRACTIONS_S = 300
PIECE_S, MOVES_SHARE = 60, 0.15


def monitored_until(fhr_1hz: FloatArray, toco_1hz: FloatArray, uterus: UterineActivity) -> float:
    """The second at which monitoring ended; the end of the tracing where it went on to there.

    `fhr_1hz`, `toco_1hz`: shape (n_seconds,), accepted FHR in bpm and toco in its own units; NaN = not seen.

    A tracing without any FHR was not monitored at any time: 0.
    """
    n_seconds = fhr_1hz.size
    seen = np.flatnonzero(~np.isnan(fhr_1hz))
    last = int(seen[-1]) + 1 if seen.size else 0
    if n_seconds - last < SHORTEST_END_S:
        return float(n_seconds)
    toco_until = _toco_until(toco_1hz, uterus, last)
    if toco_until > last and n_seconds - toco_until < BETWEEN_CONTRACTIONS_S:
        return float(n_seconds)
    return float(max(last, toco_until))


def _toco_until(toco_1hz: FloatArray, uterus: UterineActivity, after_s: int) -> int:
    """The last second at which the toco showed a contraction, or moved, after a time, as it does on a patient."""
    until = max((int(c.end_s) for c in uterus.contractions), default=0)
    if not uterus.contractions:
        return until
    usual = float(np.median([c.amplitude for c in uterus.contractions]))
    rest = toco_1hz[after_s:]
    pieces = rest[: rest.size // PIECE_S * PIECE_S].reshape(-1, PIECE_S)
    known = np.count_nonzero(~np.isnan(pieces), axis=1) > PIECE_S // 2
    low, high = np.zeros(len(pieces)), np.zeros(len(pieces))
    if known.any():
        # Between the 10th and the 90th percentile of what was seen: taking a belt off is one jump.
        low[known], high[known] = np.nanpercentile(pieces[known], (10, 90), axis=1)
    moving = true_runs(known & (high - low >= MOVES_SHARE * usual))
    return max(until, after_s + int(moving[-1, 1]) * PIECE_S) if len(moving) else until
