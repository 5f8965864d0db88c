"""Cases worth discussing: every kind of reason on both sides of its limit, the score, controls, what is left out."""

import json

import pytest
from click.testing import CliRunner
from msgspec.structs import replace

from audit.cli import cli
from audit.errors import UsageError
from audit.questions import cases_to_discuss
from audit.questions.reason_types import Reason
from tests.discussing import POINTS, SETTINGS, document, kinds, plain, with_a_usual_month


def test_a_plain_labour_is_not_listed_and_may_be_a_control(unit):
    plain(unit)
    found = document(unit)
    assert (found["cases"], found["controls"], found["left_out"], found["considered"]) == ([], ["c1"], [], 1)


def test_late_counts_in_full_when_most_clocks_agree(unit):
    plain(unit)
    unit.episode("c1", "late", 40.0)
    unit.episode("c1", "in_time", 5.0, standard="nice-ng229")
    assert kinds(unit) == {"late_response": POINTS.late_response}
    (case,) = document(unit)["cases"]
    text = case["reasons"][0]["text"]
    assert "response 40 min after pathological under FIGO 2015 was recognisable (target 15 min)" in text
    assert "late or unanswered under 1 of 2 clocks, answered 5 min after to 40 min after recognition" in text
    assert case["reasons"][0]["value"] == 40.0


def test_late_under_few_clocks_is_disputed(unit):
    plain(unit)
    unit.episode("c1", "late", 40.0)
    unit.episode("c1", "in_time", 5.0, standard="nice-ng229")
    unit.episode("c1", "in_time", 5.0, standard="nichd-2008", trigger="category_iii")
    assert kinds(unit) == {"late_response": POINTS.response_disputed}


def test_no_response_recorded(unit):
    plain(unit)
    unit.episode("c1", "none_recorded", lasted_minutes=70)
    assert kinds(unit) == {"no_response": POINTS.no_response + POINTS.nothing_done}
    assert "no response recorded to pathological under FIGO 2015" in document(unit)["cases"][0]["reasons"][0]["text"]


@pytest.mark.parametrize("status", ["in_time", "resolved", "born_first", "not_assessable"])
def test_other_endings_are_no_reason_and_such_a_case_is_no_control(unit, status):
    plain(unit)
    unit.episode("c1", status, 1.0 if status == "in_time" else None)
    assert kinds(unit) is None
    assert document(unit)["controls"] == []


@pytest.mark.slow
def test_high_burden_is_the_top_tenth_of_its_month(unit):
    for k in range(20):
        plain(unit, f"m{k:02d}")
        unit.burden(f"m{k:02d}", area_per_seen_hour_bpm_s=100.0 * (k + 1))
    for k in range(9):
        plain(unit, f"n{k}", period="2031-04")
        unit.burden(f"n{k}", area_per_seen_hour_bpm_s=9e4)
    named = {case["case_id"] for case in document(unit)["cases"]}
    assert named == {"m19", "m18"}  # two of twenty; the other month is too small to rank
    (first, _) = document(unit)["cases"]
    assert (
        "ranks 1 of 20 in its month: 2000 bpm·s per seen hour (54 of 60 min seen)"
        in {case["case_id"]: case["reasons"][0]["text"] for case in document(unit)["cases"]}["m19"]
    )
    assert first["reasons"][0]["kind"] == "high_burden"


def test_a_last_hour_hardly_seen_is_not_ranked(unit):
    for k in range(10):
        plain(unit, f"m{k}")
        unit.burden(f"m{k}", area_per_seen_hour_bpm_s=100.0)
    plain(unit, "m10")
    unit.burden("m10", area_per_seen_hour_bpm_s=9e4, seen_minutes=29.9)
    plain(unit, "m11")
    unit.burden("m11", area_per_seen_hour_bpm_s=5e4, seen_minutes=30.0)
    assert {case["case_id"] for case in document(unit)["cases"]} == {"m11"}


