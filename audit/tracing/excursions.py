"""Departures from the baseline: where they begin, reach their extreme and end. Shared by both directions."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from audit.tracing.edges import LONGEST_S, fit_pulses, measure_flanks
from audit.tracing.parameters import TracingSettings
from audit.tracing.peaks import high_peaks
from audit.tracing.runs import IntArray, bridge_gaps, inside_runs, merge_runs, running_total, true_runs
from audit.tracing.scraps import shows_itself
from audit.tracing.types import Acceleration, BoolArray, FloatArray

# Of the method, not of a unit: smoothing, and when noise decides how an edge is found (set on drawn events). The least
# height and length of an event are settings.
# Smoothing for finding events, and for their flanks (standard deviations of a bell, seconds).
FIND_SIGMA_S, FLANK_SIGMA_S = 4.0, 1.5
# The extreme is where the smoothed tracing is this near its top.
NEAR_TOP_BPM = 0.5
# Noise relative to the height below which edges are timed, and above which they are fitted.
TIMED_TO, FITTED_FROM = 0.01, 0.074
# What a found event left of its candidate is a candidate of its own from this share of the least height.
LEFT_OVER_SHARE = 0.8
# Fluctuations above this are noise that a height is averaged over.
QUIET_BPM = 2.0
# Below this there is no noise, and the farthest sample is the extreme.
SILENT_BPM = 0.5
# The largest of several means holds about this much of the noise (measured on drawn events).
NOISE_IN_HEIGHT = 0.6


# A height is a mean over at most this much on either side of a second.
LONGEST_REACH_S = 7


@dataclass(frozen=True)
class Excursions:
    """Departures in one direction; arrays of shape (n_events,), whole seconds and bpm, in time order."""

    onset_s: FloatArray
    extreme_s: FloatArray  # first arrival near the extreme
    leaving_s: FloatArray  # last time near the extreme
    end_s: FloatArray
    height_bpm: FloatArray


@dataclass(frozen=True)
class Course:
    """The distance from the baseline and what finding events needs of it; arrays of shape (n_seconds,), bpm."""

    away_bpm: FloatArray  # FHR minus baseline, NaN = not seen
    wide_bpm: FloatArray  # gaps bridged and smoothed to find events, 0 where nothing is known
    fine_bpm: FloatArray  # gaps bridged and smoothed less to find edges, 0 where nothing is known
    fine_sigma_s: float  # standard deviation of the bell that smoothed it
    noise_bpm: FloatArray  # local size of the fluctuations
    seen: BoolArray

    @cached_property
    def _totals(self) -> tuple[FloatArray, NDArray[np.int32]]:
        """Running totals of the distance and of the seen seconds, drawn out by the longest reach at either end."""
        known = np.where(self.seen, self.away_bpm, 0.0)
        totals = (running_total(known), running_total(self.seen))
        return np.pad(totals[0], LONGEST_REACH_S, mode="edge"), np.pad(totals[1], LONGEST_REACH_S, mode="edge")

    def mean_bpm(self, reach_s: int | IntArray, at: IntArray) -> FloatArray:
        """Mean distance of the seen seconds within the reach (at most `LONGEST_REACH_S`) of the given seconds."""
        low, high = at + LONGEST_REACH_S - reach_s, at + LONGEST_REACH_S + reach_s + 1
        total, count = self._totals
        return np.asarray((total[high] - total[low]) / np.maximum(count[high] - count[low], 1))


def course_of(fhr_1hz: FloatArray, line: FloatArray, noise_bpm: FloatArray, bridge_s: float) -> Course:
    """Prepare a tracing for the search of events.

    `fhr_1hz`, `line`, `noise_bpm`: shape (n_seconds,), bpm; NaN in `fhr_1hz` = not seen. `bridge_s`: gaps up to this
    long are bridged by a straight line to find edges; never for heights and areas.
    """
    away = fhr_1hz - line
    bridged = bridge_gaps(away, int(bridge_s))
    known = ~np.isnan(bridged)
    quiet = bool(np.median(noise_bpm) < QUIET_BPM / 2) if noise_bpm.size else True
    sigma_s = 0.0 if quiet else FLANK_SIGMA_S
    fine = np.where(known, bridged, 0.0) if quiet else smooth_known(bridged, known, sigma_s)
    return Course(away, smooth_known(bridged, known, FIND_SIGMA_S), fine, sigma_s, noise_bpm, ~np.isnan(away))


def find_excursions(
    course: Course,
    farthest_bpm: FloatArray,
    *,
    side: int,
    height_bpm: float,
    duration_s: float,
    edge_bpm: float,
    merge_s: float,
    split_fraction: float,
    seen_fraction: float,
    pulses: bool,
) -> Excursions:
    """Departures of at least `height_bpm` and `duration_s` on one side of the baseline.

    Parameters
    ----------
    course : the prepared tracing.
    farthest_bpm : array, shape (n_seconds,), like `course.away_bpm` but of the farthest sample of each second.
    side : +1 for accelerations, -1 for decelerations.
    edge_bpm : a run further than this from the baseline is one candidate.
    merge_s : candidates closer than this are one event.
    split_fraction : a recovery to less than this share of the lesser height, for `merge_s`, divides an event.
    seen_fraction : an event seen for less than this share must show its fall or its return in one piece.
    pulses : fit whole pulses in noise; without, edges in noise are those of the flanks.

    Notes
    -----
    Heights are rounded half up to 1 bpm before they are compared, because 15 x 15 is a rule for the eye (NICHD 2008).
    """
    away, wide, fine = side * course.away_bpm, side * course.wide_bpm, side * course.fine_bpm
    noise_bpm = course.noise_bpm
    runs = merge_runs(true_runs(wide > edge_bpm), int(merge_s) - 1)
    runs = _divide(runs, wide, height_bpm / 2, split_fraction, merge_s)
    height = _heights(course, side, farthest_bpm, runs)
    runs, height = _high_ones(runs, height, height_bpm)
    bounds = _bounds(runs, wide.size)
    edges = _edges(away, fine, course.fine_sigma_s, bounds, height, noise_bpm, pulses)
    cuts = _left_over(edges, runs, wide, height_bpm, duration_s)
    if cuts.size:
        # A second event hides in what the first left of its candidate. The others stay as they are.
        runs = np.sort(np.concatenate((runs.ravel(), cuts, cuts)), kind="stable").reshape(-1, 2)
        runs, height = _high_ones(runs, _heights(course, side, farthest_bpm, runs), height_bpm)
        before, bounds = {tuple(row): k for k, row in enumerate(bounds.tolist())}, _bounds(runs, wide.size)
        place = np.array([before.get(tuple(row), -1) for row in bounds.tolist()])
        new = np.flatnonzero(place < 0)
        edges = edges[:, place]
        edges[:, new] = _edges(away, fine, course.fine_sigma_s, bounds[new], height[new], noise_bpm, pulses)
    onset, extreme, leaving, end = (np.floor(edge + 0.5) for edge in edges[:4])
    height = edges[4]
    meeting = np.flatnonzero(end[:-1] > onset[1:])
    end[meeting] = onset[meeting + 1] = np.floor((end[meeting] + onset[meeting + 1]) / 2)
    extreme = np.clip(extreme, onset, np.maximum(end - 1, onset))
    keep = (end - onset >= duration_s) & _high(height, height_bpm)
    keep &= shows_itself(away, onset, end, height, seen_fraction)
    return Excursions(onset[keep], extreme[keep], leaving[keep], end[keep], height[keep])


def _high_ones(runs: IntArray, height: FloatArray, least_bpm: float) -> tuple[IntArray, FloatArray]:
    keep = _high(height, least_bpm)
    return runs[keep], height[keep]


def _bounds(runs: IntArray, n_seconds: int) -> IntArray:
    """End of the candidate before, start and end of each one, start of the next; shape (n_events, 4)."""
    edges = np.concatenate(([0], runs.ravel(), [n_seconds]))
    return np.column_stack((edges[:-2:2], runs, edges[3::2]))


def _high(height: FloatArray, least_bpm: float) -> BoolArray:
    """Whether heights, rounded half up to 1 bpm, are as high as asked."""
    return np.asarray(np.floor(height + 0.5) >= least_bpm)


def _heights(course: Course, side: int, farthest_bpm: FloatArray, runs: IntArray) -> FloatArray:
    """Height of each candidate: the largest mean over a stretch that grows with its length and with the noise.

    A single second stands for the extreme of a quiet tracing; in a noisy one it would measure the noise.
    """
    if len(runs) == 0:
        return np.empty(0)
    noise = course.noise_bpm[runs[:, 0]]
    length = runs[:, 1] - runs[:, 0]
    wanted = np.clip(length / 10, 3, 15) * np.minimum(noise / QUIET_BPM, 1.0)
    reaches, longer = (noise < SILENT_BPM, wanted < 2, wanted < 4, wanted < 7, wanted < 12), (-1, 0, 1, 2, 4)
    half = np.select(reaches, longer, LONGEST_REACH_S)
    at, begins = inside_runs(runs)
    half_at = np.repeat(half, length)
    mean = course.mean_bpm(np.maximum(half_at, 0), at)
    distance = side * np.select([half_at < 0, half_at == 0], [farthest_bpm[at], course.away_bpm[at]], mean)
    height = np.full(len(runs), -np.inf)  # what a cut at its very edge left of a candidate is none
    some = length > 0
    if some.any():
        height[some] = np.maximum.reduceat(np.where(course.seen[at], distance, -np.inf), begins[some])
    return height - NOISE_IN_HEIGHT * np.where(noise < SILENT_BPM, 0.0, noise)


def _left_over(
    edges: FloatArray,
    runs: IntArray,
    wide: FloatArray,
    height_bpm: float,
    duration_s: float,
) -> IntArray:
    """Seconds at which to cut candidates that reach far beyond the event found in them, and high enough there."""
    onset = np.clip(edges[0].astype(np.int64), runs[:, 0], runs[:, 1])
    end = np.clip(np.ceil(edges[3]).astype(np.int64), runs[:, 0], runs[:, 1])
    before = np.flatnonzero(onset - runs[:, 0] >= duration_s)
    after = np.flatnonzero(runs[:, 1] - end >= duration_s)
    cuts = [onset[k] for k in before if wide[runs[k, 0] : onset[k]].max() >= LEFT_OVER_SHARE * height_bpm]
    cuts += [end[k] for k in after if wide[end[k] : runs[k, 1]].max() >= LEFT_OVER_SHARE * height_bpm]
    return np.array(cuts, dtype=np.int64)


def _divide(runs: IntArray, wide: FloatArray, least_height: float, split_fraction: float, merge_s: float) -> IntArray:
    """Divide candidates in which the tracing nearly recovered between two extremes."""
    if len(runs) == 0:
        return runs
    tops, prominence = high_peaks(wide, least_height)
    tops = tops[prominence >= (1 - split_fraction) * wide[tops]]
    owner = np.searchsorted(runs[:, 0], tops, side="right") - 1
    cuts = []
    for left, right in zip(tops[:-1][owner[1:] == owner[:-1]], tops[1:][owner[1:] == owner[:-1]], strict=True):
        between = wide[left:right]
        if np.count_nonzero(between < split_fraction * min(wide[left], wide[right])) >= merge_s:
            cuts.append(int(left) + int(between.argmin()))
    if not cuts:
        return runs
    edges = np.concatenate((runs.ravel(), cuts, cuts))
    return np.sort(edges, kind="stable").reshape(-1, 2)


def smooth_known(values: FloatArray, known: BoolArray, sigma_s: float) -> FloatArray:
    """Bell-weighted mean of the known values; 0 where nothing is known."""
    weight = ndimage.gaussian_filter1d(known.astype(float), sigma_s, mode="constant", truncate=3)
    total = ndimage.gaussian_filter1d(np.where(known, values, 0.0), sigma_s, mode="constant", truncate=3)
    return np.where(known, total / np.maximum(weight, 1e-6), 0.0)


def _edges(
    away: FloatArray,
    fine: FloatArray,
    sigma_s: float,
    bounds: IntArray,
    height: FloatArray,
    noise_bpm: FloatArray,
    pulses: bool,
) -> FloatArray:
    """Onset, arrival at the extreme, leaving it, end, height, shape (5, n_events); `bounds` are those of `_bounds`.

    Ends are onsets of the tracing read backwards, which stands behind the tracing so that both are measured at once.
    """
    if len(bounds) == 0:
        return np.empty((5, 0))
    n = fine.size
    low, start, stop, high = bounds.T
    top, first_top, last_top = _extremes(fine, bounds[:, 1:3])
    noise = noise_bpm[start]
    top = np.where(noise < SILENT_BPM, np.maximum(top, height), top)
    flanks = measure_flanks(
        np.concatenate((fine, fine[::-1])),
        sigma_s,
        np.concatenate((start, n - stop)),
        np.concatenate((first_top, n - 1 - last_top)),
        np.concatenate((low, n - high)),
        np.tile(top, 2),
        np.tile(noise, 2),
        np.repeat([0, n], start.size),
    )
    (foot, back_foot), (arrival, back_arrival) = flanks.foot_s.reshape(2, -1), flanks.arrival_s.reshape(2, -1)
    # index k is the middle of its second
    edges = np.stack((foot, arrival, n - 1 - back_arrival, n - 1 - back_foot)) + 0.5
    if pulses:
        relative = noise / top
        trust = np.clip((relative - TIMED_TO) / (FITTED_FROM - TIMED_TO), 0.0, 1.0)
        trust[edges[3] - edges[0] > LONGEST_S] = 0.0
        fit = fit_pulses(away, edges, low, high, top, noise, np.flatnonzero(trust > 0))
        fitted = np.stack((fit.onset_s, fit.extreme_s, fit.leaving_s, fit.end_s))
        sane = (trust > 0) & (fit.onset_s >= low - 5) & (fit.end_s <= high + 5) & (fit.end_s > fit.leaving_s)
        edges = np.where(sane, edges + trust * (np.nan_to_num(fitted) - edges), edges)
        height = np.where(sane, height + trust * (np.nan_to_num(fit.height_bpm) - height), height)
        edges[0], edges[3] = np.maximum(edges[0], low), np.minimum(edges[3], high)
    return np.vstack((edges, height))


def _extremes(fine: FloatArray, runs: IntArray) -> tuple[FloatArray, IntArray, IntArray]:
    """The top of each run, and the first and last second at which it is within `NEAR_TOP_BPM` of it."""
    at, begins = inside_runs(runs)
    values = fine[at]
    top = np.maximum.reduceat(values, begins)
    near = np.flatnonzero(values >= np.repeat(top, runs[:, 1] - runs[:, 0]) - NEAR_TOP_BPM)
    first = np.searchsorted(near, begins)
    last = np.append(first[1:], near.size) - 1
    return top, at[near[first]], at[near[last]]


def find_accelerations(
    course: Course, highest_1hz: FloatArray, line: FloatArray, settings: TracingSettings
) -> tuple[Acceleration, ...]:
    """Every rise of >= 10 bpm for >= 10 s and < 10 min, in time order; the standards choose by gestation.

    `course`: the prepared tracing. `highest_1hz`, `line`: shape (n_seconds,), bpm: the highest sample of each second
    (NaN = not seen) and the baseline.
    """
    found = find_excursions(
        course,
        highest_1hz - line,
        side=1,
        height_bpm=settings.acceleration_height_bpm,
        duration_s=settings.acceleration_duration_s,
        edge_bpm=settings.event_edge_bpm,
        merge_s=0,
        split_fraction=settings.split_recovery_fraction,
        seen_fraction=settings.event_seen_fraction,
        pulses=False,
    )
    return tuple(
        Acceleration(float(onset), float(peak), float(end), float(height))
        for onset, peak, end, height in zip(found.onset_s, found.extreme_s, found.end_s, found.height_bpm, strict=True)
        if end - onset < settings.baseline_change_s
    )
