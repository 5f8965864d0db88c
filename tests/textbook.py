"""Strips drawn by hand from exactly known parts, so that the answer to each can be written down before it is read.

Falls leave the baseline, reach their nadir, stay and come back along straight lines; contractions are bells. The
fluctuations are smoothed noise of a given width with a fixed seed. Nothing here knows a standard.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from audit.analysis.clock import case_clock
from audit.response.types import Episode, Response
from audit.settings import load_settings
from audit.standards.registry import STANDARDS
from audit.standards.types import MinuteCategories
from audit.tracing.read import read_tracing
from audit.tracing.types import Reading, Tracing

RATE_HZ = 4
SETTINGS = load_settings()
STEP_S = 20.0  # in which a baseline or a variability goes from one value to the next
SPREAD_S = 13.0  # of the bell, so that it is at its foot 40 s from the peak


@dataclass(frozen=True)
class Dip:
    """One fall: its nadir is reached `fall_s` after the onset and held for `hold_s`."""

    onset_s: float
    depth_bpm: float
    fall_s: float
    hold_s: float
    rise_s: float
    inside_bpm: float | None = None  # width of the fluctuations inside; None = as outside
    shoulder_bpm: float = 0.0  # a rise of 20 s on either side

    @property
    def end_s(self) -> float:
        return self.onset_s + self.fall_s + self.hold_s + self.rise_s


def gradual(peak_s: float, lag_s: float, *, depth_bpm: float = 35.0, fall_s: float = 45.0, rise_s: float = 45.0) -> Dip:
    """A gradual, symmetrical fall whose nadir lies so long after a contraction's peak."""
    return Dip(peak_s + lag_s - fall_s, depth_bpm, fall_s, 0.0, rise_s)


def late(peak_s: float, *, depth_bpm: float = 35.0) -> Dip:
    """Begins 5 s before the peak (35 s into the contraction), nadir 35 s after it, over 75 s after it."""
    return gradual(peak_s, 35.0, depth_bpm=depth_bpm, fall_s=40.0, rise_s=40.0)


def early(peak_s: float) -> Dip:
    """Mirrors the contraction: 40 s down to its peak, 40 s back to its end."""
    return gradual(peak_s, 0.0, depth_bpm=25.0, fall_s=40.0, rise_s=40.0)


def variable(peak_s: float, *, depth_bpm: float = 45.0, length_s: float = 40.0, **more: float | None) -> Dip:
    """Abrupt: 8 s down, 8 s back, about the contraction's peak."""
    return Dip(peak_s - length_s / 2, depth_bpm, 8.0, length_s - 16.0, 8.0, **more)  # type: ignore[arg-type]


def every(minutes: float, start_min: float, end_min: float) -> list[float]:
    """Times of peaks, s, one every so many minutes."""
    return [60.0 * m for m in np.arange(start_min, end_min, minutes).tolist()]


PEAKS = every(4, 3, 60)  # 3, 7, ... 59 min
LAST_45 = [p for p in PEAKS if p > 14 * 60]


