"""From decision to birth over several labours, counted by hand.

The published minutes: NICE NG192, 30 and 75 minutes (from memory).
"""

import pytest

from audit.months import NO_MONTH
from audit.questions import birth_times
from audit.store.database import records
from audit.tables.episodes import LABOURS


def decided(unit, case_id, to_birth_min, *, urgency=None, mode="caesarean", incision_min=None, **case):
    birth_s = None if to_birth_min is None else 1000.25 + 60 * to_birth_min
    unit.case(case_id, birth_s=birth_s, mode_of_birth=mode, **case)
    unit.event(case_id, 1000.25, "decision_for_birth", urgency)
    if incision_min is not None:
        unit.event(case_id, 1000.25 + 60 * incision_min, "incision")


def of_labours(unit):
    return birth_times.birth_times(records(unit.con, "response/birth_events", {"period": None, "case_id": None}))


def test_minutes_come_from_the_noted_events(unit):
    unit.case("c1", birth_s=5000.0, mode_of_birth="caesarean", shift="night")
    unit.case("c2", birth_s=5000.0)
    unit.event("c1", 3200.0, "decision_for_birth", 1)
    unit.event("c1", 4700.0, "incision")
    unit.event("c2", 4700.0, "incision")  # nothing was decided on
    (row,) = of_labours(unit)
    assert (row["case_id"], row["shift"], row["urgency"], row["standard_minutes"]) == ("c1", "night", 1, 30.0)
    assert (row["decision_to_birth_minutes"], row["decision_to_incision_minutes"]) == (30.0, 25.0)
    assert row["within_standard"]
    assert birth_times.birth_times([]) == []


def test_shares_are_counted_by_urgency_and_kind_of_birth_with_the_unknown_apart(unit):
    decided(unit, "c1", 30, urgency=1, incision_min=25)
    decided(unit, "c2", 31, urgency=1)
    decided(unit, "c3", None, urgency=1)  # birth not known
    decided(unit, "c4", 75, urgency=2)
    decided(unit, "c5", 76, mode="instrumental_vaginal")
    decided(unit, "c6", 20)
    decided(unit, "c7", 20, mode=None)
    rows = birth_times.shares_within(of_labours(unit))
    found = {(row["urgency"], row["births"]): row for row in rows}
    assert list(found) == [
        ("category 1", "caesarean"), ("category 2", "caesarean"), ("not given", "caesarean"), ("all", "caesarean"),
        ("not given", "other than caesarean"), ("not given", "not given"),
    ]  # fmt: skip
    first = found["category 1", "caesarean"]
    assert (first["labours"], first["known"], first["unknown"]) == (3, 2, 1)
    assert (first["within_30"], first["share_30"], first["within_75"]) == (1, 0.5, 2)
    # Wilson 95 % interval of 1 of 2: 0.0945 to 0.9055 (Newcombe 1998, formula by hand)
    assert (first["low_30"], first["high_30"]) == (pytest.approx(0.0945, abs=5e-4), pytest.approx(0.9055, abs=5e-4))
    assert found["category 2", "caesarean"]["share_75"] == 1.0
    assert found["not given", "other than caesarean"]["share_75"] == 0.0
    # the published minutes are for caesareans: c5 and c7 are not among them
    every = found["all", "caesarean"]
    assert (every["labours"], every["known"], every["within_30"], every["within_75"]) == (5, 4, 2, 4)


def test_one_group_needs_no_total_and_nothing_known_has_no_share(unit):
    decided(unit, "c1", None)
    (row,) = birth_times.shares_within(of_labours(unit))
    assert (row["known"], row["unknown"], row["within_30"]) == (0, 1, 0)
    assert [row[name] for name in ("share_30", "low_30", "high_30", "share_75")] == [None] * 4
    assert birth_times.shares_within([]) == []


def test_labours_are_listed_longest_first_and_unknown_says_so(unit):
    decided(unit, "c1", None)
    decided(unit, "c2", 20, incision_min=14)
    decided(unit, "c3", 40, urgency=2)
    table = LABOURS.filled(birth_times.longest_first(of_labours(unit)))
    rows = [dict(zip(LABOURS.names, cells, strict=True)) for cells in table.shown()]
    assert [row["case_id"] for row in rows] == ["c3", "c2", "c1"]
    assert [row["within_30"] for row in rows] == ["no", "yes", "not known"]
    assert [row["decision_to_incision_minutes"] for row in rows] == ["–", "14.0", "–"]
    assert rows[0]["urgency"] == "category 2"
    assert rows[0]["decision_s"] == "00:16"
    # how a birth ended is told with the outcome only
    assert not any("mode" in name for name in rows[0])


def test_a_month_takes_its_own_labours_and_those_without_one_are_found(unit):
    decided(unit, "c1", 20)
    decided(unit, "c2", 20, period="2031-04")
    decided(unit, "c3", 20, period=None)
    asked = {period: birth_times.births_decided(unit.con, period) for period in ("2031-03", NO_MONTH, None, "2031-05")}
    assert {period: [row["case_id"] for row in rows] for period, rows in asked.items()} == {
        "2031-03": ["c1"], NO_MONTH: ["c3"], None: ["c1", "c2", "c3"], "2031-05": [],
    }  # fmt: skip
