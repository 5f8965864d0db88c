"""When something counts: from the second at which a published length is reached, and not a mark earlier or later.

Lengths are those of the workshop of 2008 (NICHD: a deceleration lasts 15 s, a prolonged one 2 minutes and under 10) and
of FIGO 2015; where none is printed, our own choice is said to be that.
"""

import numpy as np
import pytest

from audit.setting_types import Unfit
from audit.standards.basics import basics_at, marks_of
from audit.standards.falls import falls_of
from audit.standards.figo_2015_table import LATE, deceleration_kinds
from audit.standards.nice_ng229_pass import Pass
from audit.standards.nice_ng229_table import EARLY, UNTYPED
from audit.standards.nice_ng229_table import deceleration_kinds as nice_kinds
from audit.standards.seen import Seen
from audit.standards.settings import InForce
from audit.standards.shoulders import shoulder_heights
from tests.reading_builder import contraction, deceleration, edited, minutes_of, reading, table, variable_at


def test_a_prolonged_deceleration_is_none_before_it_is_two_minutes_old() -> None:
    # NICHD 2008: a decrease of 15 bpm or more that lasts 2 minutes or more, under 10
    event = deceleration(1800.0, drop=30.0, length_s=300.0, nadir_after_s=60.0)
    said = minutes_of("nichd-2008", reading(60, decelerations=[event])).reasons
    assert not any("prolonged" in reason for reason in said[30])  # a minute old
    assert "prolonged deceleration of 120 s; limit 120 s" in said[31]
    assert any("of 180 s" in reason for reason in said[32])


def test_a_short_deep_fall_does_not_make_a_prolonged_one_last_longer() -> None:
    events = [
        deceleration(1800.0, drop=50.0, length_s=300.0, nadir_after_s=20.0),
        deceleration(2130.0, drop=50.0, length_s=60.0, nadir_after_s=20.0),  # deep and sudden, 1 minute
    ]
    series = minutes_of("nichd-2008", reading(60, decelerations=events)).triggers["prolonged_deceleration"]
    assert series.finding_until_s is not None
    assert series.finding_until_s[36] == 2100.0  # minute 37, after both


@pytest.mark.parametrize(
    ("lag_s", "known_s"),
    [(30.0, 1840.0), (0.0, 1840.0), (-25.0, 1865.0)],  # nadir after the contraction's peak, with it, before it
)
def test_a_fall_is_told_at_its_nadir_or_at_the_peak_of_its_contraction(lag_s: float, known_s: float) -> None:
    # our choice: what is compared with the contraction's peak cannot be told before either is past
    event = deceleration(1800.0, drop=30.0, length_s=90.0, nadir_after_s=40.0, lag_s=lag_s, onset_lag_s=10.0)
    made = reading(60, decelerations=[event])
    assert Pass(Seen(made), marks_of(made), 0.0, table("nice-ng229")).known_s.tolist() == [known_s]


def test_no_fall_is_told_before_it_has_lasted_fifteen_seconds() -> None:
    event = deceleration(1800.0, drop=30.0, length_s=40.0, nadir_after_s=8.0)
    made = reading(60, decelerations=[event])
    assert Pass(Seen(made), marks_of(made), 0.0, table("nice-ng229")).known_s.tolist() == [1815.0]


def test_seconds_inside_decelerations_neither_raise_nor_lower_the_baseline() -> None:
    # NICHD 2008: the baseline excludes periodic changes
    made = reading(30, baseline=140.0, not_baseline=[(900.0, 1200.0), (1300.0, 1420.0)])
    assert basics_at(made, np.array([1200.0, 1500.0, 1800.0])).baseline_bpm.tolist() == [140.0, 140.0, 140.0]


def test_the_height_of_a_shoulder_is_its_mean_of_ten_seconds() -> None:
    made = reading(30, decelerations=[variable_at(at) for at in (45.0, 920.0, 1776.0)])
    rate = made.fhr_1hz.copy()
    rate[0:10] += 12.0  # the first begins 25 s after the tracing
    rate[880:890] += 12.0
    rate[950:955] += 12.0  # five seconds: half of the ten
    rate[970:990] += 90.0  # from 30 s after the fall on
    made = edited(made, {"fhr_1hz": rate})
    # the last ends four seconds before the tracing
    np.testing.assert_array_equal(shoulder_heights(made, falls_of(made)), [[12.0, 0.0], [12.0, 6.0], [0.0, np.nan]])


def test_the_months_of_an_edition_in_words() -> None:
    assert InForce("2022-12", "").words == "text for births from 2022-12 on"
    assert InForce("2022-12", "2031-03").words == "text for births from 2022-12 to 2031-03"
    with pytest.raises(Unfit):
        InForce("2031-04", "2031-03")
    assert InForce("2031-03", "2031-03")  # one month


@pytest.mark.parametrize(("onset_s", "kind"), [(1799.0, EARLY), (1800.0, UNTYPED), (1801.0, UNTYPED)])
def test_an_early_deceleration_begins_before_the_peak_of_its_contraction(onset_s: float, kind: int) -> None:
    # NG229, from memory: early ones begin before the peak and are over with the contraction, here a minute after it
    event = deceleration(
        onset_s, drop=30.0, length_s=55.0, nadir_after_s=35.0, lag_s=onset_s + 35.0 - 1800.0, onset_lag_s=60.0
    )
    falls = falls_of(reading(60, decelerations=[event], contractions=[contraction(1800.0, length_s=120.0)]))
    assert nice_kinds(falls, np.array([12.0]), np.array([0.0]), table("nice-ng229")).tolist() == [kind]


@pytest.mark.parametrize(("onset_lag_s", "late"), [(19.0, False), (21.0, True)])
def test_a_late_deceleration_begins_more_than_twenty_seconds_after_its_contraction(
    onset_lag_s: float, late: bool
) -> None:
    # FIGO 2015: late ones start more than 20 s after the onset of a contraction
    event = deceleration(
        1800.0, drop=30.0, length_s=80.0, nadir_after_s=40.0, return_s=40.0, lag_s=30.0, onset_lag_s=onset_lag_s
    )
    falls = falls_of(reading(60, decelerations=[event], contractions=[contraction(1810.0)]))
    kinds = deceleration_kinds(falls, np.array([12.0]), np.array([0.0]), table("figo-2015"))
    assert (kinds.tolist() == [LATE]) is late
