"""The numbers of a window, on readings that were built by hand."""

from dataclasses import replace

import numpy as np
import pytest

from audit.second_reading.described import hour_of, labour_of, numbers_of
from audit.second_reading.numbers import window_numbers
from audit.second_reading.stretch import Labour
from audit.standards.seen import Seen
from tests.reading_builder import SETTINGS, late_at, reading


def labour(made, second_stage_s: float | None = None) -> Labour:
    return labour_of(made, SETTINGS.of_standards, seen=Seen(made, second_stage_s=second_stage_s))


def test_events_of_the_window_are_counted_and_those_outside_are_not() -> None:
    made = reading(90, decelerations=[late_at(600.0), late_at(2400.0), late_at(3000.0)])
    inside = window_numbers(labour(made), 1800.0, 3600.0)
    assert inside["decelerations_per_10_min"] == pytest.approx(2 / 3)
    assert inside["late_per_10_min"] == pytest.approx(2 / 3)
    assert inside["decelerations_before_per_10_min"] == pytest.approx(1 / 3)
    assert inside["in_deceleration_fraction"] == pytest.approx(140 / 1800)
    assert inside["time_between_nadirs_s"] == pytest.approx(600.0)
    none = window_numbers(labour(made), 3600.0, 5400.0)
    assert none["decelerations_per_10_min"] == 0.0
    assert none["decelerations_before_per_10_min"] == pytest.approx(2 / 3)


def test_names_and_their_order_are_the_same_whatever_was_seen() -> None:
    full = reading(60, decelerations=[late_at(2400.0)])
    lost = reading(60, unseen=[(0.0, 3600.0)])
    one, two = (window_numbers(labour(made), 1800.0, 3600.0) for made in (full, lost))
    assert list(one) == list(two)
    assert len(one) >= 140
    assert one["lost_fraction"] == 0.0
    assert two["lost_fraction"] == 1.0
    assert np.isnan(two["rate_percentile_50_bpm"])


def test_loss_is_told_by_its_gaps() -> None:
    made = reading(60, unseen=[(1800.0, 1815.0), (2000.0, 2100.0)])
    found = window_numbers(labour(made), 1800.0, 3600.0)
    assert found["lost_fraction"] == pytest.approx(115 / 1800)
    assert found["longest_gap_root_s"] ** 2 == pytest.approx(100)
    assert (found["gaps_of_10_s_per_10_min"], found["gaps_of_30_s_per_10_min"]) == pytest.approx((2 / 3, 1 / 3))


@pytest.mark.parametrize(("second_s", "expected"), [(None, 0.0), (3600.0, 0.0), (2700.0, 0.5), (900.0, 1.0)])
def test_the_second_stage_is_the_share_of_the_window_in_it(second_s: float | None, expected: float) -> None:
    found = window_numbers(labour(reading(60), second_s), 1800.0, 3600.0)
    assert found["second_stage_fraction"] == expected


def test_where_the_window_lies_in_the_recording_is_none_of_the_numbers() -> None:
    made = labour(reading(180))
    early, late = window_numbers(made, 3600.0, 5400.0), window_numbers(made, 7200.0, 9000.0)
    assert {name for name in early if early[name] != pytest.approx(late[name], nan_ok=True)} == set()


@pytest.mark.parametrize(("span", "expected"), [((3600.0, 5400.0), (1800.0, 5400.0)), ((600.0, 2400.0), (0.0, 2400.0))])
def test_the_hour_is_the_half_hour_before_and_the_window(
    span: tuple[float, float], expected: tuple[float, float]
) -> None:
    assert hour_of(span) == expected


def test_a_window_at_the_start_has_nothing_before_it_and_is_not_refused() -> None:
    names, window, hour = numbers_of([labour(reading(40))], [(0.0, 1800.0)])
    assert window.shape == hour.shape == (1, len(names))
    np.testing.assert_array_equal(window, hour)
    assert numbers_of([labour(reading(40))], [])[0] == ()


def test_a_hair_on_a_limit_moves_no_number_far() -> None:
    """The same events a little longer and deeper; our choice: what is alike must be described alike."""
    one = reading(90, decelerations=[late_at(3700.0 + k * 300) for k in range(5)])
    events = [replace(d, end_s=d.end_s + 0.5, depth_bpm=d.depth_bpm + 0.5) for d in one.decelerations]
    two = replace(one, decelerations=tuple(events))
    first, second = (window_numbers(labour(made), 3600.0, 5400.0) for made in (one, two))
    for name in first:
        assert second[name] == pytest.approx(first[name], rel=0.05, abs=0.6, nan_ok=True), name


def test_categories_are_those_of_the_minutes() -> None:
    quiet = window_numbers(labour(reading(90)), 3600.0, 5400.0)
    troubled = reading(90, decelerations=[late_at(3600.0 + k * 150) for k in range(11)])
    worse = window_numbers(labour(troubled), 3600.0, 5400.0)
    assert worse["figo-2015_mean"] >= quiet["figo-2015_mean"]
    assert 0.0 <= worse["nichd-2008_mean"] <= 2.0
