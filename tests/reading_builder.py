"""Readings built by hand, so that the standards are tested on exactly known events and not on what an engine finds."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from audit.setting_types import changed
from audit.settings import load_settings
from audit.standards.falls import Falls, falls_of
from audit.standards.registry import STANDARDS
from audit.standards.settings import StandardSettings
from audit.standards.types import MinuteCategories, WindowCategory
from audit.tracing.decelerations import Timing, kind_of
from audit.tracing.types import Acceleration, Contraction, Deceleration, LevelChange, Reading, Sinusoidal

SETTINGS = load_settings()
TRACING = SETTINGS.tracing


def table(standard: str, **changes: Any) -> StandardSettings:
    """The packaged settings of a standard, with changes; an unknown name is an error of the test."""
    return changed(SETTINGS.of_standards[standard], **changes)


def contraction(peak_s: float, *, length_s: float = 60.0) -> Contraction:
    """A contraction with its peak in the middle."""
    return Contraction(peak_s - length_s / 2, peak_s, peak_s + length_s / 2, 40.0, 10.0)


def deceleration(
    onset_s: float,
    *,
    drop: float,
    length_s: float,
    nadir_after_s: float,
    return_s: float | None = None,
    lag_s: float | None = None,
    onset_lag_s: float | None = None,
    toco: bool = True,
    inside_bpm: float = 12.0,
    baseline_bpm: float = 140.0,
    kind: str | None = None,
) -> Deceleration:
    """A deceleration; its NICHD kind is the engine's own, from the same evidence, unless one is given."""
    peak_s = None if lag_s is None else onset_s + nadir_after_s - lag_s
    timing = Timing(peak_s, lag_s, onset_lag_s)
    found = kind_of(length_s, nadir_after_s, timing, toco, TRACING)
    return Deceleration(
        onset_s=onset_s,
        nadir_s=onset_s + nadir_after_s,
        end_s=onset_s + length_s,
        depth_bpm=drop,
        area_bpm_s=0.5 * drop * length_s,
        kind=kind or found,  # type: ignore[arg-type]
        contraction_peak_s=peak_s,
        onset_to_nadir_s=nadir_after_s,
        nadir_to_end_s=min(25.0, length_s - nadir_after_s) if return_s is None else return_s,
        lag_s=lag_s,
        onset_lag_s=onset_lag_s,
        toco_usable=toco,
        seen_fraction=1.0,
        lowest_bpm=baseline_bpm - drop,
        baseline_bpm=baseline_bpm,
        variability_inside_bpm=inside_bpm,
        shallow=drop < 15.0,
    )


def late_at(peak_s: float, *, drop: float = 20.0) -> Deceleration:
    """A late deceleration: begins 25 s into a 60 s contraction, nadir 30 s after its peak, ends after it."""
    return deceleration(
        peak_s - 5.0, drop=drop, length_s=70.0, nadir_after_s=35.0, return_s=35.0, lag_s=30.0, onset_lag_s=25.0
    )


def variable_at(peak_s: float, *, drop: float = 30.0, length_s: float = 40.0) -> Deceleration:
    """A variable deceleration with its nadir at the contraction's peak."""
    return deceleration(
        peak_s - 20.0, drop=drop, length_s=length_s, nadir_after_s=20.0, return_s=20.0, lag_s=0.0, onset_lag_s=10.0
    )


def reading(
    minutes: float = 60.0,
    *,
    baseline: float | Sequence[float] = 140.0,
    variability: float | Sequence[float] = 12.0,
    decelerations: Sequence[Deceleration] = (),
    accelerations: Sequence[Acceleration] = (),
    contractions: Sequence[Contraction] = (),
    level_changes: Sequence[LevelChange] = (),
    sinusoidal: Sequence[Sinusoidal] = (),
    toco: bool = True,
    unseen: Sequence[tuple[float, float]] = (),
    not_baseline: Sequence[tuple[float, float]] = (),
) -> Reading:
    """A reading; `baseline` and `variability` may be given per minute, `unseen` and `not_baseline` as spans in s."""
    seconds, whole = round(minutes * 60), int(minutes)
    per_second = np.repeat(np.broadcast_to(np.asarray(baseline, dtype=float), (max(whole, 1),)), 60)
    line = np.concatenate([per_second, np.full(max(seconds - per_second.size, 0), per_second[-1])])[:seconds]
    fhr, event = line.copy(), np.zeros(seconds, dtype=bool)
    for d in decelerations:
        onset, end = int(d.onset_s), min(int(d.end_s), seconds)
        fhr[onset:end] -= _shape(d, end - onset)
        event[onset:end] = True
    for start, end in not_baseline:
        event[int(start) : int(end)] = True
    for start, end in unseen:
        fhr[int(start) : int(end)] = np.nan
    spread = np.broadcast_to(np.asarray(variability, dtype=float), (max(whole, 1),)).copy()[:whole]
    for start, end in unseen:
        spread[int(start // 60) : int(np.ceil(end / 60))] = np.nan
    return Reading(
        duration_s=float(seconds),
        sample_rate_hz=4.0,
        exclusion=np.zeros(seconds * 4, dtype=np.uint8),
        fhr_1hz=fhr,
        baseline_1hz=line,
        baseline_drawn_1hz=line,
        variability_1min=spread,
        in_event_1hz=event,
        toco_usable_1hz=np.full(seconds, toco),
        contractions=tuple(sorted(contractions, key=lambda c: c.peak_s)),
        decelerations=tuple(sorted(decelerations, key=lambda d: d.onset_s)),
        accelerations=tuple(accelerations),
        level_changes=tuple(level_changes),
        sinusoidal=tuple(sinusoidal),
    )


def _shape(d: Deceleration, seconds: int) -> np.ndarray:
    """Depth per second: straight down to the nadir, flat, then back, leaving the nadir at once by more than 5 bpm."""
    length, down, back = int(d.end_s - d.onset_s), int(d.onset_to_nadir_s), int(d.nadir_to_end_s)
    depth = np.full(length, d.depth_bpm)
    depth[:down] = np.linspace(0.0, d.depth_bpm, down, endpoint=False)
    depth[length - back :] = np.linspace(max(d.depth_bpm - 6.0, 0.0), 0.0, back)
    return depth[:seconds]


def falls(*events: Deceleration) -> Falls:
    """The given decelerations, each with the contraction that its evidence implies, as the standards see them."""
    peaks = sorted({d.contraction_peak_s for d in events if d.contraction_peak_s is not None})
    uterus = [contraction(peak) for peak in peaks]
    return falls_of(reading(60.0, decelerations=events, contractions=uterus))


def minutes_of(standard: str, made: Reading, **changes: Any) -> MinuteCategories:
    """The minute categories of a built reading."""
    return STANDARDS[standard].minute_categories(made, table(standard, **changes))


def category_at_end(standard: str, made: Reading, **changes: Any) -> str:
    """The category at the last minute mark of a built reading."""
    return minutes_of(standard, made, **changes).categories[-1]


def reasons_at_end(standard: str, made: Reading, **changes: Any) -> str:
    """The reasons at the last minute mark, joined."""
    return " | ".join(minutes_of(standard, made, **changes).reasons[-1])


def window_of(standard: str, made: Reading, start_s: float, end_s: float, **changes: Any) -> WindowCategory:
    """The category of a window of a built reading."""
    return STANDARDS[standard].window_category(made, start_s, end_s, table(standard, **changes))


def edited(made: Reading, changes: Mapping[str, Any]) -> Reading:
    """A copy of a reading with fields replaced."""
    return replace(made, **changes)
