"""Waits in parts and the hourly audit in the pack: what is printed, and what is hidden outside the unit."""

from audit.pack.bedside_sections import sections
from audit.pack.options import PackOptions
from audit.pack.outside import NOTHING, Untold, untold_hours
from audit.settings import load_settings

INSIDE = PackOptions.of(load_settings())
OUTSIDE = INSIDE.changed(for_outside=True)
PART = {"until": "escalated", "came": 20, "reached": 18, "passed_over": 0, "resolved": 2, "birth": 0,
        "not_followed": 0, "share": 0.9, "low": 0.7, "high": 0.97, "half_min": 6.0, "minutes": 200.0,
        "share_of_time": 0.25, "time_low": 0.1, "time_high": 0.4, "longest_in": 7, "labours": 5}  # fmt: skip
ALL = {"group": "all", "labours": 30, "without": 2, "hours": 100, "assessed": 80, "second_person": 40,
       "share_assessed": 0.8, "low_assessed": 0.7, "high_assessed": 0.9, "share_second_person": 0.4,
       "longest_gap_min": 190.0, "gap_over_hour": 3}  # fmt: skip
NIGHT = {**ALL, "group": "night", "labours": 4}
BEDSIDE = {"assessments": 90, "hours": [ALL, NIGHT]}


def shown(options, part=PART, bedside=BEDSIDE, untold=NOTHING):
    found = sections({options.standard: [part]}, bedside, options, untold)
    return {section.tables[0].name: section.tables[0].shown() for section in found}


def test_both_are_printed_for_the_meeting():
    found = shown(INSIDE)
    assert found["wait_parts"] == [["senior called", "20", "18", "90", "70", "97", "6.0", "200", "25", "7"]]
    assert [row[0] for row in found["hourly_assessments"]] == ["all", "night"]
    assert found["hourly_assessments"][0][1:5] == ["30", "2", "100", "80"]


def test_outside_no_count_of_a_part_stands_and_no_shift_that_adds_up():
    untold = Untold(hours=frozenset(untold_hours([ALL], 5)))
    found = shown(OUTSIDE, untold=untold)
    assert found["wait_parts"] == [["senior called", "25", "10", "40"]]
    (row,) = found["hourly_assessments"]
    # 2 labours without any and 3 with a gap over an hour are small
    assert row == ["all", "30", "hidden", "100", "80", "70", "90", "40", "hidden", "–"]
    assert "wait_parts" not in shown(OUTSIDE, {**PART, "labours": 4})


def test_what_nobody_recorded_has_no_section():
    assert shown(INSIDE, bedside={"assessments": 0, "hours": []}) == {}