def test_ten_tracings_without_any_deceleration_have_no_high_burden(unit):
    for k in range(10):
        plain(unit, f"m{k}")
        unit.burden(f"m{k}", area_per_seen_hour_bpm_s=0.0)
    assert document(unit)["cases"] == []


# Tiers in use: < 7.20, < 7.10, < 7.05, < 7.00, strict; metabolic acidosis pH < 7.00 and base deficit >= 12.0 (check
# values of the standards: pH 7.00 with 12.0 is none, 6.99 with 12.0 is). Low Apgar at 5 minutes < 7, very low < 4.
@pytest.mark.parametrize(
    ("outcome", "kind", "points"),
    [
        ({"cord_artery_ph": 7.10}, None, None),
        ({"cord_artery_ph": 7.09}, "acidosis", 3.0),
        ({"cord_artery_ph": 7.05}, "acidosis", 3.0),
        ({"cord_artery_ph": 7.00, "cord_artery_base_deficit_mmol_l": 12.0}, "acidosis", 4.0),
        ({"cord_artery_ph": 6.99, "cord_artery_base_deficit_mmol_l": 12.0}, "acidosis", 5.0),
        ({"apgar_5": 7}, None, None),
        ({"apgar_5": 6}, "low_apgar", 3.0),
        ({"apgar_5": 4}, "low_apgar", 3.0),
        ({"apgar_5": 3}, "low_apgar", 4.0),
        ({"encephalopathy_grade": 0}, None, None),
        ({"encephalopathy_grade": 1}, "encephalopathy", 5.0),
        ({"neonatal_unit_admission": False}, None, None),
        ({"neonatal_unit_admission": True}, "neonatal_unit_admission", 1.0),
    ],
)
def test_outcomes_on_both_sides_of_their_limits(unit, outcome, kind, points):
    plain(unit, outcome=outcome)
    found = kinds(unit) or {}
    found.pop("bad_outcome_unremarkable_tracing", None)
    assert found == ({} if kind is None else {kind: points})


def test_metabolic_acidosis_is_said(unit):
    plain(unit, outcome={"cord_artery_ph": 6.99, "cord_artery_base_deficit_mmol_l": 12.0})
    (case,) = document(unit)["cases"]
    texts = [reason["text"] for reason in case["reasons"]]
    assert "arterial pH 6.99, below 7.00, base deficit 12.0 mmol/L: metabolic acidosis" in texts


def test_bad_outcome_with_an_unremarkable_tracing(unit):
    plain(unit, outcome={"cord_artery_ph": 7.04})
    assert "bad_outcome_unremarkable_tracing" in kinds(unit)
    unit.episode("c1", "in_time", 1.0)
    assert "bad_outcome_unremarkable_tracing" not in kinds(unit)


def test_a_tracing_hardly_seen_is_not_called_unremarkable(unit):
    unit.case("c1")
    unit.tracing("c1", seen_fraction=0.49)
    unit.outcome("c1", cord_artery_ph=7.04)
    unit.event("c1")
    assert "bad_outcome_unremarkable_tracing" not in kinds(unit)


@pytest.mark.parametrize(
    ("minutes", "standards", "ph", "listed"),
    [(30, 2, 7.20, True), (29, 2, 7.20, False), (30, 1, 7.20, False), (30, 2, 7.19, False), (30, 2, None, False)],
)
def test_good_outcome_with_a_pathological_tracing(unit, minutes, standards, ph, listed):
    plain(unit, outcome={"cord_artery_ph": ph})
    names = [("nichd-2008", "III"), ("figo-2015", "pathological")][:standards]
    for standard, category in names:
        unit.pathological_minutes("c1", standard, minutes, category)
    unit.pathological_minutes("c1", "nice-ng229", 29)  # too short to count, whatever the others
    assert ("good_outcome_pathological_tracing" in (kinds(unit) or {})) is listed


