"""Tracings that break naive methods, each drawn with known truth (the project's list of must-pass cases)."""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.quality import exclusions
from audit.tracing.read import read_tracing
from audit.tracing.types import Exclusion, Tracing

SETTINGS = load_settings().tracing
RATE = 4


def seconds(minutes):
    return np.arange(int(minutes * 60 * RATE)) / RATE


def noise(t, range_bpm, seed=1):
    """Fluctuation with a range of about `range_bpm` in a minute: waves of 2 to 7 cycles a minute."""
    rng = np.random.default_rng(seed)
    waves = sum(
        rng.uniform(0.4, 1) * np.sin(2 * np.pi * (f * t / 60 + rng.uniform()) + 2 * np.sin(t / rng.uniform(40, 90)))
        for f in rng.uniform(2, 7, 8)
    )
    return waves / np.std(waves) * range_bpm / 4


def dips(t, every_s, length_s, depth_bpm, first_s=60.0):
    phase = ((t - first_s) % every_s) / length_s
    return np.where((phase < 1) & (t >= first_s), depth_bpm * (1 - np.cos(2 * np.pi * phase)) / 2, 0.0)


def read(fhr, **more):
    return read_tracing(Tracing(fhr, np.full(fhr.size, np.nan), **more), SETTINGS)


def baseline_error(reading, truth):
    """Mean absolute error against a truth at one value a second, and the share that is indeterminate."""
    truth = np.broadcast_to(truth, reading.baseline_1hz.shape)
    known = ~np.isnan(reading.baseline_1hz)
    return float(np.mean(np.abs(reading.baseline_1hz - truth)[known])), float(np.mean(~known))


@pytest.mark.parametrize("range_bpm", [6, 12, 18])
@pytest.mark.parametrize("share", [0.60, 0.67])
def test_baseline_survives_most_of_the_time_in_decelerations(share, range_bpm):
    t = seconds(90)
    flat = np.where((t - 60) % 150 < 150 * share, 35.0, 0.0) * (t > 60)
    flat = np.convolve(np.pad(flat, 40, mode="edge"), np.full(81, 1 / 81), mode="valid")
    error, lost = baseline_error(read(140 - flat + noise(t, range_bpm)), 140)
    assert error <= 2
    assert lost < 0.2


def test_baseline_follows_a_drift_from_150_to_170_in_an_hour():
    t = seconds(60)
    truth = 150 + 20 * t / 3600
    reading = read(truth + noise(t, 12) - dips(t, 300, 60, 30))
    error, lost = baseline_error(reading, truth[::RATE])
    assert error <= 1.5
    assert lost == 0
    assert reading.level_changes == ()


@pytest.mark.parametrize("step_bpm", [-20, 20])
def test_baseline_follows_a_step_within_a_minute(step_bpm):
    t = seconds(80)
    truth = 140 + step_bpm * (t >= 2400)
    reading = read(truth + noise(t, 10) - dips(t, 240, 60, 35))
    error, _ = baseline_error(reading, truth[::RATE])
    assert error <= 1.5
    (change,) = reading.level_changes
    assert change.onset_s == pytest.approx(2400, abs=60)
    assert change.to_bpm - change.from_bpm == pytest.approx(step_bpm, abs=4)


def test_a_bradycardia_of_the_last_12_minutes_is_a_new_baseline_with_its_onset():
    t = seconds(60)
    fall = np.clip((t - 2880) / 60, 0, 1) * 60
    reading = read(140 - fall + noise(t, 8))
    assert np.nanmedian(reading.baseline_1hz[-300:]) == pytest.approx(80, abs=3)
    (change,) = reading.level_changes
    assert change.onset_s == pytest.approx(2880, abs=15)
    assert (change.from_bpm, change.to_bpm) == (pytest.approx(140, abs=3), pytest.approx(80, abs=3))
    assert change.end_s == 3600


def test_a_fall_of_the_last_8_minutes_is_a_prolonged_deceleration_with_an_open_end():
    t = seconds(60)
    fall = np.clip((t - 3120) / 40, 0, 1) * 60
    reading = read(140 - fall + noise(t, 8))
    (event,) = [event for event in reading.decelerations if event.depth_bpm > 30]
    assert event.kind == "prolonged"
    assert event.open_end
    assert event.onset_s == pytest.approx(3120, abs=10)
    assert reading.level_changes == ()


