"""Variability of drawn minutes: what is slower than two cycles a minute is not variability."""

from dataclasses import replace

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing
from audit.tracing.variability import _percentile, minute_variability, without_slow_course

SETTINGS = load_settings().tracing
HOUR = np.arange(3600.0)


def of(fhr_1hz, in_event=None):
    """The variability of each minute of a tracing at 1 Hz about a line at 140 bpm."""
    events = np.zeros(fhr_1hz.size, dtype=bool) if in_event is None else in_event
    return minute_variability(fhr_1hz, np.full(fhr_1hz.size, 140.0), events, SETTINGS)


@pytest.mark.parametrize("per_min", [2, 2.5, 3, 4, 6])
def test_two_cycles_a_minute_and_more_are_variability(per_min):
    # Fluctuations of two cycles a minute or more (NICHD 1997, quoted with the 2008 terms); 10 bpm peak to trough drawn.
    found = of(140 + 5 * np.sin(2 * np.pi * per_min * HOUR / 60 + 0.7))
    assert np.median(found) == pytest.approx(10, abs=1)


@pytest.mark.parametrize("drift_bpm", [3.0, 6.0, 12.0])
def test_a_flat_strip_that_drifts_has_none(drift_bpm):
    found = of(140 + drift_bpm / 2 * np.sin(2 * np.pi * HOUR / 240))
    assert found.max() < 1


def test_a_quadratic_in_what_was_seen_is_taken_out_whole_and_nothing_else():
    rng = np.random.default_rng(3)
    place = np.linspace(0, 1, 60)
    wave = np.sin(2 * np.pi * 5 * place)
    rows = np.stack([wave, wave + 30 * place - 50 * place**2 + 120])
    lost = rng.random(60) < 0.4
    rows[:, lost] = np.nan
    left, moved = without_slow_course(rows)
    np.testing.assert_allclose(moved[~lost], left[~lost], atol=1e-9)
    assert np.isnan(moved[lost]).all()


def test_half_a_minute_must_be_seen_and_events_do_not_count():
    fhr = 140 + 5 * np.sin(2 * np.pi * 4 * HOUR / 60)
    fhr[:31] = np.nan
    events = np.zeros(3600, dtype=bool)
    events[60:91] = True
    events[120:150] = True
    assert np.isnan(of(fhr, events)[:3]).tolist() == [True, True, False]
    assert np.isnan(of(np.full(120, np.nan))).all()
    assert of(np.empty(0)).size == 0


def test_a_strip_that_looks_flat_on_paper_is_absent_though_it_drifts():
    # Absent: 'amplitude range undetectable' (NICHD 2008), no number; under 3 bpm is our choice.
    t = np.arange(3600 * 4) / 4
    rng = np.random.default_rng(1)
    fhr = 140 + 4 * np.sin(2 * np.pi * t / 300) + np.repeat(rng.normal(0, 0.4, 3600), 4)
    tracing = Tracing(np.round(fhr * 4) / 4, np.full(t.size, 10.0))
    assert {epoch.variability for epoch in read_tracing(tracing, SETTINGS).epochs} == {"absent"}
    livelier = replace(tracing, fhr_bpm=tracing.fhr_bpm + 2 * np.sin(2 * np.pi * 3 * t / 60))
    assert {epoch.variability for epoch in read_tracing(livelier, SETTINGS).epochs} <= {"minimal", "moderate"}


@pytest.mark.parametrize("share", [0.0, 0.025, 0.4, 0.975, 0.99, 1.0])
def test_a_percentile_of_what_was_seen_is_that_of_numpy(share):
    rng = np.random.default_rng(5)
    rows = rng.normal(0.0, 5.0, (4, 60))
    for row, lost in zip(rows, (0, 1, 17, 30), strict=True):
        row[rng.choice(60, lost, replace=False)] = np.nan
    seen = np.count_nonzero(~np.isnan(rows), axis=1)
    np.testing.assert_allclose(_percentile(np.sort(rows, axis=1), seen, share), np.nanquantile(rows, share, axis=1))
