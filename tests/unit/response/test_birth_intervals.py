"""Decision to incision and to birth."""

import pytest

from audit.response.birth_intervals import birth_interval
from audit.response.types import CareEvent

# Source: NICE NG192 (from memory): category 1 mostly within 30 minutes of the decision, category 2 within 75.


@pytest.mark.parametrize(
    ("seconds", "within_30", "within_75"),
    [(1799, True, True), (1800, True, True), (1801, False, True), (4500, False, True), (4501, False, False)],
)
def test_thirty_minutes_include_the_thirtieth(seconds, within_30, within_75):
    found = birth_interval([CareEvent(100.25, "decision_for_birth")], birth_s=100.25 + seconds)
    assert (found.within_30, found.within_75) == (within_30, within_75)
    assert found.decision_to_birth_minutes == pytest.approx(seconds / 60)
    assert (found.urgency, found.standard_minutes, found.within_standard) == (None, None, None)


@pytest.mark.parametrize(
    ("urgency", "standard", "within"),
    [(1, 30.0, False), (2, 75.0, True), (3, None, None), (None, None, None)],
)
def test_the_category_of_urgency_chooses_the_standard(urgency, standard, within):
    found = birth_interval([CareEvent(0.0, "decision_for_birth", urgency)], birth_s=2400.0)
    assert (found.urgency, found.standard_minutes, found.within_standard) == (urgency, standard, within)


def test_incision_and_birth_are_counted_from_the_last_decision_before_birth():
    events = [
        CareEvent(0.0, "decision_for_birth"),
        CareEvent(1200.0, "decision_for_birth"),
        CareEvent(2100.0, "incision"),
        CareEvent(2400.0, "birth"),
        CareEvent(3000.0, "decision_for_birth"),
    ]
    found = birth_interval(events, birth_s=None)
    assert found.decision_s == 1200
    assert (found.decision_to_incision_minutes, found.decision_to_birth_minutes) == (15, 20)
    assert found.note == "decided 2 times, first 20 min earlier"


def test_what_is_missing_or_out_of_order_gives_no_number():
    assert birth_interval([CareEvent(0.0, "incision")], birth_s=10.0) is None
    backward = birth_interval([CareEvent(600.0, "decision_for_birth"), CareEvent(300.0, "incision")], birth_s=900.0)
    assert backward.decision_to_incision_minutes is None
    assert "before the decision" in backward.note
    after = birth_interval([CareEvent(600.0, "decision_for_birth")], birth_s=300.0)
    assert (after.decision_to_birth_minutes, after.within_30) == (None, None)
    assert "after the birth" in after.note
    at_once = birth_interval([CareEvent(600.0, name) for name in ("decision_for_birth", "incision")], birth_s=600.0)
    minutes = (at_once.decision_to_incision_minutes, at_once.decision_to_birth_minutes, at_once.note)
    assert minutes == (0.0, 0.0, None)
    twice = [CareEvent(at_s, name) for name in ("incision", "birth") for at_s in (900.0, 1200.0)]
    noted = birth_interval([CareEvent(600.0, "decision_for_birth"), *twice], birth_s=None)  # first incision, last birth
    assert (noted.decision_to_incision_minutes, noted.decision_to_birth_minutes) == (5.0, 10.0)
    unknown = birth_interval([CareEvent(600.0, "decision_for_birth")], birth_s=None)
    assert (unknown.decision_to_birth_minutes, unknown.within_75) == (None, None)


def test_extreme_intervals_are_kept():
    # Soweto 2022: mean 411 minutes from decision to birth; extreme values are real.
    assert birth_interval([CareEvent(0.0, "decision_for_birth")], birth_s=60 * 900.0).decision_to_birth_minutes == 900


def test_a_decision_at_the_moment_of_birth_is_one_before_it():
    events = [CareEvent(0.0, "decision_for_birth"), CareEvent(600.0, "decision_for_birth")]
    found = birth_interval(events, birth_s=600.0)
    assert (found.decision_s, found.decision_to_birth_minutes) == (600.0, 0.0)
    assert birth_interval(events, birth_s=599.0).decision_s == 0.0
    at_once = birth_interval([CareEvent(0.0, "decision_for_birth"), CareEvent(0.0, "incision")], birth_s=600.0)
    assert at_once.decision_to_incision_minutes == 0.0
