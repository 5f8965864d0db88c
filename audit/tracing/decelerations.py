"""Falls below the baseline with depth, area and the evidence for their kind."""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from math import exp

import numpy as np
from numpy.typing import NDArray

from audit.tracing.excursions import Course, Excursions, find_excursions
from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import moving_mean, running_total
from audit.tracing.types import BoolArray, Contraction, Deceleration, DecelerationKind, FloatArray

# Of the method, not of a unit: how shape and noise are measured. Depth, length and pairing are settings.
# Variability inside an event is what a mean over 2 * SHAPE_HALF_S + 1 seconds leaves, between two percentiles.
SHAPE_HALF_S, LEAST_INSIDE_S, LOW_SHARE, HIGH_SHARE = 7, 30, 0.05, 0.95
# From so many lost seconds on, depth and area of an event are 'at least': a shorter loss hides no nadir.
AT_LEAST_FROM_S = 3
# What is seen of the nadir then is a mean over 2 * SEEN_HALF_S + 1 seconds.
SEEN_HALF_S = 2
# A shallow fall is listed only when it stands this much out of the noise.
SHALLOW_OVER_NOISE = 3.0


def find_falls(course: Course, lowest_1hz: FloatArray, line: FloatArray, settings: TracingSettings) -> Excursions:
    """Every fall of at least the shallow depth, however long.

    `course`: the prepared tracing. `lowest_1hz`, `line`: shape (n_seconds,), bpm: the lowest sample of each second (NaN
    = not seen) and the baseline.
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
        seen_fraction=settings.event_seen_fraction,
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

    `falls`: from `find_falls`; those of 10 minutes or more are left out, they are changes of the baseline. `course`:
    the prepared tracing. `line`: shape (n_seconds,), the baseline, bpm. `toco_usable_1hz`: shape (n_seconds,).

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
        first = bisect_left(peaks, nadir - settings.contraction_before_nadir_s)
        last = bisect_right(peaks, nadir + settings.contraction_after_nadir_s)
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
    unseen = int(end - onset - (sums.seen[end] - sums.seen[onset]))
    if unseen >= AT_LEAST_FROM_S:
        depth_bpm = _seen_depth(depth_bpm, course, onset, end)
    before = max(0, onset - int(settings.event_toco_before_s))
    usable = bool(sums.toco[end] - sums.toco[before] >= settings.event_toco_fraction * (end - before))
    timing = timing_of(float(onset), float(nadir), float(end), contractions if usable else (), settings)
    judged = judged_fall(float(nadir - onset), float(end - leaving), depth_bpm, float(course.noise_bpm[onset]))
    length_s = float(end - onset)
    error_s = length_error(length_s, float(unseen), depth_bpm, float(course.noise_bpm[onset]), settings)
    kind = kind_of(length_s, judged, timing, usable, settings)
    other = other_kind_of(length_s, error_s, judged, timing, usable, settings)
    # A gap at either edge, or the tracing's own start or end, hides where the event began or ended.
    open_start = sums.seen[onset + 1] == sums.seen[max(onset - 3, 0)]
    open_end = sums.seen[min(end + 3, line.size)] == sums.seen[end]
    return Deceleration(
        onset_s=float(onset),
        nadir_s=float(nadir),
        end_s=float(end),
        depth_bpm=depth_bpm,
        area_bpm_s=float(sums.area[end] - sums.area[onset]),
        kind=kind,
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
        kind_certain=other is None,
        other_kind=other,
        length_error_s=error_s,
        open_end=bool(onset == 0 or open_start or open_end),
        unseen_duration_s=float(unseen),
        at_least=unseen >= AT_LEAST_FROM_S,
    )


def _seen_depth(depth_bpm: float, course: Course, onset: int, end: int) -> float:
    """The depth, but no more than was seen: a shape that is drawn across a loss may be deeper than any sample."""
    seen = onset + np.flatnonzero(course.seen[onset:end])
    if seen.size == 0:
        return depth_bpm
    deepest = float(-course.mean_bpm(SEEN_HALF_S, seen).min())
    return min(depth_bpm, deepest) if deepest > 0 else depth_bpm


def _range_inside(rest: FloatArray) -> float:
    """Peak-to-trough between two percentiles; NaN under `LEAST_INSIDE_S` seen seconds."""
    values = np.sort(rest)
    seen = int(np.searchsorted(values, np.inf, side="right"))
    if seen < LEAST_INSIDE_S:
        return float("nan")
    return float(values[int(HIGH_SHARE * (seen - 1))] - values[int(LOW_SHARE * (seen - 1))])


# A nadir before the peak fits a contraction this much worse than one as long after it.
EARLY_PENALTY = 3.0


# Noise relative to the depth from which, and up to which, return and steepness join in; their exponents at the most,
# the values at which they are neutral, and the share by which a fall comes out short in noise (measured on drawn events
# of three independent generators; our choice).
QUIET_TO, NOISY_FROM, SHORT_SHARE = 0.035, 0.11, 0.14
RETURN_EXPONENT, DEPTH_EXPONENT = 0.4, 0.45
NEUTRAL_RETURN_S, NEUTRAL_DEPTH_BPM = 30.0, 28.0
# The most by which they move the judged time, and the least and greatest return that counts.
MOST_FACTOR, SHORTEST_RETURN_S, LONGEST_RETURN_S = 1.7, 12.0, 60.0


@dataclass(frozen=True)
class Timing:
    """How a deceleration lies to the contraction it goes with; None everywhere when there is none."""

    peak_s: float | None = None
    lag_s: float | None = None
    onset_lag_s: float | None = None


def timing_of(
    onset_s: float, nadir_s: float, end_s: float, contractions: tuple[Contraction, ...], settings: TracingSettings
) -> Timing:
    """The contraction that a deceleration goes with, and the lags of onset and nadir behind it, seconds."""
    near = [
        contraction
        for contraction in contractions
        if -settings.contraction_after_nadir_s <= nadir_s - contraction.peak_s <= settings.contraction_before_nadir_s
        and contraction.end_s + settings.contraction_end_before_onset_s >= onset_s
        and contraction.onset_s < end_s
    ]
    if not near:
        return Timing()

    def misfit(contraction: Contraction) -> float:
        lag = nadir_s - contraction.peak_s
        return lag if lag >= 0 else -EARLY_PENALTY * lag

    best = min(near, key=misfit)
    return Timing(best.peak_s, nadir_s - best.peak_s, onset_s - best.onset_s)


def judged_fall(fall_s: float, return_s: float, depth_bpm: float, noise_bpm: float) -> float:
    """The time from onset to nadir by which a fall counts as abrupt or gradual, seconds.

    Without noise it is the measured time. In noise the measured time errs by several seconds, and the rest of the
    shape is heard too: early and late decelerations fall and return gradually, 'usually symmetrical' (NICHD 2008), and
    a steep fall looks abrupt.
    """
    share = min(max((noise_bpm / depth_bpm - QUIET_TO) / (NOISY_FROM - QUIET_TO), 0.0), 1.0)
    back = min(max(return_s, SHORTEST_RETURN_S), LONGEST_RETURN_S)
    factor = exp(SHORT_SHARE * share) * float((back / NEUTRAL_RETURN_S) ** (RETURN_EXPONENT * share))
    factor *= float((NEUTRAL_DEPTH_BPM / depth_bpm) ** (DEPTH_EXPONENT * share))
    return fall_s * min(max(factor, 1 / MOST_FACTOR), MOST_FACTOR)


def kind_of(
    duration_s: float, onset_to_nadir_s: float, timing: Timing, toco_usable: bool, settings: TracingSettings
) -> DecelerationKind:
    """The NICHD 2008 kind. A gradual one without a usable contraction stays unclassified, never late by default."""
    if duration_s >= settings.prolonged_s:
        return "prolonged"
    if onset_to_nadir_s < settings.gradual_s:
        return "variable"
    if not toco_usable or timing.lag_s is None:
        return "unclassified"
    return "late" if timing.lag_s > settings.timing_tolerance_s else "early"


# Noise relative to the depth from which lengths err by all that `length_uncertain_s` says; no more than a share of the
# length, and in addition a share of what was not seen (measured on drawn events of three generators; our choice).
LENGTH_NOISY_FROM, LENGTH_SHARE, LOST_SHARE = 0.06, 1 / 8, 1 / 3


def length_error(
    length_s: float, unseen_s: float, depth_bpm: float, noise_bpm: float, settings: TracingSettings
) -> float:
    """How much longer or shorter an event could be than it was measured, seconds. None without noise and loss."""
    share = min(noise_bpm / depth_bpm / LENGTH_NOISY_FROM, 1.0)
    return share * min(settings.length_uncertain_s, LENGTH_SHARE * length_s) + LOST_SHARE * unseen_s


def other_kind_of(
    duration_s: float,
    error_s: float,
    onset_to_nadir_s: float,
    timing: Timing,
    toco_usable: bool,
    settings: TracingSettings,
) -> DecelerationKind | None:
    """The kind on the other side of a limit for an event too near it; None when the kind is certain.

    NICHD 2008 divides at 30 s from onset to nadir, and at 2 min from onset to end. On drawn events both times err by
    several seconds, and most wrong kinds lie that near. Where both could be, it is the other side of 30 s.
    """
    kind = kind_of(duration_s, onset_to_nadir_s, timing, toco_usable, settings)
    if settings.fall_uncertain_from_s <= onset_to_nadir_s <= settings.fall_uncertain_to_s:
        across = settings.gradual_s if onset_to_nadir_s < settings.gradual_s else 0.0
        other = kind_of(duration_s, across, timing, toco_usable, settings)
        if other != kind:
            return other
    if abs(duration_s - settings.prolonged_s) <= error_s:
        length_s = 0.0 if duration_s >= settings.prolonged_s else settings.prolonged_s
        return kind_of(length_s, onset_to_nadir_s, timing, toco_usable, settings)
    return None
