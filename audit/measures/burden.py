"""How much deceleration a stretch of tracing holds, with how much of the stretch was seen.

Nothing is filled in: area is summed over seconds with accepted signal only, and stands beside the share that was seen
and a figure per seen hour. No published cut-off is used, since none is universal (published AUCs for acidosis spread
from 0.60 to 0.83): a unit compares its own cases.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from audit.measures.level_falls import former_levels
from audit.setting_types import Fraction, Minutes, Rate, Table
from audit.tracing.types import Deceleration, Reading

FloatArray = NDArray[np.float64]
# names of what is stored; cohorts report the last 30 (Marti Gamboa 2017) and 120 (Cahill 2018, from memory)
LAST_MINUTES = (30, 60, 120)
# A longer loss between two falls that it cuts off belongs to neither: by 10 minutes it would be another baseline (NICHD
# 2008). Edges of events are known to a few seconds only.
LONGEST_CUT_S, EDGE_S = 600, 5
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
    unseen_in_falls_minutes: float  # inside decelerations and level changes: their area is 'at least'
    after_monitoring_minutes: float  # of the span, after both transducers had come off for good
    bedside_loss_fraction: float | None  # of the rest of the span not seen; None = it was not monitored at any time


def burden_rows(
    reading: Reading,
    *,
    birth_s: float | None,
    second_stage_s: float | None,
    settings: BurdenSettings,
) -> list[BurdenRow]:
    """The burden of each span of a tracing.

    `reading`: the reading of the whole tracing. `birth_s`: s from the tracing's first sample, None = unknown.
    `second_stage_s`: s, start of the second stage, None = unknown (then there are no rows for the stages). `settings`:
    the `[burden]` table.
    Gives rows: `last_30_min`, `last_60_min`, `last_120_min`, `whole`, and with a known second stage `first_stage` and
    `second_stage` where they have any length. Empty for a tracing without samples.

    Spans end at birth when it is known and falls inside the tracing or at most `birth_after_tracing_min` after it: the
    unrecorded minutes before birth then count as not seen. Otherwise they end with the tracing. They begin with the
    tracing at the earliest: time before monitoring is not signal loss.

    A deceleration is counted where its nadir lies and a contraction where its peak lies, so that the stages add up to
    the whole; area, minutes and length are clipped to the span. Measured area is the integral of baseline minus rate
    over the accepted seconds; the triangle estimate is 0.5 x depth x duration (Cahill 2018, definition from memory;
    1 bpm·min = 60 bpm·s).

    A fall of 10 minutes or more is a baseline change by definition (NICHD 2008) and so is in none of the deceleration
    columns. So that a final bradycardia does not vanish, the area of falls to a level below `bradycardia_below_bpm` is
    kept beside them, measured from the level before the fall: `level_change_area_bpm_s`. The area per seen hour, by
    which cases are sorted, holds both, each second once.

    What was lost inside a fall is not filled in: `unseen_in_falls_minutes`, by which its area is 'at least'; a loss
    between a fall that it cuts off and one that begins from it belongs to them.
    """
    end_s = _end(reading, birth_s, settings.birth_after_tracing_min)
    spans = [(f"last_{minutes}_min", max(end_s - minutes * 60.0, 0.0), end_s) for minutes in LAST_MINUTES]
    spans.append(("whole", 0.0, end_s))
    if second_stage_s is not None:
        split_s = min(max(second_stage_s, 0.0), end_s)
        spans += [("first_stage", 0.0, split_s), ("second_stage", split_s, end_s)]
    former_bpm = former_levels(reading, settings.bradycardia_below_bpm)
    unseen = _unseen_in_falls(reading, former_bpm)
    return [
        _row(reading, former_bpm, unseen, name, start, stop, settings) for name, start, stop in spans if stop > start
    ]


def _end(reading: Reading, birth_s: float | None, after_min: float) -> float:
    if birth_s is None or birth_s <= 0 or birth_s > reading.duration_s + after_min * 60.0:
        return reading.duration_s
    return birth_s


def _row(
    reading: Reading,
    former_bpm: FloatArray,
    unseen_in_falls: NDArray[np.bool_],
    name: str,
    start_s: float,
    end_s: float,
    settings: BurdenSettings,
) -> BurdenRow:
    first, last = round(start_s), round(end_s)
    seen_s = int(np.count_nonzero(np.isfinite(reading.fhr_1hz[first:last])))
    length_s = end_s - start_s
    parts = [(d, *_clipped(d.onset_s, d.end_s, start_s, end_s)) for d in reading.decelerations]
    parts = [part for part in parts if part[2] > part[1]]
    counted = [part for part in parts if start_s <= part[0].nadir_s < end_s]
    area = float(sum(_area(reading, *part) for part in parts))
    of_level = former_bpm[first:last] - reading.fhr_1hz[first:last]
    long_area = float(np.nansum(np.maximum(of_level, 0.0)))
    all_area = long_area + float(sum(_area_outside(reading, former_bpm, *part) for part in parts))
    monitored_s = min(max(_monitored_until(reading) - start_s, 0.0), length_s)
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
        area_per_seen_hour_bpm_s=all_area / (seen_s / 3600.0) if anything else None,
        minutes_in_deceleration=sum(stop - begin for _, begin, stop in parts) / 60.0,
        contractions=contractions,
        contractions_with_deceleration=accompanied,
        deepest_bpm=max((d.depth_bpm for d, _, _ in counted), default=None),
        longest_s=max((stop - begin for _, begin, stop in parts), default=None),
        decelerations_per_20_min=len(counted) * 20.0 * 60.0 / seen_s if anything else None,
        signal_loss_fraction=min(max(1.0 - seen_s / length_s, 0.0), 1.0),
        level_change_area_bpm_s=long_area if anything else None,
        unseen_in_falls_minutes=np.count_nonzero(unseen_in_falls[first:last]) / 60.0,
        after_monitoring_minutes=(length_s - monitored_s) / 60.0,
        bedside_loss_fraction=min(max(1.0 - seen_s / monitored_s, 0.0), 1.0) if monitored_s > 0 else None,
    )


def _clipped(onset_s: float, stop_s: float, start_s: float, end_s: float) -> tuple[float, float]:
    return max(onset_s, start_s), min(stop_s, end_s)


def _area(reading: Reading, event: Deceleration, begin_s: float, stop_s: float) -> float:
    """Area of the part of a deceleration between two times, bpm·s; the reading's own figure when it is all of it."""
    if begin_s <= event.onset_s and stop_s >= event.end_s:
        return event.area_bpm_s
    part = slice(round(begin_s), round(stop_s))
    line = np.where(np.isfinite(reading.baseline_drawn_1hz[part]), reading.baseline_drawn_1hz[part], event.baseline_bpm)
    return float(np.nansum(line - reading.fhr_1hz[part]))


