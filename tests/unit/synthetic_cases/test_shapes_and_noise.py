"""Shapes and noise: the pieces that every drawn strip is made of."""

import numpy as np
import pytest

from synthetic_cases.noise import along, fluctuation, per_minute_width, slow
from synthetic_cases.plan import Course
from synthetic_cases.shapes import departure, edge, visible_share

FAMILIES = ("cosine", "gaussian", "rounded", "sigmoid", "exponential")


@pytest.mark.parametrize("family", FAMILIES)
def test_an_edge_climbs_from_near_0_to_near_1(family):
    height = edge(family, 200)
    assert height.shape == (200,)
    assert (np.diff(height) >= 0).all()
    assert height[0] < 0.03
    assert height[-1] > 0.99


def test_an_edge_of_no_samples_is_empty_and_an_unknown_family_is_refused():
    assert edge("cosine", 0).size == 0
    with pytest.raises(ValueError, match="unknown shape family: square"):
        edge("square", 10)


def test_the_area_of_a_straight_flanked_departure_is_that_of_its_trapezium():
    # Elementary geometry: flanks of 40 and 60 samples and a plateau of 30 enclose (40 + 60) / 2 + 30.
    for family in ("rounded", "cosine", "sigmoid"):
        area = departure(family, family, 40, 30, 60).sum()
        assert area == pytest.approx(80, abs=0.5), family


def test_an_exponential_way_back_is_quick_first_and_slow_later():
    back = departure("cosine", "exponential", 0, 0, 100)
    assert back[0] > 0.95
    assert back[49] < 0.25
    assert (np.diff(back) < 0).all()


def test_a_notch_brings_the_plateau_back_and_down_again():
    flat, notched = (departure("cosine", "cosine", 20, 60, 20, notch) for notch in (0.0, 0.4))
    assert flat[20:80].min() == 1
    assert notched[50] == pytest.approx(0.6, abs=0.01)
    assert notched[20] > 0.99


@pytest.mark.parametrize("family", ["cosine", "gaussian", "rounded", "sigmoid"])
def test_a_deeper_fall_spends_more_of_its_way_between_visible_and_bottom(family):
    assert 0.4 < visible_share(family, 16) < visible_share(family, 60) < 1


def test_the_unit_fluctuation_spans_one_in_a_typical_minute_whatever_the_seed():
    for seed in range(3):
        x = fluctuation(np.random.default_rng(seed), 4 * 3600)
        # The width by an independent route: numpy's own percentiles of the 1-second means.
        minutes = x.reshape(-1, 60, 4).mean(axis=2)
        width = np.subtract(*np.percentile(minutes, [95, 5], axis=1))
        assert np.median(width) == pytest.approx(1, abs=0.02)
        np.testing.assert_allclose(per_minute_width(x), width, rtol=1e-9)


def test_most_of_the_fluctuation_is_slow():
    # Slow oscillation of 2 to 6 cycles a minute makes most of what is seen as variability; common practice, no source.
    x = fluctuation(np.random.default_rng(5), 4 * 3600 * 2)
    power = np.abs(np.fft.rfft(x)) ** 2
    cycles_per_min = np.fft.rfftfreq(x.size, 0.25) * 60
    slow_share = power[(cycles_per_min >= 1) & (cycles_per_min <= 7)].sum() / power.sum()
    assert 0.55 < slow_share < 0.9
    assert power[cycles_per_min < 0.9].sum() / power.sum() < 0.05


def test_slow_wandering_has_about_unit_spread_and_no_jumps():
    x = slow(np.random.default_rng(2), 4 * 3600 * 6, period_s=600)
    assert 0.6 < x.std() < 1.3
    assert np.abs(np.diff(x)).max() < 0.02


def test_a_course_is_linear_between_knots_and_constant_outside():
    course = along(Course((10.0, 20.0), (100.0, 120.0)), 4 * 30)
    assert course[0] == 100
    assert course[4 * 15] == pytest.approx(110)
    assert course[-1] == 120
    assert (along(Course.constant(7.0), 8) == 7).all()
