"""Who is never missed: grave outcomes first, who may be a control, and that every case is on a list."""

import pytest
from msgspec.structs import replace

from audit.questions import cases_to_discuss
from audit.questions.reason_types import Rules
from tests.discussing import FALL, POINTS, SETTINGS, document, kinds, plain, with_a_usual_month


def test_deaths_cooling_and_encephalopathy_come_first_whatever_the_score(unit):
    for case_id, outcome in (
        ("grade", {"encephalopathy_grade": 1}), ("dead", {"died": "intrapartum"}), ("cooled", {"cooled": True}),
        ("gas", {"cord_artery_ph": 6.8, "cord_artery_base_deficit_mmol_l": 16.0, "apgar_5": 2}),
        ("late", {"died": "neonatal_late"}), ("before", {"died": "antepartum"}), ("early", {"died": "neonatal_early"}),
    ):  # fmt: skip
        plain(unit, case_id, outcome=outcome)
    for case_id in ("gas", "grade"):
        unit.episode(case_id, "late", 90.0)
    found = document(unit)["cases"]
    order = [case["case_id"] for case in found]
    assert order[-3:] == ["cooled", "grade", "gas"]
    assert set(order[:4]) == {"dead", "late", "before", "early"}
    assert [case["always_first"] for case in found][-3:] == ["cooled", "encephalopathy", None]
    assert all(case["reasons"][0]["kind"] == case["always_first"] for case in found[:-1])


def test_a_death_is_listed_without_tracing_and_without_points(unit):
    unit.case("c1")
    unit.outcome("c1", cord_artery_ph=None, apgar_5=None, died="antepartum")
    nothing = replace(SETTINGS.find, points=replace(POINTS, died=0.0, bad_outcome_unremarkable_tracing=0.0))
    rules = Rules(replace(nothing, list_from_score=50.0), SETTINGS.cord_gas)
    found = cases_to_discuss.judge(cases_to_discuss.fetuses_of(unit.con, SETTINGS.find, None), [], rules)
    assert [case["case_id"] for case in found["cases"]] == ["c1"]
    assert "died before labour" in [reason["text"] for reason in found["cases"][0]["reasons"]]


# 2.5th centiles of the venous pH of cohorts: 7.06 after vaginal, 7.10 after caesarean birth; lactate 8 and 10 mmol/L
# from cohorts, from memory. Strict for pH, from the limit on for lactate.
@pytest.mark.parametrize(
    ("outcome", "kind", "points"),
    [
        ({"cord_vein_ph": 7.10}, None, None),
        ({"cord_vein_ph": 7.09}, "vein_acidosis", 3.0),
        ({"cord_vein_ph": 7.06}, "vein_acidosis", 3.0),
        ({"cord_vein_ph": 7.05}, "vein_acidosis", 4.0),
        ({"cord_lactate_mmol_l": 7.9}, None, None),
        ({"cord_lactate_mmol_l": 8.0}, "high_lactate", 3.0),
        ({"cord_lactate_mmol_l": 10.0}, "high_lactate", 4.0),
        ({"seizures": True}, "seizures", 5.0),
        ({"transferred": True}, "transferred", 1.5),
        ({"transferred": False, "cooled": False, "seizures": False}, None, None),
    ],
)
def test_the_vein_the_lactate_and_what_followed_birth(unit, outcome, kind, points):
    plain(unit, outcome={"cord_artery_ph": None} | outcome)
    found = kinds(unit) or {}
    found.pop("bad_outcome_unremarkable_tracing", None)
    assert found == ({} if kind is None else {kind: points})


@pytest.mark.parametrize(
    ("outcome", "drawn"),
    [
        ({}, True), ({"cord_artery_ph": 7.20}, True), ({"cord_artery_ph": 7.19}, False),
        ({"cord_artery_ph": None}, True), ({"cord_artery_ph": None, "apgar_5": None}, False), ({"apgar_5": 6}, False),
        ({"neonatal_unit_admission": True}, False), ({"transferred": True}, False), ({"died": "neonatal_late"}, False),
        ({"cooled": True}, False), ({"seizures": True}, False), ({"cord_vein_ph": 7.05}, False),
        ({"cord_lactate_mmol_l": 10.0}, False),
    ],
)  # fmt: skip
def test_a_control_needs_a_good_outcome_on_record(unit, outcome, drawn):
    plain(unit, outcome=outcome)
    assert (document(unit)["controls"] == ["c1"]) is drawn


def test_a_labour_whose_outcome_nobody_recorded_is_no_control(unit):
    unit.case("c1", birth_s=18600.0)
    unit.tracing("c1")
    unit.event("c1")
    assert document(unit)["controls"] == []
    assert "no good outcome on record" in document(unit)["others"][0]["reason"]