def _area_outside(
    reading: Reading, former_bpm: FloatArray, event: Deceleration, begin_s: float, stop_s: float
) -> float:
    """Area of the part of a deceleration between two times that lies in no fall of the level, bpm·s."""
    outside = np.isnan(former_bpm[round(begin_s) : round(stop_s)])
    if outside.all():
        return _area(reading, event, begin_s, stop_s)
    line = reading.baseline_drawn_1hz[round(begin_s) : round(stop_s)]
    away = np.where(np.isfinite(line), line, event.baseline_bpm) - reading.fhr_1hz[round(begin_s) : round(stop_s)]
    return float(np.nansum(away[outside]))


def _monitored_until(reading: Reading) -> float:
    return reading.duration_s if np.isnan(reading.monitored_until_s) else reading.monitored_until_s


def _unseen_in_falls(reading: Reading, former_bpm: FloatArray) -> NDArray[np.bool_]:
    """The seconds without accepted signal inside decelerations and falls of the level, shape (n_seconds,)."""
    mask = ~np.isnan(former_bpm)
    events = sorted(reading.decelerations, key=lambda event: event.onset_s)
    for event in events:
        mask[round(event.onset_s) : round(event.end_s)] = True
    unseen = ~np.isfinite(reading.fhr_1hz)
    for before, after in pairwise(events):
        low, high = round(before.end_s), round(after.onset_s)
        cut_off = before.open_end and after.open_end and high - low <= LONGEST_CUT_S
        if cut_off and unseen[min(low + EDGE_S, high) : max(high - EDGE_S, low)].all():
            mask[low:high] = True
    mask &= unseen
    return mask


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
