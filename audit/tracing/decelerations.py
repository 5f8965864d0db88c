"""Falls below the baseline with depth, area and the evidence for their kind."""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.tracing.excursions import Course, Excursions, find_excursions
from audit.tracing.kinds import PEAK_EARLIER_S, PEAK_LATER_S, judged_fall, kind_of, timing_of
from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import moving_mean, running_total
from audit.tracing.types import BoolArray, Contraction, Deceleration, FloatArray

# The toco counts as usable for an event when this share of it, and of the half minute before, is.
TOCO_SHARE, TOCO_BEFORE_S = 0.8, 30
# Variability inside an event is what a mean over 2 * SHAPE_HALF_S + 1 seconds leaves, between two percentiles.
SHAPE_HALF_S, LEAST_INSIDE_S, LOW_SHARE, HIGH_SHARE = 7, 30, 0.05, 0.95
# A shallow fall is listed only when it stands this much out of the noise.
SHALLOW_OVER_NOISE = 3.0


def find_falls(course: Course, lowest_1hz: FloatArray, line: FloatArray, settings: TracingSettings) -> Excursions:
    """Every fall of at least the shallow depth, however long.

    Parameters
    ----------
    course : the prepared tracing.
    lowest_1hz, line : arrays, shape (n_seconds,), bpm: the lowest sample of each second (NaN = not seen) and the
        baseline. Not modified.
    """
    return find_excursions(
        course,
        lowest_1hz - line,
        side=-1,
        height_bpm=settings.shallow_depth_bpm,
        duration_s=settings.deceleration_duration_s,
        edge_bpm=settings.event_edge_bpm,
        merge_s=settings.merge_recovery_s,
        split_fraction=settings.split_recovery_fraction,
        pulses=True,
    )


def describe_falls(
    falls: Excursions,
    course: Course,
    line: FloatArray,
    contractions: tuple[Contraction, ...],
    toco_usable_1hz: BoolArray,
    settings: TracingSettings,
) -> tuple[Deceleration, ...]:
    """Decelerations of a tracing in time order, kinds as in NICHD 2008.

    Parameters
    ----------
    falls : from `find_falls`; those of 10 minutes or more are left out, they are changes of the baseline.
    course : the prepared tracing.
    line : array, shape (n_seconds,), the baseline, bpm. Not modified.
    toco_usable_1hz : array, shape (n_seconds,).

    Notes
    -----
    Depth >= 15 bpm and >= 15 s; gradual ones of 10 to 14 bpm that go with a contraction are listed as shallow, because
    the definitions of early and late name no least depth. Area counts accepted seconds only.
    """
    if falls.onset_s.size == 0:
        return ()
    sums = _sums(course, toco_usable_1hz)
    peaks = [contraction.peak_s for contraction in contractions]
    built = []
    for number in range(falls.onset_s.size):
        onset, nadir, end = int(falls.onset_s[number]), int(falls.extreme_s[number]), int(falls.end_s[number])
        if end - onset >= settings.baseline_change_s:
            continue
        first, last = bisect_left(peaks, nadir - PEAK_EARLIER_S), bisect_right(peaks, nadir + PEAK_LATER_S)
        event = _build(
            (onset, nadir, int(falls.leaving_s[number]), end),
            float(falls.height_bpm[number]),
            course,
            line,
            sums,
            contractions[first:last],
            settings,
        )
        if not event.shallow or _worth_listing(event, course.noise_bpm):
            built.append(event)
    return tuple(built)


def _worth_listing(event: Deceleration, noise_bpm: FloatArray) -> bool:
    noise = float(noise_bpm[int(event.nadir_s)])
    return event.kind in ("early", "late") and event.depth_bpm >= SHALLOW_OVER_NOISE * noise


@dataclass(frozen=True)
class _Sums:
    """Running totals, shape (n_seconds + 1,), and what is left of the course without its shape, shape (n_seconds,)."""

    area: FloatArray
    seen: NDArray[np.int32]
    toco: NDArray[np.int32]
    rest: FloatArray


def _sums(course: Course, toco_usable_1hz: BoolArray) -> _Sums:
    seen = ~np.isnan(course.away_bpm)
    shape, _ = moving_mean(course.away_bpm, seen, SHAPE_HALF_S)
    return _Sums(
        area=running_total(np.where(seen, -course.away_bpm, 0.0)),
        seen=running_total(seen),
        toco=running_total(toco_usable_1hz),
        rest=course.away_bpm - shape,
    )


def _build(
    edges_s: tuple[int, int, int, int],
    depth_bpm: float,
    course: Course,
    line: FloatArray,
    sums: _Sums,
    contractions: tuple[Contraction, ...],
    settings: TracingSettings,
) -> Deceleration:
    onset, nadir, leaving, end = edges_s
    before = max(0, onset - TOCO_BEFORE_S)
    usable = bool(sums.toco[end] - sums.toco[before] >= TOCO_SHARE * (end - before))
    timing = timing_of(float(onset), float(nadir), float(end), contractions if usable else (), settings)
    judged = judged_fall(float(nadir - onset), float(end - leaving), depth_bpm, float(course.noise_bpm[onset]))
    # A gap at either edge, or the tracing's own start or end, hides where the event began or ended.
    open_start = sums.seen[onset + 1] == sums.seen[max(onset - 3, 0)]
    open_end = end >= line.size or sums.seen[min(end + 3, line.size)] == sums.seen[end]
    return Deceleration(
        onset_s=float(onset),
        nadir_s=float(nadir),
        end_s=float(end),
        depth_bpm=depth_bpm,
        area_bpm_s=float(sums.area[end] - sums.area[onset]),
        kind=kind_of(float(end - onset), judged, timing, usable, settings),
        contraction_peak_s=timing.peak_s,
        onset_to_nadir_s=float(nadir - onset),
        nadir_to_end_s=float(end - nadir),
        lag_s=timing.lag_s,
        onset_lag_s=timing.onset_lag_s,
        toco_usable=usable,
        seen_fraction=float(sums.seen[end] - sums.seen[onset]) / (end - onset),
        lowest_bpm=float(line[nadir]) - depth_bpm,
        baseline_bpm=float(line[onset]),
        variability_inside_bpm=_range_inside(sums.rest[onset:end]),
        shallow=bool(np.floor(depth_bpm + 0.5) < settings.deceleration_depth_bpm),
        judged_fall_s=judged,
        open_end=bool(onset == 0 or open_start or open_end),
    )


def _range_inside(rest: FloatArray) -> float:
    """Peak-to-trough between two percentiles; NaN under `LEAST_INSIDE_S` seen seconds."""
    values = np.sort(rest)
    seen = int(np.searchsorted(values, np.inf, side="right"))
    if seen < LEAST_INSIDE_S:
        return float("nan")
    return float(values[int(HIGH_SHARE * (seen - 1))] - values[int(LOW_SHARE * (seen - 1))])