def strip(
    minutes: float,
    *,
    baseline: Sequence[tuple[float, float]] | float = 140.0,
    variability: Sequence[tuple[float, float]] | float = 12.0,
    peaks: Sequence[float] = (),
    dips: Sequence[Dip] = (),
    rises: Sequence[float] = (),
    toco: bool = True,
    lost: Sequence[tuple[float, float]] = (),
    toco_lost: Sequence[tuple[float, float]] = (),
    sine: tuple[float, float, float, float] | None = None,
    seed: int = 1,
) -> Tracing:
    """Draw a strip.

    Parameters
    ----------
    baseline, variability : bpm, or pairs of minute and bpm that hold from that minute on.
    peaks, rises : s, of contractions and of accelerations (25 bpm, 40 s).
    lost, toco_lost : spans in s without signal.
    sine : start and end in s, cycles per minute, width in bpm.
    """
    time = np.arange(round(minutes * 60 * RATE_HZ)) / RATE_HZ
    width = _held(time, variability)
    rate = _held(time, baseline)
    for dip in dips:
        points = np.cumsum([dip.onset_s, dip.fall_s, dip.hold_s, dip.rise_s])
        rate = rate - np.interp(time, points, [0.0, dip.depth_bpm, dip.depth_bpm, 0.0], left=0.0, right=0.0)
        if dip.inside_bpm is not None:
            width = np.where((time >= points[0]) & (time < points[3]), dip.inside_bpm, width)
        for middle in (dip.onset_s - 11.0, dip.end_s + 11.0):
            rate = rate + dip.shoulder_bpm * np.clip(1.5 - np.abs(time - middle) / 7.0, 0.0, 1.0)
    for at in rises:
        rate = rate + np.interp(time, [at, at + 10, at + 30, at + 40], [0, 25, 25, 0], left=0, right=0)
    if sine is not None:
        start, end, per_min, wide = sine
        inside = (time >= start) & (time < end)
        rate = rate + np.where(inside, wide / 2 * np.sin(2 * np.pi * per_min * time / 60), 0.0)
        width = np.where(inside, 0.5, width)
    rate = rate + width * _noise(time.size, seed)
    uterus = 10.0 + sum((50.0 * np.exp(-0.5 * ((time - p) / SPREAD_S) ** 2) for p in peaks), np.zeros(time.size))
    for start, end in lost:
        rate[(time >= start) & (time < end)] = np.nan
    for start, end in toco_lost:
        uterus[(time >= start) & (time < end)] = np.nan
    if not toco:
        uterus[:] = np.nan
    return Tracing(np.round(rate * 4) / 4, uterus)


def _held(time: NDArray[np.float64], value: Sequence[tuple[float, float]] | float) -> NDArray[np.float64]:
    if isinstance(value, int | float):
        return np.full(time.size, float(value))
    starts = np.array([60.0 * minute for minute, _ in value])
    bpm = np.array([b for _, b in value], dtype=float)
    corners = np.concatenate([[0.0], np.column_stack([starts[1:], starts[1:] + STEP_S]).ravel()])
    return np.interp(time, corners, np.repeat(bpm, 2)[:-1])


@lru_cache
def _noise(size: int, seed: int) -> NDArray[np.float64]:
    """Smoothed noise whose 5th and 95th percentile lie 1 apart."""
    raw = gaussian_filter1d(np.random.default_rng(seed).normal(size=size), 1.5 * RATE_HZ)
    low, high = np.percentile(raw, [5, 95])
    return np.asarray(raw / (high - low))


def read(tracing: Tracing) -> Reading:
    """The reading with the packaged settings."""
    return read_tracing(tracing, SETTINGS.tracing)


def judged(tracing: Tracing, *, month: str | None = None) -> dict[str, MinuteCategories]:
    """The minute categories under every standard, for a birth in that month."""
    found = read(tracing)
    tables = SETTINGS.of_standards_for(month)
    return {name: one.minute_categories(found, tables[name]) for name, one in STANDARDS.items()}


def ends(tracing: Tracing, month: str | None = None) -> tuple[list[str], list[str]]:
    """Category and joined reasons at the end, of NICHD, FIGO and NICE."""
    found = judged(tracing, month=month)
    return [found[name].categories[-1] for name in STANDARDS], [
        " | ".join(found[name].reasons[-1]) for name in STANDARDS
    ]


def clock(
    tracing: Tracing,
    *events: tuple[float, str] | tuple[float, str, int | None],
    birth_min: float | None = None,
    mode: str | None = None,
    silent: bool = False,
) -> tuple[dict[tuple[str, str], Response], list[Episode]]:
    """First response of each trigger, and all episodes; times of events in minutes; `silent` = nothing else noted."""
    minutes = judged(tracing)
    end_s = tracing.fhr_bpm.size / 4
    rows = [{"at_s": 60 * at, "event": event, "urgency": more[0] if more else None} for at, event, *more in events]
    found = case_clock(
        minutes,
        start_s=0.0,
        end_s=end_s,
        facts={"birth_s": end_s if birth_min is None else 60 * birth_min, "mode_of_birth": mode},
        events=rows if silent else [{"at_s": -600.0, "event": "epidural", "urgency": None}, *rows],
        reads=[],
        settings=SETTINGS.response,
    )
    first: dict[tuple[str, str], Response] = {}
    for response in sorted(found.responses, key=lambda one: one.recognisable_s):
        first.setdefault((response.standard, response.trigger), response)
    return first, found.episodes