@pytest.mark.parametrize(("seen", "drawn"), [(24.0, True), (23.9, False), (0.0, False)])
def test_a_control_has_four_fifths_of_its_last_half_hour_seen(unit, seen, drawn):
    plain(unit)
    unit.burden("c1", span="last_30_min", span_minutes=30.0, seen_minutes=seen, signal_loss_fraction=0.1)
    assert (document(unit)["controls"] == ["c1"]) is drawn


@pytest.mark.parametrize(
    ("open_end", "end_s", "drawn"),
    [(True, 18000.0, False), (True, 16300.0, False), (True, 16100.0, True), (False, 17990.0, True)],
)
def test_a_control_ends_without_an_open_fall(unit, open_end, end_s, drawn):
    """The tracing ends at 18000 s; a fall that goes on where the signal stops in the last half hour counts."""
    plain(unit)
    place = {"case_id": "c1", "fetus": "A", "run_id": "00001-test", "end_s": end_s, "open_end": open_end}
    unit.insert("decelerations", **place, **FALL, onset_s=end_s - 60, nadir_s=end_s - 30)
    assert (document(unit)["controls"] == ["c1"]) is drawn


def test_a_rate_that_stays_low_to_the_end_is_an_open_fall(unit):
    plain(unit)
    plain(unit, "c2")
    for case_id, levels in (("c1", (140.0, 100.0)), ("c2", (140.0, 155.0))):
        place = {"case_id": case_id, "fetus": "A", "onset_s": 17000.0, "end_s": 18000.0, "run_id": "00001-test"}
        unit.insert("level_changes", **place, from_bpm=levels[0], to_bpm=levels[1])
    assert document(unit)["controls"] == ["c2"]


@pytest.mark.slow
def test_every_case_is_on_one_list_that_says_why(unit):
    with_a_usual_month(unit)
    plain(unit, "bad", outcome={"cord_artery_ph": 6.9})
    plain(unit, "answered")
    unit.episode("answered", "in_time", 1.0)
    plain(unit, "cold", outcome={"cord_artery_ph": 7.15})
    unit.case("none")
    plain(unit, "few")
    unit.con.execute("update tracing_states set seen_fraction = 0.4 where case_id = 'few'")
    for with_outcome in (True, False):
        found = document(unit, with_outcome=with_outcome)
        places = [found["cases"], found["left_out"], found["others"]]
        named = [row["case_id"] for rows in places for row in rows]
        assert len(named) == len(set(named)) == found["considered"] == 9
        assert all(row.get("reason") or row.get("reasons") for rows in places for row in rows)
    others = {row["case_id"]: (row["list"], row["reason"]) for row in document(unit)["others"]}
    assert others["cold"] == ("nothing to discuss", "nothing found; no good outcome on record")
    assert others["answered"][1] == "nothing found; concerns, none of them late or unanswered"
    assert others["few"][1].startswith("nothing found; too little of the tracing seen; less than 80 %")
    assert [name for name, (which, _) in others.items() if which == "control"] == document(unit)["controls"]
    assert [case["case_id"] for case in document(unit)["cases"]] == ["bad"]
    rules = Rules(replace(SETTINGS.find, list_from_score=50.0), SETTINGS.cord_gas)
    below = cases_to_discuss.judge(cases_to_discuss.fetuses_of(unit.con, SETTINGS.find, None), [], rules)["others"]
    (row,) = [row for row in below if row["list"] == "below the score"]
    assert row["case_id"] == "bad"
    assert "of the 50 points from which cases are listed: arterial pH 6.90, below 7.00" in row["reason"]


@pytest.mark.slow
def test_without_outcomes_nothing_depends_on_an_outcome(unit):
    """Order, count and words are the same whatever became of the newborns: two units that differ in that alone."""
    for k in range(8):
        plain(unit, f"c{k}", outcome={"cord_artery_ph": 7.25})
    unit.episode("c1", "late", 90.0)
    unit.episode("c2", "in_time", 1.0)
    unit.burden("c3", span="last_30_min", signal_loss_fraction=0.9)
    before = document(unit, with_outcome=False)
    told = document(unit)
    unit.con.execute(
        "update outcomes set cord_artery_ph = 6.9, apgar_5 = 2, died = 'intrapartum', cooled = true, seizures = true,"
        " transferred = true, encephalopathy_grade = 3, cord_vein_ph = 6.8, cord_lactate_mmol_l = 15,"
        " neonatal_unit_admission = true where case_id in ('c1', 'c2', 'c5', 'c7')"
    )
    assert document(unit)["cases"] != told["cases"]
    assert document(unit, with_outcome=False) == before
    unit.con.execute("delete from outcomes where case_id in ('c4', 'c5')")
    assert document(unit, with_outcome=False) == before
    assert before["controls"] == []
    assert not any(reason["of_outcome"] for case in before["cases"] for reason in case["reasons"])
