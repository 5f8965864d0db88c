"""A measure before and after: counted by hand, and Welch's interval beside statsmodels."""

import numpy as np
import pytest
from statsmodels.stats.proportion import confint_proportions_2indep
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW

from audit.control_charts.before_after import before_after
from audit.measures.proportions import difference_interval, wilson_interval

pytestmark = pytest.mark.slow

MONTHS = [f"{2030 + k // 12}-{k % 12 + 1:02d}" for k in range(24)]


def points(values, numerators=None, denominators=None):
    nothing = [None] * len(values)
    columns = zip(MONTHS, values, numerators or nothing, denominators or nothing, strict=False)
    return [dict(zip(("period", "value", "numerator", "denominator"), row, strict=True)) for row in columns]


def shares(parts, wholes):
    return points([part / whole for part, whole in zip(parts, wholes, strict=True)], parts, wholes)


@pytest.mark.parametrize(("part", "whole"), [(16, 20), (20, 20), (0, 20)])
def test_shares_are_those_of_all_births_together(part, whole):
    """Months of one share differ by no more than chance: Newcombe's own interval (method 10, as statsmodels has it)."""
    found = before_after(shares([10] * 4 + [part] * 3, [20] * 4 + [whole] * 3), MONTHS[4], level=0.95)
    assert (found.before, found.after, found.months_before, found.months_after) == (0.5, part / whole, 4, 3)
    assert found.difference == pytest.approx(part / whole - 0.5)
    theirs = confint_proportions_2indep(3 * part, 3 * whole, 40, 80, method="newcomb", compare="diff")
    assert (found.low, found.high) == pytest.approx(theirs)


def test_months_that_differ_by_more_than_chance_widen_the_interval():
    steady = before_after(shares([9, 10, 11, 15, 16, 17], [20] * 6), MONTHS[3], level=0.95)
    apart = before_after(shares([1, 10, 19, 12, 16, 20], [20] * 6), MONTHS[3], level=0.95)
    assert (steady.before, steady.after) == (apart.before, apart.after)
    assert apart.high - apart.low > steady.high - steady.low
    # steady months are no more alike than chance: Newcombe's own interval, 48/60 less 30/60
    plain = difference_interval(0.8, wilson_interval(48, 60, 0.95), 0.5, wilson_interval(30, 60, 0.95))
    assert (steady.low, steady.high) == pytest.approx(plain)


def test_other_measures_are_means_of_months_with_welchs_interval():
    # beside statsmodels, unequal variances
    before, after = [20.0, 24.0, 22.0, 30.0], [12.0, 15.0, 11.0]
    found = before_after(points(before + after), MONTHS[4], level=0.95)
    theirs = CompareMeans(DescrStatsW(after), DescrStatsW(before)).tconfint_diff(alpha=0.05, usevar="unequal")
    np.testing.assert_allclose((found.low, found.high), theirs, rtol=1e-9)
    assert (found.before, found.after) == (24.0, pytest.approx(38 / 3))


@pytest.mark.parametrize(("before", "after"), [(2, 5), (5, 2), (0, 0)])
def test_two_months_on_a_side_say_nothing(before, after):
    found = before_after(points([1.0 + k for k in range(before + after)]), MONTHS[before], level=0.95)
    assert (found.months_before, found.months_after, found.difference, found.low) == (before, after, None, None)


def test_months_that_are_not_shown_count_for_nothing_and_no_more_than_twelve_before():
    values = [99.0] * 3 + [None] + [10.0, 12.0] * 6 + [20.0, 21.0, 22.0]
    found = before_after(points(values), MONTHS[16], level=0.95)
    assert (found.months_before, found.before, found.months_after) == (12, 11.0, 3)


def test_months_that_are_all_alike_have_no_spread():
    found = before_after(points([5.0] * 3 + [7.0] * 3), MONTHS[3], level=0.95)
    assert (found.difference, found.low, found.high) == (2.0, 2.0, 2.0)
