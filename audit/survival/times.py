"""Checked times and the table of who is at risk when; shared by all time-to-event figures."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
CENSORED = 0


def times_and_causes(times: ArrayLike, causes: ArrayLike) -> tuple[FloatArray, IntArray]:
    """Times and kinds of end as arrays, checked. Raises ValueError naming what was expected."""
    time, cause = np.asarray(times, float), np.asarray(causes).astype(np.int64)
    if time.ndim != 1 or time.shape != cause.shape:
        raise ValueError(f"times {time.shape} and events {cause.shape}: expected two lists of one length")
    if not np.isfinite(time).all() or (time < 0).any():
        raise ValueError("times: expected finite numbers of at least 0")
    if (cause < 0).any():
        raise ValueError("events: expected 0 for censored and positive codes for events")
    return time, cause


def life_table(time: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distinct times in order and the number at risk just before each; a censored time counts as at risk at it."""
    distinct = np.unique(time)
    return distinct, len(time) - np.searchsorted(np.sort(time), distinct, side="left").astype(float)


def count_at(time: FloatArray, wanted: NDArray[np.bool_], distinct: FloatArray) -> FloatArray:
    """How many of the wanted ones fall on each distinct time."""
    return np.bincount(np.searchsorted(distinct, time[wanted]), minlength=len(distinct)).astype(float)


def from_zero(first: float, later: FloatArray) -> FloatArray:
    """A step curve's values with the one at time 0 put before them."""
    return np.concatenate([[float(first)], later])
