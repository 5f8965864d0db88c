"""Hourly assessments of one labour, counted by hand.

NICE NG229 (2022, from memory): a documented systematic assessment at least every hour.
"""

import pytest

from audit.response.hourly import HourlyAudit, hourly_audit

MIN = 60.0


def test_hours_are_counted_from_the_start_and_the_last_piece_of_one_is_not_judged():
    times = [10 * MIN, 59 * MIN, 130 * MIN, 200 * MIN]
    found = hourly_audit(times, ["midwife", "second_person", "midwife", "midwife"], start_s=0, end_s=230 * MIN)
    # hours 0-60 (both), 60-120 (none), 120-180 (one); 200 min lies in the piece that is left
    assert found == HourlyAudit(3, 2, 1, 4, 71.0)


def test_two_roles_in_an_hour_are_two_persons_and_two_standards_at_a_time_are_one_assessment():
    found = hourly_audit([60, 60, 120], ["midwife", "midwife", "obstetrician"], start_s=0, end_s=3600)
    assert (found.assessments, found.second_person) == (2, 1)


def test_on_the_hour_counts_for_the_hour_that_begins_and_what_lies_outside_for_none():
    found = hourly_audit([-5, 3600, 9000], ["midwife"] * 3, start_s=0, end_s=7200)
    assert (found.hours, found.assessed, found.longest_gap_minutes) == (2, 1, 60.0)


def test_nobody_assessed_anything_and_nothing_was_monitored():
    assert hourly_audit([], [], start_s=0, end_s=2 * 3600) == HourlyAudit(2, 0, 0, 0, 120.0)
    assert hourly_audit([], [], start_s=100, end_s=100).longest_gap_minutes is None


def test_one_role_for_each_time():
    with pytest.raises(ValueError, match="1 times and 0 roles"):
        hourly_audit([1.0], [], start_s=0, end_s=10)


@pytest.mark.parametrize(("end_s", "hours"), [(3599.0, 0), (3600.0, 1), (7199.9, 1), (7200.0, 2)])
def test_an_hour_is_judged_once_it_is_whole(end_s, hours):
    assert hourly_audit([0.0], ["midwife"], start_s=0.0, end_s=end_s).hours == hours


def test_assessments_at_the_first_and_at_the_last_moment_count_and_others_do_not():
    found = hourly_audit([99.0, 100.0, 7300.0, 7301.0], ["midwife"] * 4, start_s=100.0, end_s=7300.0)
    assert (found.hours, found.assessed, found.assessments, found.longest_gap_minutes) == (2, 1, 2, 120.0)
