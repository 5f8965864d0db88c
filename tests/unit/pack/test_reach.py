"""Reports for outside that overlap are refused: their difference would tell a small count.

Differencing: Hundepool et al., Handbook on Statistical Disclosure Control, 2nd ed. 2024, 5.2; of months NIST SP 800-53
rev. 5, SI-19(5). By hand: 7 labours of 12 months less 5 of the twelve a month earlier is a hidden 2.
"""

import itertools

import pytest

from audit import months
from audit.errors import UsageError
from audit.pack.options import PackOptions
from audit.pack.reach import checked
from audit.settings import load_settings

OUTSIDE = PackOptions.of(load_settings()).changed(for_outside=True)


def is_made(period, unit=None, units=(), options=OUTSIDE):
    try:
        checked(period, unit, units, options)
    except UsageError:
        return False
    return True


@pytest.mark.parametrize("begins", [1, 4, 12])
def test_no_two_years_that_are_made_overlap(begins):
    options = OUTSIDE.changed(year_begins=begins)
    every = [months.twelve(f"{year}-{month:02d}") for year in (2030, 2031) for month in range(1, 13)]
    made = [span for span in every if is_made(span, options=options)]
    assert made == [months.twelve("2030", begins=begins), months.twelve("2031", begins=begins)]
    inside = [{k for k in (months.next_period("2030-01", n) for n in range(48)) if months.within(k, s)} for s in made]
    assert all(not first & second for first, second in itertools.combinations(inside, 2))
    assert is_made(every[0], options=options.changed(overlapping=True))


def test_either_each_unit_or_all_together():
    both, together = ("U1", "U2"), OUTSIDE.changed(outside_units="together")
    for period in ("2031-04", "2031-01/2031-12"):
        assert (is_made(period, "U1", both), is_made(period, None, both)) == (True, False)
        assert (is_made(period, "U1", both, together), is_made(period, None, both, together)) == (False, True)
        assert is_made(period, None, ("U1",)), "one unit is all of them"
        assert is_made(period, None, both, OUTSIDE.changed(for_outside=False)), "within the unit nothing is hidden"
    with pytest.raises(UsageError, match="outside_units"):
        checked("2031-04", None, both, OUTSIDE)


def test_a_year_is_compared_once_it_is_over():
    """By hand: cases from 2030-11 to 2031-12."""
    known = [months.next_period("2030-11", k) for k in range(14)]
    assert months.whole_years(known, begins=1) == ["2031-01/2031-12", "2030-01/2030-12"]
    assert months.whole_years(known, begins=4) == ["2030-04/2031-03"]
    assert months.whole_years(known[:1], begins=1) == []