def test_thirty_per_cent_random_loss_changes_little():
    t = seconds(60)
    fhr = 140 + noise(t, 10) - dips(t, 300, 60, 40)
    whole = read(fhr)
    fhr[np.random.default_rng(3).random(fhr.size) < 0.3] = np.nan
    reading = read(fhr)
    assert baseline_error(reading, 140)[0] <= 1
    assert len(reading.decelerations) == len(whole.decelerations) == 12
    areas = [(a.area_bpm_s, b.area_bpm_s) for a, b in zip(reading.decelerations, whole.decelerations, strict=True)]
    np.testing.assert_allclose(*np.transpose(areas), rtol=0.1)


def test_a_gap_of_five_minutes_is_loss_and_nothing_else():
    t = seconds(60)
    fhr = 140 + noise(t, 10)
    fhr[20 * 60 * RATE : 25 * 60 * RATE] = np.nan
    reading = read(fhr)
    assert np.isnan(reading.fhr_1hz[1200:1500]).all()
    assert np.isnan(reading.variability_1min[20:25]).all()
    assert [event for event in reading.decelerations if not event.shallow] == []
    assert reading.epochs[2].signal_loss_fraction == pytest.approx(0.5)


def test_a_maternal_episode_is_excluded_only_where_the_maternal_channel_shows_it():
    t = seconds(60)
    fhr = 140 + noise(t, 10)
    mhr = 85 + noise(t, 6, seed=2)
    mixed = fhr.copy()
    piece = slice(30 * 60 * RATE, 33 * 60 * RATE)
    mixed[piece] = mhr[piece] + 1
    reading = read(mixed, mhr_bpm=mhr)
    assert np.mean(reading.exclusion[piece] == Exclusion.MATERNAL_RATE) > 0.95
    assert reading.decelerations == ()
    assert np.mean(reading.exclusion == Exclusion.MATERNAL_RATE) < 0.06
    assert len(read(mixed).decelerations) == 1


@pytest.mark.parametrize("per_min", [3.2, 4.0, 4.8])
@pytest.mark.parametrize("amplitude_bpm", [8, 15, 25])
def test_a_sinusoidal_run_is_found_and_keeps_its_baseline(per_min, amplitude_bpm):
    t = seconds(60)
    inside = (t >= 1200) & (t < 2700)
    fhr = 140 + np.where(inside, amplitude_bpm / 2 * np.sin(2 * np.pi * per_min * t / 60), noise(t, 10))
    reading = read(fhr + noise(t, 1.5, seed=4))
    (run,) = reading.sinusoidal
    assert run.start_s == pytest.approx(1200, abs=90)
    assert run.end_s == pytest.approx(2700, abs=90)
    assert run.cycles_per_min == pytest.approx(per_min, abs=0.3)
    assert run.amplitude_bpm == pytest.approx(amplitude_bpm, rel=0.2)
    assert baseline_error(reading, 140)[0] <= 2


def test_a_sinusoidal_run_does_not_begin_before_the_first_signal():
    # What was not seen is no pattern; NICHD 2008 counts a pattern that persists.
    t = seconds(45)
    fhr = 140 + 7.5 * np.sin(2 * np.pi * 4 * t / 60) + noise(t, 1.5, seed=4)
    fhr[: 240 * RATE] = np.nan
    (run,) = read(fhr).sinusoidal
    assert run.start_s >= 120
    assert run.end_s == pytest.approx(2700, abs=90)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("range_bpm", [5, 12, 25])
def test_noise_is_not_sinusoidal(seed, range_bpm):
    t = seconds(60)
    assert read(140 + noise(t, range_bpm, seed=seed)).sinusoidal == ()


def test_six_cycles_a_minute_are_not_sinusoidal():
    # Check value of NICHD 2008: 3 to 5 cycles per minute.
    t = seconds(60)
    assert read(140 + 6 * np.sin(2 * np.pi * 6 * t / 60)).sinusoidal == ()


