"""The thinning of lines: extremes and gaps survive whatever the width, checked against plain loops."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.charts.strip.decimate import decimate, double_lone_points

values = st.lists(st.one_of(st.just(float("nan")), st.integers(50, 210).map(float)), min_size=1, max_size=300)


def columns_of(time, start, end, columns):
    return [min(int((t - start) * (columns / (end - start))), columns - 1) for t in time]


@pytest.mark.slow
@settings(max_examples=150)
@given(values, st.integers(1, 80))
def test_each_column_keeps_first_lowest_highest_and_last(raw, columns):
    time = np.arange(len(raw)) / 4.0
    value = np.array(raw)
    end = len(raw) / 4.0
    out_time, out_value = decimate(time, value, start=0.0, end=end, columns=columns)
    kept = {}
    for column, v in zip(columns_of(out_time, 0.0, end, columns), out_value, strict=True):
        if not np.isnan(v):
            kept.setdefault(column, []).append(v)
    expected = {}
    for column, v in zip(columns_of(time, 0.0, end, columns), value, strict=True):
        if not np.isnan(v):
            expected.setdefault(column, []).append(v)
    assert kept.keys() == expected.keys()
    for column, raw_values in expected.items():
        got = kept[column]
        assert (got[0], min(got), max(got), got[-1]) == (
            raw_values[0],
            min(raw_values),
            max(raw_values),
            raw_values[-1],
        )
        assert len(got) <= 4


@pytest.mark.slow
@settings(max_examples=150)
@given(values, st.integers(1, 80))
def test_a_gap_that_crosses_a_column_border_breaks_the_line_and_nothing_else_does(raw, columns):
    time = np.arange(len(raw)) / 4.0
    value = np.array(raw)
    end = len(raw) / 4.0
    out_time, out_value = decimate(time, value, start=0.0, end=end, columns=columns)
    seen = [i for i, v in enumerate(raw) if not np.isnan(v)]
    column = columns_of(time, 0.0, end, columns)
    expected = {(time[a], time[b]) for a, b in pairwise(seen) if b - a > 1 and column[a] != column[b]}
    breaks = np.flatnonzero(np.isnan(out_value))
    assert {(out_time[k - 1], out_time[k + 1]) for k in breaks} == expected
    assert np.all(np.diff(out_time) > 0)


def test_inputs_are_not_modified_and_the_window_is_half_open():
    time = np.arange(8.0)
    value = np.array([1.0, 2, 3, 4, 5, 6, 7, 8])
    before = value.copy()
    out_time, _ = decimate(time, value, start=2.0, end=6.0, columns=100)
    assert out_time.tolist() == [2.0, 3.0, 4.0, 5.0]
    np.testing.assert_array_equal(value, before)


def test_empty_all_missing_and_one_sample():
    none = np.empty(0)
    assert decimate(none, none, start=0, end=1, columns=5)[0].size == 0
    assert decimate(np.arange(3.0), np.full(3, np.nan), start=0, end=3, columns=5)[0].size == 0
    assert decimate(np.zeros(1), np.array([7.0]), start=0, end=1, columns=5)[1].tolist() == [7.0]


@pytest.mark.parametrize(("start", "end", "columns"), [(0, 0, 5), (1, 0, 5), (0, 1, 0)])
def test_an_impossible_window_is_refused(start, end, columns):
    with pytest.raises(ValueError, match="window"):
        decimate(np.zeros(1), np.zeros(1), start=start, end=end, columns=columns)


def test_a_two_second_nadir_survives_a_twelve_hour_overview():
    time = np.arange(12 * 3600 * 4) / 4.0
    value = np.full(time.size, 140.0)
    value[80_000:80_008] = 61.0
    out_time, out_value = decimate(time, value, start=0.0, end=12 * 3600.0, columns=1000)
    assert np.nanmin(out_value) == 61.0
    assert out_time.size <= 4000


def test_a_lone_point_gets_a_twin_so_that_it_is_drawn():
    time = np.array([0.0, 1, 2, 3, 4])
    value = np.array([np.nan, 5, np.nan, 6, 7])
    out_time, out_value = double_lone_points(time, value, step=0.1)
    assert out_time.tolist() == [0.0, 1.0, 1.1, 2.0, 3.0, 4.0]
    np.testing.assert_array_equal(out_value, [np.nan, 5, 5, np.nan, 6, 7])
