"""The meeting's own clock in the people's store: beside the computed one, with the log. Common practice, no source."""

from dataclasses import replace

import pytest

from audit.errors import NotAllowedError, UsageError
from audit.people import agreed, log, undo, verify
from audit.people.agreed import Agreed
from audit.response.agreed import Mark

PLACE = ("2031-03", "C-1", "A", "figo-2015")
CLOCK = Agreed(True, "pathological", 600.0, 1200.0, 1500.0, "position_change", 1800.0, "senior_called", "artefact",
               (Mark("struck_out", "deceleration", 700.0, 760.0, "artefact"),))  # fmt: skip


@pytest.fixture
def db(tmp_path):
    return tmp_path / "unit.duckdb"


def test_round_trip_change_and_taking_back_with_every_version_in_the_log(db):
    agreed.save(db, *PLACE, CLOCK, who="chair")
    agreed.save(db, *PLACE, CLOCK, who="chair")
    later = replace(CLOCK, recognisable_s=1500.0, marks=())
    agreed.save(db, *PLACE, later, who="lead")
    assert agreed.of_case(db, *PLACE) == later
    assert [row["agreed"] for row in agreed.everything(db)] == [later]
    assert [row["deed"] for row in log.entries(db)] == ["added", "changed"]
    undo.undo(db, 2, who="chair")
    assert agreed.of_case(db, *PLACE) == CLOCK
    agreed.remove(db, *PLACE, who="chair")
    assert agreed.of_case(db, *PLACE) is None
    assert verify.problems(db) == []


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"category": "III"}, "category: found 'III'"), ({"reason": "because"}, "reason: found 'because'"),
        ({"first_act_s": None}, "first_act: found only one"), ({"category": None}, "category: found none"),
        ({"recognisable_s": 500.0}, "before the minute"),
        ({"escalation_event": "tea"}, "escalation_event: found 'tea'"),
        ({"marks": (Mark("struck_out", "tea", 1.0, 2.0, "artefact"),)}, "event: found 'tea'"),
        ({"marks": (Mark("added", "contraction", 2.0, 2.0, "artefact"),)}, "its end at 2 s"),
    ],
)  # fmt: skip
def test_what_cannot_be_stored_is_told_and_nothing_is(db, changes, says):
    with pytest.raises(UsageError, match=says):
        agreed.save(db, *PLACE, replace(CLOCK, **changes), who="chair")
    assert agreed.everything(db) == []


def test_of_two_meetings_on_one_clock_the_last_one_counts(db):
    earlier = replace(CLOCK, recognisable_s=1500.0)
    agreed.save(db, "2031-04", *PLACE[1:], CLOCK, who="chair")
    agreed.save(db, *PLACE, earlier, who="chair")
    assert agreed.by_case(db, "figo-2015") == {"C-1": {"A": CLOCK}}
    assert agreed.by_case(db, "nichd-2008") == {}


def test_only_who_holds_the_meeting_agrees(db):
    with pytest.raises(NotAllowedError):
        agreed.save(db, *PLACE, CLOCK, who="reader:R1")
