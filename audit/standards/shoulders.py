"""Shoulders: the small rises of the rate before and after a variable deceleration, and their loss.

NICE NG229 counts the loss of earlier shouldering among the concerning characteristics of variable decelerations, from
memory and without a number. What is measured, and how much of it is a shoulder, is our choice.
"""

import numpy as np

from audit.setting_types import Limit
from audit.standards.falls import Falls
from audit.standards.types import BoolArray, FloatArray
from audit.tracing.types import Reading

SIDE_S = 30.0  # looked at on either side of a deceleration
HUMP_S = 10  # a shoulder stays up for so long on average
IN_A_ROW, OF_EARLIER = 3, 2  # two of three variable decelerations in a row must have had shoulders to lose them
LOOK_BACK_S = 3600.0  # earlier ones are looked for so far back
# A rise within this share of the variability (peak to trough) is no shoulder, whatever its height.
WITHIN_VARIABILITY = 0.5


def shoulder_heights(reading: Reading, falls: Falls) -> FloatArray:
    """Highest mean of 10 s in the 30 s before and after each fall, above the baseline.

    Gives an array of shape (n_falls, 2), bpm: before, after. NaN where no 10 s were seen throughout.
    """
    away = np.append(reading.fhr_1hz - reading.baseline_drawn_1hz, np.full(HUMP_S, np.nan))
    heights = np.full((falls.onset_s.size, 2), np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(away, HUMP_S)
    place = np.arange(int(SIDE_S))
    for side, start in enumerate((falls.onset_s - SIDE_S, falls.end_s)):
        first = np.maximum(np.trunc(start).astype(np.int64), 0)
        stop = np.trunc(start + SIDE_S).astype(np.int64) - HUMP_S + 1
        index = first[:, None] + place[None, :]
        means = windows[np.minimum(index, len(windows) - 1)].mean(axis=2)
        values = np.where(index < stop[:, None], means, np.nan)
        heights[:, side] = np.fmax.reduce(values, axis=1)  # NaN only where all are
    return heights


def shouldering_lost(
    reading: Reading, falls: Falls, variable: BoolArray, variability_bpm: FloatArray, shoulder: Limit
) -> BoolArray:
    """Which variable decelerations have no shoulder on either side though those before them had both.

    `variable`: shape (n_falls,), which falls are variable decelerations. `variability_bpm`: shape (n_falls,), around
    each fall, NaN = unknown. `shoulder`: the height of a shoulder, bpm.

    A deceleration has shoulders when the mean of its two sides stands up. Of three variable decelerations in a row
    within the hour before, two must have had them.
    """
    result = np.zeros(variable.size, dtype=bool)
    index = np.flatnonzero(variable)
    index = index[np.argsort(falls.onset_s[index], kind="stable")]
    if not index.size:
        return result
    height = shoulder_heights(reading, falls)[index].mean(axis=1)
    onset_s, known = falls.onset_s[index], np.isfinite(height)
    up = shoulder.met(height) & (height >= WITHIN_VARIABILITY * np.nan_to_num(variability_bpm[index]))
    recent = (
        np.convolve(up, np.ones(IN_A_ROW, dtype=np.int64))[: up.size] >= OF_EARLIER
    )  # of each and the two before it
    for k in range(OF_EARLIER, index.size):
        earlier = recent[:k] & (onset_s[k] - onset_s[:k] <= LOOK_BACK_S)
        result[index[k]] = bool(known[k] and not up[k] and earlier.any())
    return result