def test_readers_far_apart(unit):
    plain(unit)
    unit.read("c1", "r1", "normal")
    unit.read("c1", "r2", "suspicious")
    unit.read("c1", "r3", "not assessable")
    assert kinds(unit) is None
    unit.read("c1", "r4", "pathological", occasion=2)  # a repeat read
    unit.read("c1", "r5", "pathological", outcome_hidden=False)  # the outcome was known
    unit.read("c1", "r6", "pathological", start_s=1800.0, end_s=3600.0)  # another window
    assert kinds(unit) is None
    unit.read("c1", "r7", "pathological", outcome_hidden=True)
    # one of the three pairs is at opposite ends
    assert kinds(unit) == {"readers_apart": POINTS.readers_apart}
    (reason,) = document(unit)["cases"][0]["reasons"]
    assert reason["text"] == "readers far apart on one window: 1 normal, 1 suspicious, 1 pathological"
    assert reason["value"] == pytest.approx(1 / 3)


@pytest.mark.parametrize(("normal", "listed"), [(7, True), (8, False)])
def test_one_reader_of_many_who_differs_does_not_make_them_far_apart(unit, normal, listed):
    plain(unit)
    for k in range(normal):
        unit.read("c1", f"r{k}", "I", standard="nichd-2008")
    unit.read("c1", "other", "III", standard="nichd-2008")
    # 7 of 28 pairs are a quarter, 8 of 36 are less
    assert ("readers_apart" in (kinds(unit) or {})) is listed


# Westgate 1994 (from memory): artery below vein by at least 0.02 pH.
@pytest.mark.parametrize(
    ("artery", "vein", "listed"), [(7.25, 7.10, True), (7.24, 7.25, True), (7.23, 7.25, False), (7.20, None, False)]
)
def test_a_cord_gas_pair_that_cannot_be_right(unit, artery, vein, listed):
    plain(unit, outcome={"cord_artery_ph": artery, "cord_vein_ph": vein})
    assert ("cord_gas_pair" in (kinds(unit) or {})) is listed


@pytest.mark.parametrize(("loss", "listed"), [(0.49, False), (0.5, True)])
def test_signal_lost_before_birth(unit, loss, listed):
    plain(unit)
    unit.burden("c1", span="last_30_min", signal_loss_fraction=loss)
    assert ("signal_loss" in (kinds(unit) or {})) is listed


@pytest.mark.parametrize(("birth_s", "listed"), [(21599.0, False), (21600.0, True)])
def test_a_tracing_that_stops_long_before_birth(unit, birth_s, listed):
    plain(unit, birth_s=birth_s)
    assert ("tracing_stops" in (kinds(unit) or {})) is listed


def test_gaps_in_the_record(unit):
    with_a_usual_month(unit)
    unit.case("c1", birth_s=None)
    unit.tracing("c1")
    unit.event("c1", event="birth")
    assert kinds(unit) == {"record_gap": POINTS.no_events}
    texts = [reason["text"] for reason in document(unit)["cases"][0]["reasons"]]
    assert sorted(texts) == ["no care events recorded", "no outcome recorded"]
    unit.con.execute("delete from care_events where case_id = 'c1'")
    texts = [reason["text"] for reason in document(unit)["cases"][0]["reasons"]]
    assert "no birth time recorded" in texts


def test_what_the_whole_month_lacks_is_said_once_and_of_no_case(unit):
    for k in range(4):
        unit.case(f"c{k}", birth_s=18600.0)
        unit.tracing(f"c{k}")
        unit.outcome(f"c{k}")
    unit.event("c0")
    found = document(unit)
    assert found["cases"] == []
    assert found["remarks"] == ["2031-03: most have no care events recorded"]
    unit.event("c1")  # half of the month has them: the others' gaps are theirs
    assert {case["case_id"] for case in document(unit)["cases"]} == {"c2", "c3"}
    assert document(unit)["remarks"] == []


