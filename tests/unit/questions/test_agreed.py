"""The meeting's clocks beside the computed ones, counted by hand. Wilson: Newcombe, Stat Med 1998;17:857-72."""

import pytest

from audit.analysis.agreed_run import AddedFall
from audit.measures.proportions import wilson_interval
from audit.people import agenda
from audit.people import agreed as people
from audit.people.agreed import Agreed
from audit.questions import agreed, delays
from audit.settings import load_settings

SETTINGS = load_settings()


def test_beside_the_computed_one_with_how_often_and_which_way(unit, db):
    for case_id, status in (("c1", "late"), ("c2", "late"), ("c3", "in_time")):
        unit.case(case_id)
        unit.tracing(case_id)
        unit.episode(case_id, status, 40.0 if status == "late" else 5.0)
    base = Agreed(True, "pathological", recognisable_s=6000.0, escalation_s=8400.0, escalation_event="senior_called")
    people.save(db, "2031-03", "c1", "A", "figo-2015", base, who="chair")  # 40 min: late, as computed
    moved = Agreed(True, "pathological", recognisable_s=7800.0, escalation_s=8400.0, escalation_event="senior_called")
    people.save(db, "2031-03", "c2", "A", "figo-2015", moved, who="chair")  # half an hour later: 10 min, in time
    people.save(db, "2031-03", "c3", "A", "figo-2015", Agreed(None), who="chair")  # left open
    found = agreed.document(unit.con, db, SETTINGS, period="2031-03")
    rows = {row["case_id"]: row for row in found["clocks"]}
    assert [(rows[name]["status"], rows[name]["change"]) for name in ("c1", "c2", "c3")] == [
        ("late", "unchanged"), ("in_time", "cleared"), (None, None)
    ]  # fmt: skip
    assert (rows["c2"]["minutes_later"], rows["c2"]["minutes_to_response"]) == (30.0, 10.0)
    assert (found["figure"]["decided"], found["figure"]["changed"], found["figure"]["cleared"]) == (2, 1, 1)
    assert (found["figure"]["low"], found["figure"]["high"]) == pytest.approx(wilson_interval(1, 2, 0.95))
    assert agreed.by_month(found["clocks"], ["2031-03", "2031-04"]) == ([1, 0], [2, 0])
    # what was computed stays as it was
    statuses = {row["case_id"]: row["status"] for row in delays.document(unit.con, SETTINGS)["episodes"]}
    assert statuses == {"c1": "late", "c2": "late", "c3": "in_time"}


def test_nothing_agreed_is_no_figure(unit, db):
    assert agreed.document(unit.con, db, SETTINGS) == {"clocks": [], "figure": None, "weighted": None}


def test_a_random_sample_on_the_agenda_is_weighted_back_to_every_labour(unit, db):
    every = [f"c{k}" for k in range(1, 23)]
    for case_id in every:
        unit.case(case_id)
        unit.tracing(case_id)
    for case_id in every[:2]:
        agenda.add(db, "2031-03", case_id, who="lead")
    drawn = agenda.draw(db, "2031-03", every, 4, 1, who="lead")["cases"]
    later = next(case_id for case_id in every[2:] if case_id not in drawn)
    agenda.add(db, "2031-03", later, who="lead")  # after the draw: it does not count
    late = Agreed(True, "pathological", recognisable_s=6000.0, escalation_s=8400.0, escalation_event="senior_called")
    nothing = Agreed(concern=False)
    said = {"c1": late, "c2": nothing, later: late, drawn[0]: late, drawn[1]: nothing, drawn[2]: nothing}
    for case_id, clock in said.items():
        people.save(db, "2031-03", case_id, "A", "figo-2015", clock, who="chair")
    found = agreed.document(unit.con, db, SETTINGS, period="2031-03")
    weighted = found["weighted"]
    assert (weighted["labours"], weighted["certain"], weighted["drawn"], weighted["drawn_from"]) == (22, 2, 4, 20)
    # 1 of the 2 that were there, and 1 of the 3 decided of those drawn from 20: (1 + 20 / 3) / 22
    delayed, changed = weighted["shares"]
    assert delayed["share"] == changed["share"] == pytest.approx((1 + 20 / 3) / 22)
    assert (delayed["low"], delayed["high"]) == pytest.approx((2 / 22, 18 / 22))  # 1 to 17 of the 20, by hand
    # the clocks of cases that came for their reasons are told apart
    assert (found["figure"]["decided"], found["figure"]["called_delayed"]) == (3, 2)
    assert "drawn at random are left out" in found["figure"]["sentence"]


@pytest.mark.parametrize(
    ("standard", "category", "trigger"),
    [
        ("figo-2015", "pathological", "pathological"), ("figo-2015", "suspicious", "suspicious_persistent"),
        ("nichd-2008", "III", "category_iii"), ("nichd-2008", "II", "category_ii_persistent"),
        ("nice-ng229", None, "pathological"),
    ],
)  # fmt: skip
def test_the_target_is_that_of_the_agreed_category(standard, category, trigger):
    assert agreed.trigger_of(standard, category) == trigger
    assert SETTINGS.response.rule(standard, trigger).target_minutes > 0


@pytest.mark.parametrize(
    ("standard", "depth_bpm", "length_s", "lacks"),
    [
        # FIGO 2015: a deceleration is of more than 15 bpm, a prolonged one lasts more than 3 minutes
        ("figo-2015", 15.0, 300.0, "more than 15 bpm and more than 180 s"), ("figo-2015", 15.1, 181.0, None),
        ("figo-2015", 40.0, 180.0, "more than 15 bpm and more than 180 s"),
        # NICE NG229: one deceleration of 3 minutes or more; NICHD 2008: a prolonged one is 15 bpm or more, and the 3
        # minutes that start the clock are our choice
        ("nice-ng229", 40.0, 180.0, None), ("nichd-2008", 15.0, 180.0, None),
        ("nichd-2008", 14.98, 180.0, "at least 15 bpm and at least 180 s"),
    ],
)  # fmt: skip
def test_what_an_added_fall_lacks_to_start_a_clock_by_itself(standard, depth_bpm, length_s, lacks):
    fall = AddedFall(600.0, 600.0 + length_s, depth_bpm, length_s)
    said = agreed.fall_words(fall, standard, SETTINGS.analysis.of_standards[standard])
    assert ("By itself it starts no clock" in said) == (lacks is not None)
    assert lacks is None or said.endswith(f"that takes {lacks}.")
    assert "15 bpm under" not in said or depth_bpm >= 15