def test_a_pseudo_sinusoidal_run_with_accelerations_is_not_sinusoidal():
    t = seconds(60)
    wander = 0.6 * np.sin(t / 50) + 0.5 * np.sin(t / 23)
    fhr = 140 + 6 * np.sin(2 * np.pi * 4 * t / 60 + wander) * (0.7 + 0.3 * np.sin(t / 37)) - dips(t, 240, 40, -22)
    reading = read(fhr + noise(t, 3))
    assert len(reading.accelerations) >= 8
    assert reading.sinusoidal == ()


def test_a_saltatory_tracing_is_marked_and_keeps_its_baseline():
    t = seconds(40)
    reading = read(140 + noise(t, 40))
    assert baseline_error(reading, 140)[0] <= 4
    assert [epoch.variability for epoch in reading.epochs].count("marked") >= 3


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda piece: piece / 2, Exclusion.HALVED),
        (lambda piece: np.minimum(piece * 2 * 0.72, 215), Exclusion.DOUBLED),
        (lambda piece: np.full(piece.size, 133.25), Exclusion.STUCK),
        (lambda piece: np.full(piece.size, 30.0), Exclusion.OUT_OF_RANGE),
        (lambda piece: np.full(piece.size, 0.0), Exclusion.NO_SIGNAL),
    ],
)
def test_each_artefact_of_20_s_gets_its_reason_and_no_event(change, code):
    t = seconds(40)
    level = 100.0 if code == Exclusion.DOUBLED else 140.0
    fhr = level + noise(t, 8)
    piece = slice(1000 * RATE, 1020 * RATE)
    fhr[piece] = change(fhr[piece]) if code != Exclusion.DOUBLED else fhr[piece] * 2
    reading = read(fhr)
    assert (reading.exclusion[piece] == code).all()
    assert np.count_nonzero(reading.exclusion) == 20 * RATE
    assert reading.decelerations == ()
    assert reading.accelerations == ()


@pytest.mark.parametrize(
    ("step_bpm", "rate_hz", "shortest_s"),
    [(0.25, 4.0, 15), (0.5, 4.0, 30), (1.0, 4.0, 60), (0.25, 2.0, 30), (0.25, 1.0, 60), (1.0, 0.5, 60)],
)
def test_a_value_that_repeats_says_less_in_coarse_steps_and_few_samples(step_bpm, rate_hz, shortest_s):
    """No source: a flat strip stored in whole bpm stays on one value for as long as a sensor that hangs."""
    for length_s, stuck in ((shortest_s - 2, False), (shortest_s, True)):
        n = int(1200 * rate_hz)
        fhr = np.round((140 + 3 * np.sin(np.arange(n) * 2.1)) / step_bpm) * step_bpm
        piece = slice(int(600 * rate_hz), int((600 + length_s) * rate_hz))
        fhr[piece] = 150.0
        found = exclusions(fhr, None, rate_hz, SETTINGS)
        assert (found[piece] == Exclusion.STUCK).all() == stuck
        assert (found == Exclusion.STUCK).any() == stuck


def test_spikes_and_islands_get_their_reasons():
    t = seconds(40)
    fhr = 140 + noise(t, 8)
    fhr[4000] += 60
    fhr[5000:5010] -= 50
    fhr[6000:6040] = np.nan
    fhr[6008:6016] = 150.0 + np.arange(8)
    reading = read(fhr)
    assert reading.exclusion[4000] == Exclusion.SPIKE
    assert (reading.exclusion[5000:5010] == Exclusion.SPIKE).all()
    assert reading.exclusion[6010] == Exclusion.ACCEPTED  # the gap before it lasts only 2 s
    fhr[5980:6008] = np.nan
    assert (read(fhr).exclusion[6008:6016] == Exclusion.ISLAND).all()


def test_a_steep_true_deceleration_is_never_excluded():
    t = seconds(40)
    fhr = 150 - np.interp(t, [1000, 1003, 1030, 1034], [0, 75, 75, 0]) + noise(t, 8)
    reading = read(fhr)
    assert np.count_nonzero(reading.exclusion) == 0
    (event,) = reading.decelerations
    assert event.kind == "variable"
    assert event.area_bpm_s == pytest.approx(75 * 30.5, rel=0.05)


def test_the_input_is_not_modified():
    t = seconds(30)
    fhr = 140 + noise(t, 12) - dips(t, 240, 60, 40)
    fhr[5000] = 0.0
    kept = fhr.copy()
    read(fhr)
    np.testing.assert_array_equal(fhr, kept)