def test_the_score_counts_each_kind_once_and_adds_up(unit):
    with_a_usual_month(unit)
    unit.case("c1")
    unit.tracing("c1")
    unit.outcome("c1", cord_artery_ph=7.09)
    unit.episode("c1", "late", 40.0)
    (case,) = document(unit)["cases"]
    heaviest = {}
    for reason in case["reasons"]:
        heaviest[reason["kind"]] = max(reason["points"], heaviest.get(reason["kind"], 0.0))
    assert case["score"] == sum(heaviest.values())
    assert case["score"] == 3.0 + POINTS.late_response + POINTS.no_events


def test_one_newborns_outcome_is_one_piece_of_news(unit):
    """A low pH, a low Apgar, admission and seizures of one newborn do not add up without limit; the care's own reasons
    do. Common practice, no source: the limit is a setting."""
    sick = {"cord_artery_ph": 6.95, "apgar_5": 3, "neonatal_unit_admission": True, "seizures": True}
    plain(unit, "c1", outcome=sick)
    plain(unit, "c2", outcome={"cord_artery_ph": 6.95})
    for case_id in ("c1", "c2"):
        unit.episode(case_id, "late", 40.0)
    scores = {case["case_id"]: case["score"] for case in document(unit)["cases"]}
    assert scores == {"c1": SETTINGS.find.most_from_outcome + POINTS.late_response, "c2": 5.0 + POINTS.late_response}
    low = replace(SETTINGS.find, most_from_outcome=2.0)
    assert cases_to_discuss.score_of([Reason("acidosis", "", None, 5.0, of_outcome=True)], low.most_from_outcome) == 5.0


def test_cases_are_in_order_of_score_and_then_of_name(unit):
    for case_id, ph in (("c3", 7.08), ("c1", 7.08), ("c2", 6.90)):
        plain(unit, case_id, outcome={"cord_artery_ph": ph})
        unit.episode(case_id, "in_time", 1.0)
    assert [case["case_id"] for case in document(unit)["cases"]] == ["c2", "c1", "c3"]


def test_twins_are_one_case_and_each_reason_says_whose_it_is(unit):
    with_a_usual_month(unit)
    unit.case("t1", plurality=2, birth_s=18600.0)
    for fetus, ph in (("A", 7.25), ("B", 7.02)):
        unit.tracing("t1", fetus)
        unit.outcome("t1", fetus, cord_artery_ph=ph)
    (case,) = document(unit)["cases"]
    assert case["fetuses"] == 2
    texts = [reason["text"] for reason in case["reasons"]]
    assert "fetus B: arterial pH 7.02, below 7.05" in texts
    assert texts.count("no care events recorded") == 1


def test_a_twin_with_findings_makes_no_control_of_the_other(unit):
    unit.case("t1", plurality=2, birth_s=18600.0)
    unit.event("t1")
    for fetus in "AB":
        unit.tracing("t1", fetus)
        unit.outcome("t1", fetus)
    unit.episode("t1", "in_time", 1.0, fetus="B")
    assert document(unit)["controls"] == []


def test_cases_that_cannot_be_judged_are_left_out_with_the_reason(unit):
    unit.case("none")
    unit.outcome("none")
    unit.case("waiting")
    unit.tracing("waiting", state=None)
    unit.case("failed")
    unit.tracing("failed", state="failed", reason="ValueError: broken", seen_fraction=None)
    found = document(unit)
    assert [{name: row[name] for name in ("case_id", "reason")} for row in found["left_out"]] == [
        {"case_id": "failed", "reason": "its tracing could not be read; ValueError: broken"},
        {"case_id": "none", "reason": "no tracing is stored"},
        {"case_id": "waiting", "reason": "its tracing has not been analysed"},
    ]
    assert (found["cases"], found["controls"], found["considered"]) == ([], [], 3)


def test_a_grave_outcome_without_a_tracing_is_listed_with_the_gap(unit):
    with_a_usual_month(unit)
    unit.case("c1")
    unit.outcome("c1", cord_artery_ph=6.95)
    assert kinds(unit) == {"acidosis": 5.0, "record_gap": POINTS.no_events}
    texts = [reason["text"] for reason in document(unit)["cases"][0]["reasons"]]
    assert "no tracing is stored" in texts


