"""Falls below the baseline with depth, area and the evidence for their kind."""

import numpy as np

from audit.tracing.excursions import Excursions, find_excursions
from audit.tracing.kinds import judged_fall, kind_of, timing_of
from audit.tracing.parameters import TracingSettings
from audit.tracing.types import BoolArray, Contraction, Deceleration, FloatArray


def find_falls(
    fhr_1hz: FloatArray,
    lowest_1hz: FloatArray,
    line: FloatArray,
    noise_bpm: FloatArray,
    settings: TracingSettings,
) -> Excursions:
    """Every fall of at least the shallow depth, however long.

    Parameters
    ----------
    fhr_1hz, lowest_1hz, line, noise_bpm : arrays, shape (n_seconds,), bpm; NaN in the first two = not seen. The second
        holds the lowest sample of each second. Not modified.
    """
    return find_excursions(
        fhr_1hz,
        lowest_1hz,
        line,
        noise_bpm,
        side=-1,
        height_bpm=settings.shallow_depth_bpm,
        duration_s=settings.deceleration_duration_s,
        edge_bpm=settings.event_edge_bpm,
        merge_s=settings.merge_recovery_s,
        split_fraction=settings.split_recovery_fraction,
        bridge_s=settings.bridge_gap_s,
        pulses=True,
    )


def describe_falls(
    falls: Excursions,
    fhr_1hz: FloatArray,
    line: FloatArray,
    noise_bpm: FloatArray,
    contractions: tuple[Contraction, ...],
    toco_usable_1hz: BoolArray,
    settings: TracingSettings,
) -> tuple[Deceleration, ...]:
    """Decelerations of a tracing in time order, kinds as in NICHD 2008.

    Parameters
    ----------
    falls : from `find_falls`; those of 10 minutes or more are left out, they are changes of the baseline.
    fhr_1hz, line, noise_bpm : arrays, shape (n_seconds,), bpm; NaN in `fhr_1hz` = not seen. Not modified.
    toco_usable_1hz : array, shape (n_seconds,).

    Notes
    -----
    Depth >= 15 bpm and >= 15 s; gradual ones of 10 to 14 bpm that go with a contraction are listed as shallow, because
    the definitions of early and late name no least depth. Area counts accepted seconds only.
    """
    built = (
        _build(number, falls, fhr_1hz, line, noise_bpm, contractions, toco_usable_1hz, settings)
        for number in range(falls.onset_s.size)
    )
    return tuple(
        event
        for event in built
        if event.end_s - event.onset_s < settings.baseline_change_s
        and (not event.shallow or _worth_listing(event, noise_bpm, settings))
    )


def _worth_listing(event: Deceleration, noise_bpm: FloatArray, settings: TracingSettings) -> bool:
    noise = float(noise_bpm[int(event.nadir_s)])
    return event.kind in ("early", "late") and event.depth_bpm >= 3 * noise


def _build(
    number: int,
    found: Excursions,
    fhr_1hz: FloatArray,
    line: FloatArray,
    noise_bpm: FloatArray,
    contractions: tuple[Contraction, ...],
    toco_usable_1hz: BoolArray,
    settings: TracingSettings,
) -> Deceleration:
    onset, nadir, end = (int(x[number]) for x in (found.onset_s, found.extreme_s, found.end_s))
    away = found.away_bpm[onset:end]
    seen = ~np.isnan(away)
    depth = float(found.height_bpm[number])
    usable = bool(np.mean(toco_usable_1hz[max(0, onset - 30) : end]) >= 0.8)
    timing = timing_of(float(onset), float(nadir), float(end), contractions if usable else (), settings)
    judged = judged_fall(float(nadir - onset), float(end - found.leaving_s[number]), depth, float(noise_bpm[onset]))
    kind = kind_of(float(end - onset), judged, timing, usable, settings)
    edges_seen = end < fhr_1hz.size and not np.isnan(fhr_1hz[max(onset - 3, 0) : onset + 1]).all()
    return Deceleration(
        onset_s=float(onset),
        nadir_s=float(nadir),
        end_s=float(end),
        depth_bpm=depth,
        area_bpm_s=float(np.sum(away[seen])),
        kind=kind,
        contraction_peak_s=timing.peak_s,
        onset_to_nadir_s=float(nadir - onset),
        nadir_to_end_s=float(end - nadir),
        lag_s=timing.lag_s,
        onset_lag_s=timing.onset_lag_s,
        toco_usable=usable,
        seen_fraction=float(np.mean(seen)),
        lowest_bpm=float(line[nadir] - depth),
        baseline_bpm=float(line[onset]),
        variability_inside_bpm=_variability_inside(away),
        shallow=bool(np.floor(depth + 0.5) < settings.deceleration_depth_bpm),
        judged_fall_s=judged,
        open_end=bool(onset == 0 or not edges_seen or np.isnan(fhr_1hz[end : end + 3]).all()),
    )


def _variability_inside(away: FloatArray) -> float:
    """Peak-to-trough of what a 15 s mean leaves, by its 5th and 95th percentile; NaN under 30 seen seconds."""
    if np.count_nonzero(~np.isnan(away)) < 30:
        return float("nan")
    values = away[~np.isnan(away)]
    total = np.concatenate(([0.0], np.cumsum(values)))
    low = np.maximum(np.arange(values.size) - 7, 0)
    high = np.minimum(np.arange(values.size) + 8, values.size)
    rest = np.sort(values - (total[high] - total[low]) / (high - low))
    return float(rest[int(0.95 * (rest.size - 1))] - rest[int(0.05 * (rest.size - 1))])
