"""What became of an action: verdicts on months counted by hand. The verdicts are our definition."""

import pytest

from audit.charts.control import control_chart
from audit.people import agenda, family_questions
from audit.questions import to_do
from audit.questions.action_effects import MOVABLE, effects, marked, said
from audit.questions.trends import document
from audit.settings import load_settings

MONTHS = [f"2031-{k:02d}" for k in range(1, 13)]


def measure(parts):
    points = [
        {"period": period, "value": part / 40, "numerator": part, "denominator": 40, "beyond_scale": False}
        for period, part in zip(MONTHS, parts, strict=False)
    ]
    return {"name": "hours_assessed", "unit": "share", "points": points, "phases": [{"from": "2031-01", "label": ""}]}


def action(**more):
    return {"action_id": 1, "action": "Round every hour", "measure": "hours_assessed", "direction": "rise",
            "from_period": "2031-05", "state": "done"} | more  # fmt: skip


RISEN, SAME = [20, 21, 19, 20, 34, 35, 33, 34], [20, 21, 19, 20, 21, 20, 19, 20]


@pytest.mark.parametrize(
    ("parts", "period", "more", "expected"),
    [
        (RISEN, "2031-12", {}, ("moved as meant", False)),
        (RISEN, "2031-12", {"direction": "fall"}, ("moved the other way", True)),
        (SAME, "2031-12", {}, ("no change shown", True)),
        (SAME, "2031-12", {"state": "open"}, ("no change shown", False)),  # an open one is on the list anyway
        (RISEN, "2031-06", {}, ("too early to say", False)),  # two months after
        (RISEN, "2031-12", {"measure": "no_longer_charted"}, ("too early to say", False)),
    ],
)
def test_an_action_without_effect_comes_back(parts, period, more, expected):
    (row,) = effects([measure(parts)], [action(**more)], period, level=0.95)
    assert (row["verdict"], row["comes_back"]) == expected
    assert said(row, row["verdict"]).endswith(f"should move {row['measure'].replace('_', ' ')}: {expected[0]}")


def test_what_comes_back_is_on_the_list_of_what_waits(db):
    rows = effects([measure(SAME)], [action()], "2031-12", level=0.95)
    (line,) = [row for row in to_do.waiting(db, "2031-12", rows) if row["page"] == "Actions"]
    assert (line["what"], line["state"]) == ("action: Round every hour (back)", "no change shown: hours assessed")


def test_a_family_without_an_answer_waits_and_its_case_is_missed_on_the_agenda(db):
    def waits():
        return [row["state"] for row in to_do.waiting(db, "2031-12") if row["what"] == "questions of families"]

    assert waits() == []
    first, _ = (family_questions.add(db, "2031-12", case, "How long did it take?", who="unit") for case in ("c1", "c2"))
    agenda.add(db, "2031-12", "c1", who="unit")
    assert waits() == ["2 of 2 not answered; not on the agenda: c2"]
    family_questions.change(db, first, answer="Nine minutes.", who="unit")
    assert waits() == ["1 of 2 not answered; not on the agenda: c2"]
    agenda.add(db, "2031-12", "c2", who="unit")
    assert waits() == ["1 of 2 not answered"]


def test_the_chart_has_a_line_where_the_action_was_to_work():
    full = measure(RISEN)
    for point in full["points"]:
        point |= dict.fromkeys(("centre", "low", "high", "signal", "value_low", "value_high")) | {"phase": ""}
    drawn = marked(full, action(), "2031-07")
    assert [point["period"] for point in drawn["points"]] == MONTHS[:7]
    assert "action no. 1" in str(control_chart(drawn).to_dict())


def test_every_measure_that_may_be_named_is_one_of_trends_or_wants_records_of_its_own(unit):
    known = {row["name"] for row in document(unit.con, load_settings())["measures"]}
    of_records = {"hours_assessed", "hours_assessed_by_two", "bedside_milder", "bedside_worse",
                  "oxytocin_reduced_in_concern", "tachysystole_of_oxytocin_hours", "delayed_as_agreed"}  # fmt: skip
    assert set(MOVABLE) - known == of_records