@pytest.mark.slow
def test_controls_are_a_sample_that_the_month_and_the_seed_decide(unit):
    for month in ("2031-03", "2031-04"):
        for k in range(12):
            plain(unit, f"{month[-1]}x{k:02d}", period=month)
    both = document(unit)["controls"]
    assert len(both) == 2 * SETTINGS.find.controls_per_month
    assert document(unit)["controls"] == both
    march, april = (document(unit, period=month)["controls"] for month in ("2031-03", "2031-04"))
    assert march + april == both
    assert [name[2:] for name in march] != [name[2:] for name in april]


def test_another_seed_draws_other_controls():
    cases = {"2031-03": [f"c{k:03d}" for k in range(200)]}
    seeds = [replace(SETTINGS.find, controls_seed=seed) for seed in (1, 2, 1)]
    drawn = [cases_to_discuss.draw_controls(cases, options) for options in seeds]
    assert drawn[0] == drawn[2] != drawn[1]
    assert cases_to_discuss.draw_controls({"2031-03": ["c1"]}, SETTINGS.find) == ["c1"]
    assert cases_to_discuss.draw_controls({}, SETTINGS.find) == []


def test_outcome_reasons_are_marked_for_blind_readers(unit):
    plain(unit, outcome={"cord_artery_ph": 6.95, "apgar_5": 3, "encephalopathy_grade": 2, "cord_vein_ph": 6.9})
    unit.burden("c1", span="last_30_min", signal_loss_fraction=0.9)
    marked = {reason["kind"]: reason["of_outcome"] for reason in document(unit)["cases"][0]["reasons"]}
    assert marked.pop("signal_loss") is False
    assert marked
    assert all(marked.values())


def test_months(unit):
    plain(unit, "c1", outcome={"cord_artery_ph": 6.95})
    plain(unit, "c2", period=None, outcome={"cord_artery_ph": 6.95})
    assert kinds(unit, "c2") is not None
    found = document(unit, period="2031-03")
    assert [case["case_id"] for case in found["cases"]] == ["c1"]
    assert found["without_month"] == 1
    empty = document(unit, period="2031-01")
    assert (empty["cases"], empty["considered"]) == ([], 0)
    assert "There are no cases in 2031-01. 1 case has no month of birth" in empty["note"]
    with pytest.raises(UsageError, match="expected YYYY-MM"):
        document(unit, period="2031-3")


def test_the_command_prints_one_json_document_and_nothing_else(unit, db):
    plain(unit, outcome={"cord_artery_ph": 6.95})
    plain(unit, "c2")
    unit.close()
    done = CliRunner().invoke(cli, ["find", "--db", str(db), "--json"])
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert set(found) >= {"period", "cases", "controls"}
    assert set(found["cases"][0]) >= {"case_id", "score", "reasons"}
    assert set(found["cases"][0]["reasons"][0]) >= {"kind", "text", "value"}
    assert found["controls"] == ["c2"]
    assert "NaN" not in done.stdout


@pytest.mark.slow
def test_the_command_prints_reasons_controls_and_what_is_left_out(unit, db):
    plain(unit, outcome={"cord_artery_ph": 6.95})
    plain(unit, "c2")
    unit.case("c3")
    unit.close()
    done = CliRunner().invoke(cli, ["find", "--db", str(db)])
    assert done.exit_code == 0, done.output
    for text in ("1 of 3 cases", "arterial pH 6.95, below 7.00 (5)", "Controls, drawn from 1 unremarkable: c2", "c3"):
        assert text in done.stdout
    empty = CliRunner().invoke(cli, ["find", "--db", str(db), "--period", "2031-01"])
    assert (empty.exit_code, empty.stdout) == (0, "")
    assert "There are no cases in 2031-01" in empty.stderr
