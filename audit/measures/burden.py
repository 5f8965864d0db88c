"""How much deceleration a stretch of tracing holds, with how much of the stretch was seen.

Nothing is filled in: area is summed over seconds with accepted signal only, and stands beside the share that was seen
and a figure per seen hour. No published cut-off is used, since none is universal (published AUCs for acidosis spread
from 0.60 to 0.83): a unit compares its own cases.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.setting_types import Fraction, Minutes, Rate, Table
from audit.tracing.types import Deceleration, LevelChange, Reading

FloatArray = NDArray[np.float64]
LAST_MINUTES = (30, 60, 120)
KINDS = ("early", "late", "variable", "prolonged", "unclassified")


class BurdenSettings(Table, frozen=True):
    """The table `[burden]`."""

    birth_after_tracing_min: Minutes
    toco_usable_fraction: Fraction
    bradycardia_below_bpm: Rate


@dataclass(frozen=True)
class BurdenRow:
    """The burden of one span. None = cannot say (nothing seen, toco not usable, or no deceleration)."""

    span: str
    span_minutes: float
    seen_minutes: float
    decelerations: int
    early: int
    late: int
    variable: int
    prolonged: int
    unclassified: int
    area_bpm_s: float | None
    triangle_area_bpm_s: float | None
    area_per_seen_hour_bpm_s: float | None
    minutes_in_deceleration: float
    contractions: int | None
    contractions_with_deceleration: int | None
    deepest_bpm: float | None
    longest_s: float | None
    decelerations_per_20_min: float | None
    signal_loss_fraction: float
    level_change_area_bpm_s: float | None


def burden_rows(
    reading: Reading,
    *,
    birth_s: float | None,
    second_stage_s: float | None,
    settings: BurdenSettings,
) -> list[BurdenRow]:
    """The burden of each span of a tracing.

    Parameters
    ----------
    reading : the reading of the whole tracing.
    birth_s : s from the tracing's first sample, None = unknown.
    second_stage_s : s, start of the second stage, None = unknown (then there are no rows for the stages).
    settings : the `[burden]` table.

    Returns
    -------
    rows : `last_30_min`, `last_60_min`, `last_120_min`, `whole`, and with a known second stage `first_stage` and
        `second_stage` where they have any length. Empty for a tracing without samples.

    Notes
    -----
    Spans end at birth when it is known and falls inside the tracing or at most `birth_after_tracing_min` after it: the
    unrecorded minutes before birth then count as not seen. Otherwise they end with the tracing. They begin with the
    tracing at the earliest: time before monitoring is not signal loss.

    A deceleration is counted where its nadir lies and a contraction where its peak lies, so that the stages add up to
    the whole; area, minutes and length are clipped to the span. Measured area is the integral of baseline minus rate
    over the accepted seconds; the triangle estimate is 0.5 x depth x duration (Cahill 2018, definition from memory;
    1 bpm min = 60 bpm s).

    A fall of 10 minutes or more is a baseline change by definition (NICHD 2008) and so is in none of the deceleration
    columns. So that a final bradycardia does not vanish, the area of falls to a level below `bradycardia_below_bpm` is
    kept beside them, measured from the level before the fall: `level_change_area_bpm_s`.
    """
    end_s = _end(reading, birth_s, settings.birth_after_tracing_min)
    if end_s <= 0:
        return []
    spans = [(f"last_{minutes}_min", max(end_s - minutes * 60.0, 0.0), end_s) for minutes in LAST_MINUTES]
    spans.append(("whole", 0.0, end_s))
    if second_stage_s is not None:
        split_s = min(max(second_stage_s, 0.0), end_s)
        spans += [("first_stage", 0.0, split_s), ("second_stage", split_s, end_s)]
    return [_row(reading, name, start, stop, settings) for name, start, stop in spans if stop > start]


def _end(reading: Reading, birth_s: float | None, after_min: float) -> float:
    if birth_s is None or birth_s <= 0 or birth_s > reading.duration_s + after_min * 60.0:
        return reading.duration_s
    return birth_s


def _row(reading: Reading, name: str, start_s: float, end_s: float, settings: BurdenSettings) -> BurdenRow:
    first, last = round(start_s), round(end_s)
    seen_s = int(np.count_nonzero(np.isfinite(reading.fhr_1hz[first:last])))
    length_s = end_s - start_s
    parts = [(d, *_clipped(d.onset_s, d.end_s, start_s, end_s)) for d in reading.decelerations]
    parts = [part for part in parts if part[2] > part[1]]
    counted = [part for part in parts if start_s <= part[0].nadir_s < end_s]
    area = float(sum(_area(reading, *part) for part in parts))
    triangle = sum(0.5 * d.depth_bpm * (stop - begin) for d, begin, stop in counted)
    contractions, accompanied = _contractions(reading, start_s, end_s, settings.toco_usable_fraction)
    number = {kind: sum(d.kind == kind for d, _, _ in counted) for kind in KINDS}
    anything = seen_s > 0
    return BurdenRow(
        span=name,
        span_minutes=length_s / 60.0,
        seen_minutes=seen_s / 60.0,
        decelerations=len(counted),
        **number,
        area_bpm_s=area if anything else None,
        triangle_area_bpm_s=float(triangle) if anything else None,
        area_per_seen_hour_bpm_s=area / (seen_s / 3600.0) if anything else None,
        minutes_in_deceleration=sum(stop - begin for _, begin, stop in parts) / 60.0,
        contractions=contractions,
        contractions_with_deceleration=accompanied,
        deepest_bpm=max((d.depth_bpm for d, _, _ in counted), default=None),
        longest_s=max((stop - begin for _, begin, stop in parts), default=None),
        decelerations_per_20_min=len(counted) * 20.0 * 60.0 / seen_s if anything else None,
        signal_loss_fraction=min(max(1.0 - seen_s / length_s, 0.0), 1.0),
        level_change_area_bpm_s=_level_area(reading, start_s, end_s, settings.bradycardia_below_bpm)
        if anything
        else None,
    )


def _clipped(onset_s: float, stop_s: float, start_s: float, end_s: float) -> tuple[float, float]:
    return max(onset_s, start_s), min(stop_s, end_s)


def _area(reading: Reading, event: Deceleration, begin_s: float, stop_s: float) -> float:
    """Area of the part of a deceleration between two times, bpm s; the reading's own figure when it is all of it."""
    if begin_s <= event.onset_s and stop_s >= event.end_s:
        return event.area_bpm_s
    part = slice(round(begin_s), round(stop_s))
    line = np.where(np.isfinite(reading.baseline_drawn_1hz[part]), reading.baseline_drawn_1hz[part], event.baseline_bpm)
    return float(np.nansum(line - reading.fhr_1hz[part]))


