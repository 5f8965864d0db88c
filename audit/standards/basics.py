"""What every standard needs at a set of times, on data seen so far: signal, baseline, variability, contractions.

A *mark* is a time t; its features use nothing that was recorded at or after t, within what a retrospective reading
allows: the per-second baseline and the per-minute variability of the reading were smoothed with both sides in view.
What a reading knows only afterwards is taken back where it would change a finding: a level change counts as a fall (or
a rise) until its 10 minutes are over, and its level as the baseline only from then on.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from audit.setting_types import Limit
from audit.standards.types import BoolArray, FloatArray, IntArray
from audit.tracing.types import Reading, Sinusoidal

BASELINE_WINDOW_S = 600.0  # NICHD 2008 and FIGO 2015: the baseline is that of a 10-minute window
CONTRACTIONS_S = 1800.0  # NICHD 2008: contractions in 10 minutes are averaged over 30
BASELINE_CHANGE_S = 600.0  # NICHD 2008: a departure of 10 minutes or more is a baseline change


@dataclass(frozen=True)
class Summed:
    """Running sums over a reading, so that any window costs two look-ups. All arrays (n_seconds + 1,)."""

    seen_s: FloatArray
    identified_s: FloatArray  # seconds of identifiable baseline
    baseline_sum: FloatArray
    toco_s: FloatArray


@dataclass(frozen=True)
class Basics:
    """Features at n marks that all standards share. NaN = cannot say."""

    at_s: FloatArray  # (n,)
    floor_s: float  # windows of events begin no earlier than this
    minute: IntArray  # (n,) whole minutes that have passed at each mark
    seen_last_minute: FloatArray  # (n,) share of the last minute with signal, 0 to 1
    baseline_bpm: FloatArray  # (n,) trailing 10 minutes, NaN = indeterminate
    variability_bpm: FloatArray  # (n,) median of the trailing 10 minutes
    contractions_per_10_min: FloatArray  # (n,) averaged over the trailing 30 minutes
    contractions_in_10_min: FloatArray  # (n, 3) counts of the last three 10-minute periods, latest first
    summed: Summed


def marks_of(reading: Reading) -> FloatArray:
    """The minute marks 60, 120, ... s up to the end of the tracing."""
    return np.arange(1, int(reading.duration_s // 60) + 1, dtype=np.float64) * 60.0


def sums_of(reading: Reading) -> Summed:
    """Running sums of signal, identifiable baseline and usable toco, per second from the start."""
    seen = np.isfinite(reading.fhr_1hz)
    identified = seen & ~reading.in_event_1hz & np.isfinite(reading.baseline_1hz)
    return Summed(
        seen_s=_cumulated(seen),
        identified_s=_cumulated(identified),
        baseline_sum=_cumulated(np.where(identified, reading.baseline_1hz, 0.0)),
        toco_s=_cumulated(reading.toco_usable_1hz),
    )


def within(cumulated: FloatArray, start_s: FloatArray, end_s: FloatArray) -> FloatArray:
    """Sum over [start_s, end_s) of what was cumulated per second; empty windows give 0."""
    last = cumulated.size - 1
    start = np.minimum(np.maximum(start_s, 0), last).astype(np.int64)
    end = np.minimum(np.maximum(end_s, 0), last).astype(np.int64)
    result: FloatArray = cumulated[np.maximum(end, start)] - cumulated[start]
    return result


def share(cumulated: FloatArray, start_s: FloatArray, end_s: FloatArray) -> FloatArray:
    """Share of [start_s, end_s) that was cumulated, 0 to 1; the part after the last sample counts as not seen."""
    length = np.maximum(end_s - np.maximum(start_s, 0.0), 1e-9)
    result: FloatArray = np.minimum(within(cumulated, start_s, end_s) / length, 1.0)
    return result


def basics_at(
    reading: Reading,
    at_s: FloatArray,
    *,
    floor_s: float = 0.0,
    summed: Summed | None = None,
    baseline_minimum_s: float = 120.0,
    variability_minimum_min: int = 2,
    carry_min: float = 10.0,
    toco_usable_fraction: float = 0.8,
) -> Basics:
    """Features that all standards share, at the marks given.

    Parameters
    ----------
    reading : the reading of the whole tracing.
    at_s : array, shape (n,), s, ascending. Nothing at or after a mark enters its features.
    floor_s : s. Contractions and events before it are not counted; baseline and variability may look back past it.
    baseline_minimum_s : s of identifiable baseline that a 10-minute window must hold, not necessarily contiguous.
    variability_minimum_min : minutes with a measured variability that a 10-minute window must hold.
    carry_min : minutes for which the last known baseline and variability stand in where a window has none.
    toco_usable_fraction : 0 to 1, share of 30 minutes with usable toco below which no contraction rate is given.

    Notes
    -----
    Baseline: mean of the baseline over the seconds outside events, 2 minutes at least, else the previous window's
    (Macones 2008; the fallback from memory). Variability: median of the per-minute amplitudes. Contractions: count of
    peaks per 10 minutes averaged over 30 (Macones 2008), not scaled up for toco that was not usable.
    """
    summed = sums_of(reading) if summed is None else summed
    minute = np.floor(at_s / 60.0 + 1e-9).astype(np.int64)
    baseline = _held(_trailing_baseline(reading, summed, at_s, baseline_minimum_s), at_s, carry_min * 60.0)
    variability = trailing_median(reading.variability_1min, minute, 10, variability_minimum_min)
    peaks = np.array([c.peak_s for c in reading.contractions], dtype=np.float64)
    rate, periods = _contraction_rates(peaks, summed, at_s, floor_s, toco_usable_fraction)
    return Basics(
        at_s=at_s,
        floor_s=floor_s,
        minute=minute,
        seen_last_minute=share(summed.seen_s, at_s - 60.0, at_s),
        baseline_bpm=baseline,
        variability_bpm=_held(variability, at_s, carry_min * 60.0),
        contractions_per_10_min=rate,
        contractions_in_10_min=periods,
        summed=summed,
    )


def trailing_median(
    per_minute: FloatArray, minute: IntArray, width: int, minimum: int, *, latest: int | None = None
) -> FloatArray:
    """Median of the last `width` per-minute values before each mark; NaN where fewer than `minimum` are known.

    With `latest`, of so many known ones of them, the last.
    """
    padded = np.concatenate([np.full(width, np.nan), per_minute])
    rows = np.minimum(minute, per_minute.size)[:, None] + np.arange(width)[None, :]
    values = padded[rows]
    if latest is not None:
        later = np.cumsum(np.isfinite(values[:, ::-1]), axis=1)[:, ::-1]  # known ones from here on
        values = np.where(later <= latest, values, np.nan)
    ordered = np.sort(values, axis=1)  # NaN goes last
    known = np.count_nonzero(np.isfinite(ordered), axis=1)
    at = np.arange(known.size)
    middle = (ordered[at, (known - 1) // 2] + ordered[at, known // 2]) / 2.0  # NaN where none is known
    result: FloatArray = np.where(known >= minimum, middle, np.nan)
    return result


def run_minutes(state: IntArray, *, gap_min: int) -> FloatArray:
    """Length of the run of minutes in a state that is still going on after each minute.

    One minute out of the state between at least two minutes in it and one more does not end the run.

    `state`: shape (n_minutes,): 1 in the state, 0 not, -1 unknown. `gap_min`: unknown minutes in a row that a run
    survives; they count as part of it.
    Gives an array of shape (n_minutes,), from the run's first minute to the end of each minute; 0 where no run goes on.
    A bridged minute itself has 0: at that time it was not yet known that the state would come back.
    """
    index = np.arange(state.size)
    last_known = np.maximum.accumulate(np.where(state >= 0, index, -1))
    filled = np.where((last_known >= 0) & (index - last_known <= gap_min), state[last_known], 0)
    inside = filled == 1
    joined = inside.copy()
    joined[2:-1] |= (state[2:-1] == 0) & inside[1:-2] & inside[:-3] & inside[3:]
    start = np.maximum.accumulate(np.where(joined, -1, index)) + 1
    return np.where(inside, index + 1.0 - start, 0.0)


def settled(per_minute: FloatArray, width: int) -> FloatArray:
    """Median of the known values in `width` minutes around each known one (fewer at both ends); NaN stays NaN."""
    half = width // 2
    padded = np.concatenate([np.full(half, np.nan), per_minute, np.full(half, np.nan)])
    rows = np.arange(per_minute.size)[:, None] + np.arange(2 * half + 1)[None, :]
    ordered = np.sort(padded[rows], axis=1)  # NaN goes last
    known = np.count_nonzero(np.isfinite(ordered), axis=1)
    at = np.arange(per_minute.size)
    middle = (ordered[at, (known - 1) // 2] + ordered[at, known // 2]) / 2.0
    result: FloatArray = np.where(np.isfinite(per_minute), middle, np.nan)
    return result


def at_minutes(per_minute: FloatArray, minute: IntArray, fill: float = 0.0) -> FloatArray:
    """The value that a per-minute series had when each mark came: that of the last whole minute before it."""
    if per_minute.size == 0:
        return np.full(minute.size, fill)
    result: FloatArray = np.where(minute >= 1, per_minute[np.minimum(minute, per_minute.size) - 1], fill)
    return result


def rounded(values: FloatArray, step: float) -> FloatArray:
    """Round half up to a multiple of `step`; 0 leaves the values as they are. NaN stays NaN."""
    return values if step <= 0 else np.floor(values / step + 0.5) * step


def printed(values: FloatArray, limit: Limit) -> FloatArray:
    """Whole numbers for a reason; with one decimal, away from the limit, where rounding would hide that it is met."""
    whole = np.rint(values)
    hidden = limit.met(values) & ~limit.met(whole)
    away = np.floor if limit.symbol.startswith("<") else np.ceil
    result: FloatArray = np.where(hidden, away(np.round(values * 10.0, 6)) / 10.0, whole)
    return result


def acceleration_of(height: Limit, duration: Limit) -> Callable[[float, float], bool]:
    """Whether a rise of so many bpm and seconds is an acceleration."""
    return lambda height_bpm, length_s: height.met_by(height_bpm) and duration.met_by(length_s)


def sinusoidal_of(slowest: Limit, fastest: Limit) -> Callable[[Sinusoidal], bool]:
    """Whether a run has the rate of a sinusoidal pattern."""
    return lambda run: slowest.met_by(run.cycles_per_min) and fastest.met_by(run.cycles_per_min)


def _cumulated(per_second: FloatArray | BoolArray) -> FloatArray:
    # Whole numbers add up many times faster than floating-point ones.
    kind = np.int32 if per_second.dtype == bool else np.float64
    result = np.zeros(per_second.size + 1)
    result[1:] = np.cumsum(per_second, dtype=kind)
    return result


def _trailing_baseline(reading: Reading, summed: Summed, at_s: FloatArray, minimum_s: float) -> FloatArray:
    end = at_s.copy()
    for change in reading.level_changes:
        undecided = (at_s > change.onset_s) & (at_s < change.onset_s + BASELINE_CHANGE_S)
        end[undecided] = np.minimum(end[undecided], change.onset_s)
    start = np.maximum(at_s - BASELINE_WINDOW_S, 0.0)
    held = within(summed.identified_s, start, end)
    total = within(summed.baseline_sum, start, end)
    return np.where(held >= minimum_s, total / np.maximum(held, minimum_s), np.nan)


def _held(values: FloatArray, at_s: FloatArray, limit_s: float) -> FloatArray:
    """The last known value for at most `limit_s`, then NaN."""
    index = np.maximum.accumulate(np.where(np.isfinite(values), np.arange(values.size), -1))
    usable = (index >= 0) & (at_s - at_s[index] <= limit_s)
    return np.where(usable, values[index], np.nan)


def _contraction_rates(
    peaks_s: FloatArray, summed: Summed, at_s: FloatArray, floor_s: float, usable_fraction: float
) -> tuple[FloatArray, FloatArray]:
    edges = at_s[:, None] - np.arange(4) * 600.0  # t, t-10, t-20, t-30 min
    counted = np.searchsorted(peaks_s, np.maximum(edges, floor_s), side="left")
    periods = (counted[:, :-1] - counted[:, 1:]).astype(np.float64)
    full = edges[:, 3] >= floor_s - 1e-6
    known = full & (share(summed.toco_s, edges[:, 3], at_s) >= usable_fraction)
    rate = np.where(known, (counted[:, 0] - counted[:, 3]) / 3.0, np.nan)
    return rate, np.where(known[:, None], periods, np.nan)
