"""Rows to runs of samples: every stored value is one of the file's, and gaps stay gaps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.intake.checks import sampling

NEW_RUN_AFTER_S = 60.0


def runs(t_s: np.ndarray, seen: np.ndarray | None = None) -> list[sampling.Run]:
    step_s = sampling.step_of(t_s)
    return sampling.runs_of(t_s, np.ones(len(t_s), bool) if seen is None else seen, step_s or 0.25, NEW_RUN_AFTER_S)


def test_a_4_hz_file_is_stored_as_it_is():
    (run,) = runs(np.arange(1000) / 4)
    assert run.start_s == 0.0
    np.testing.assert_array_equal(run.source, np.arange(1000))


@pytest.mark.parametrize("phase_s", [0.0, 0.1, 0.124, 0.125, 0.2, 1234.115])
def test_a_4_hz_file_off_the_quarter_seconds_keeps_each_sample_once(phase_s):
    (run,) = runs(phase_s + np.arange(500) / 4)
    np.testing.assert_array_equal(run.source, np.arange(500))
    assert abs(run.start_s - phase_s) <= 0.125


def test_times_that_are_printed_with_one_decimal_keep_each_sample_once():
    (run,) = runs(np.round(np.arange(500) / 4, 1))
    np.testing.assert_array_equal(run.source, np.arange(500))


@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.0, 2.5, 3.0])
@pytest.mark.parametrize("start_s", [0.0, 0.1, 600.25, 1234.567])
def test_a_slower_file_keeps_its_own_samples_at_its_own_rate(rate_hz, start_s):
    (run,) = runs(start_s + np.arange(50) / rate_hz)
    np.testing.assert_array_equal(run.source, np.arange(50))
    assert (run.start_s, run.rate_hz) == (pytest.approx(start_s, abs=1e-9), rate_hz)


def test_a_row_that_a_slower_file_lacks_is_no_signal():
    (run,) = runs(np.array([0.0, 1.0, 2.0, 7.0, 8.0, 9.0]))
    assert run.source.tolist() == [0, 1, 2, -1, -1, -1, -1, 3, 4, 5]


def test_three_samples_a_second_printed_with_two_decimals():
    (run,) = runs(np.round(np.arange(300) / 3, 2))
    np.testing.assert_array_equal(run.source, np.arange(300))
    assert (run.start_s, run.rate_hz) == (0.0, 3.0)


@pytest.mark.parametrize(
    "t_s",
    [
        np.arange(600) * 1.003,  # a clock that drifts
        np.arange(600) + 0.2 * np.sin(np.arange(600)),  # unsteady times
        np.arange(600) / 0.508,  # no whole number of samples a minute
    ],
)
def test_a_slower_file_without_a_steady_grid_is_held_on_quarter_seconds(t_s):
    (run,) = runs(t_s)
    assert run.rate_hz == 4.0
    assert set(run.source.tolist()) - {-1} == set(range(600))
    held_s = run.start_s + np.flatnonzero(run.source >= 0) / 4 - t_s[run.source[run.source >= 0]]
    assert held_s.min() >= -1e-5
    assert held_s.max() < 2.0


def test_a_slower_file_holds_a_sample_for_one_step_and_no_longer():
    t_s = np.array([0.0, 1.1, 2.0, 7.0, 8.1, 9.0])
    (run,) = runs(t_s)
    assert run.rate_hz == 4.0
    assert (run.source[12:28] == -1).all()
    np.testing.assert_array_equal(np.unique(run.source), [-1, 0, 1, 2, 3, 4, 5])


def test_a_faster_file_gives_each_quarter_second_its_first_valid_sample():
    t_s = np.arange(20) / 8  # 0, .125 | .25, .375 | ...
    seen = np.ones(20, bool)
    seen[2] = False  # the first of the second quarter
    seen[4:6] = False  # the whole third quarter
    (run,) = runs(t_s, seen)
    assert run.source[:4].tolist() == [0, 3, 4, 6]


@pytest.mark.parametrize("rate_hz", [5.0, 8.0, 10.0])
def test_a_faster_file_leaves_no_quarter_second_empty(rate_hz):
    t_s = np.round(np.arange(400) / rate_hz, 3)
    (run,) = runs(t_s)
    assert (run.source >= 0).all()
    assert (np.floor(t_s[run.source] * 4 + 1e-6).astype(int) == np.arange(len(run.source))).all()


def test_a_minute_without_rows_ends_the_run():
    t_s = np.concatenate([np.arange(100) / 4, 85.0 + np.arange(100) / 4])
    first, second = runs(t_s)
    assert (first.start_s, second.start_s) == (0.0, 85.0)
    np.testing.assert_array_equal(second.source, np.arange(100, 200))


def test_a_short_gap_stays_a_gap_within_the_run():
    t_s = np.concatenate([np.arange(100) / 4, 30.0 + np.arange(100) / 4])
    (run,) = runs(t_s)
    assert len(run.source) == 220
    assert (run.source[100:120] == -1).all()


def test_no_rows_and_one_row():
    assert sampling.runs_of(np.empty(0), np.empty(0, bool), 0.25, NEW_RUN_AFTER_S) == []
    assert sampling.step_of(np.array([3.0])) is None
    (run,) = runs(np.array([3.0]))
    assert (run.start_s, run.source.tolist()) == (3.0, [0])


@pytest.mark.slow
@settings(max_examples=150)
@given(
    st.sampled_from([0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0]),
    st.floats(0, 100),
    st.lists(st.booleans(), min_size=20, max_size=200),
    st.integers(0, 2**32 - 1),
)
def test_nothing_is_invented_whatever_the_rate_and_the_gaps(rate_hz, start_s, present, seed):
    """A stored sample's row is at most one step before it or in its own quarter second; rows stay in order."""
    rng = np.random.default_rng(seed)
    t_s = (start_s + np.arange(len(present)) / rate_hz)[np.array(present)]
    if len(t_s) < 2:
        return
    step_s = 1 / rate_hz
    seen = rng.random(len(t_s)) < 0.8
    for run in sampling.runs_of(t_s, seen, step_s, NEW_RUN_AFTER_S):
        taken = run.source >= 0
        grid_s = run.start_s + np.flatnonzero(taken) / run.rate_hz
        away_s = grid_s - t_s[run.source[taken]]
        assert away_s.min() > -0.25 - 1e-5
        assert away_s.max() < max(step_s, 0.125) + 1e-5
        assert (np.diff(run.source[taken]) >= 0).all()