def _level_area(reading: Reading, start_s: float, end_s: float, below_bpm: float) -> float:
    total = 0.0
    for change in reading.level_changes:
        begin, stop = _clipped(change.onset_s, change.end_s, start_s, end_s)
        if stop > begin and _is_bradycardia(change, below_bpm):
            away = change.from_bpm - reading.fhr_1hz[round(begin) : round(stop)]
            total += float(np.nansum(np.maximum(away, 0.0)))
    return total


def _is_bradycardia(change: LevelChange, below_bpm: float) -> bool:
    return change.to_bpm < change.from_bpm and change.to_bpm < below_bpm


def _contractions(
    reading: Reading, start_s: float, end_s: float, usable_fraction: float
) -> tuple[int | None, int | None]:
    """Contractions of the span and those with a deceleration; None where too little of the toco was usable."""
    usable = reading.toco_usable_1hz[round(start_s) : round(end_s)]
    if usable.sum() < usable_fraction * (end_s - start_s):
        return None, None
    peaks = np.array([c.peak_s for c in reading.contractions if start_s <= c.peak_s < end_s])
    return peaks.size, int(_with_deceleration(peaks, reading.decelerations).sum())


def _with_deceleration(peaks_s: FloatArray, events: tuple[Deceleration, ...]) -> NDArray[np.bool_]:
    """Which contractions go with a deceleration: named by it, or with their peak inside it."""
    named = np.array([np.nan if d.contraction_peak_s is None else d.contraction_peak_s for d in events])
    onset, end = np.array([d.onset_s for d in events]), np.array([d.end_s for d in events])
    inside = (peaks_s[:, None] >= onset) & (peaks_s[:, None] < end)
    result: NDArray[np.bool_] = (inside | (np.abs(peaks_s[:, None] - named) < 1.0)).any(axis=1)
    return result
