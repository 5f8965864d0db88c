"""The delays document on databases small enough to count by hand."""

import json
import re

import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.errors import UsageError
from audit.questions import delays, possible
from audit.questions.votes import sentence
from audit.settings import load_settings
from tests.unit.conftest import RUN

SETTINGS = load_settings()
# The contract's fields of one episode.
FIELDS = {
    "case_id", "fetus", "standard", "trigger", "pattern_start_s", "recognisable_s", "end_s", "response_s",
    "response_event", "minutes_to_response", "minutes_to_birth", "target_minutes", "status", "late_under", "clocks",
}  # fmt: skip


def document(unit, **asked):
    return delays.document(unit.con, SETTINGS, **asked)


def test_late_ones_come_first_and_the_longest_wait_first_of_all(unit):
    for case_id in ("c1", "c2", "c3"):
        unit.case(case_id)
    unit.episode("c1", "in_time", 2.0)
    unit.episode("c1", "resolved", at_s=9000.0)
    unit.episode("c2", "late", 20.0)
    unit.episode("c3", "late", 80.0)
    unit.episode("c3", "none_recorded", at_s=9000.0)
    unit.episode("c2", "born_first", at_s=9000.0)
    unit.episode("c2", "not_assessable", at_s=9500.0)
    found = document(unit)
    assert [(row["case_id"], row["status"]) for row in found["episodes"]] == [
        ("c3", "late"), ("c2", "late"), ("c3", "none_recorded"), ("c2", "not_assessable"), ("c2", "born_first"),
        ("c1", "resolved"), ("c1", "in_time"),
    ]  # fmt: skip
    assert found["episodes"][0].keys() >= FIELDS
    assert found["counts"] == dict.fromkeys(delays.STATUSES, 1) | {"late": 2, "under_way": 0}


# N of M counts every standard that could be assessed at that time and every reader who read it, silent ones as votes
# against; unanswered when the target passed is late. The rule of this clock: our choice, no published source.
def test_everyone_who_could_be_asked_votes_and_silence_is_a_vote_against(unit):
    unit.case("c1")
    everyone = ["figo-2015", "nice-ng229", "nichd-2008"]
    unit.episode("c1", "late", 30.0, assessed_under=everyone)
    unit.episode("c1", "in_time", 1.0, at_s=9000.0)  # the same standard at the same time: still one vote, for late
    unit.episode("c1", "in_time", 10.0, standard="nice-ng229")
    unit.read("c1", "r1", "pathological", start_s=5400.0, end_s=6600.0)
    unit.reader_clock("c1", "r1", "late", 20.0)
    unit.read("c1", "r2", "pathological", start_s=5400.0, end_s=6600.0)
    unit.reader_clock("c1", "r2", "none_recorded", None)
    unit.read("c1", "r3", "normal", start_s=5400.0, end_s=6600.0)  # read it and found nothing: a vote against
    unit.read("c1", "r4", "normal", start_s=0.0, end_s=1800.0)  # read another time
    unit.read("c1", "r5", "pathological", start_s=5400.0, end_s=6600.0, outcome_hidden=False)  # not blind
    unit.read("c1", "r6", "not assessable", start_s=5400.0, end_s=6600.0)
    (row, *_) = document(unit)["episodes"]
    # late: FIGO, r1, r2; against: NICE, the silent NICHD, r3
    assert (row["late_under"], row["none_recorded_under"], row["clocks"]) == (3, 1, 6)
    assert sentence(row) == "late or unanswered under 3 of 6 clocks, answered 10 min after to 30 min after recognition"
    assert row["clocks_with_response"] == 3
    assert [row[f"minutes_to_response_{name}"] for name in ("min", "median", "max")] == [10.0, 20.0, 30.0]


def test_a_standard_votes_only_on_what_it_could_assess_at_that_time(unit):
    unit.case("c1")
    unit.episode("c1", "none_recorded", assessed_under=["figo-2015"])
    unit.episode("c1", "late", 30.0, standard="nice-ng229", at_s=40000.0, assessed_under=["nice-ng229"])
    rows = {row["standard"]: row for row in document(unit)["episodes"]}
    assert (rows["figo-2015"]["late_under"], rows["figo-2015"]["clocks"]) == (1, 1)
    assert sentence(rows["figo-2015"]) == "late or unanswered under 1 of 1 clock"
    assert (rows["nice-ng229"]["late_under"], rows["nice-ng229"]["clocks"]) == (1, 1)


def test_a_labour_that_nobody_answered_is_late_under_all_who_saw_it(unit):
    unit.case("c1")
    standards = {"figo-2015": "pathological", "nice-ng229": "pathological", "nichd-2008": "category_iii"}
    for standard, trigger in standards.items():
        unit.episode("c1", "none_recorded", standard=standard, trigger=trigger, assessed_under=list(standards))
    for row in document(unit)["episodes"]:
        assert (row["late_under"], row["clocks"]) == (3, 3)


def test_a_silent_record_is_not_assessable_and_nobody_votes(unit):
    unit.case("c1")
    unit.episode("c1", "not_assessable", assessed_under=["figo-2015", "nice-ng229"])
    (row,) = document(unit)["episodes"]
    assert (row["late_under"], row["clocks"]) == (0, 0)
    assert "not assessable" in sentence(row)


def test_shares_stand_beside_chance_and_what_was_there_at_the_start_stands_apart(unit):
    unit.case("c1")
    unit.episode("c1", "in_time", 5.0, chance_statuses="iill")
    unit.episode("c1", "late", 50.0, at_s=20000.0, chance_statuses="llil")
    unit.episode("c1", "in_time", 5.0, at_s=40000.0, at_start=True, chance_statuses="iiii")
    found = document(unit)
    assert (found["chance"]["share_in_time"], found["chance"]["share"], found["chance"]["episodes"]) == (0.5, 3 / 8, 2)
    assert found["at_start"] == 1
    (trigger,) = found["chance"]["triggers"]
    assert (trigger["standard"], trigger["trigger"], trigger["chance"]) == ("figo-2015", "pathological", 3 / 8)
    assert trigger["chance_low"] <= trigger["chance"] <= trigger["chance_high"]


def test_twins_have_clocks_of_their_own(unit):
    unit.case("t1", plurality=2)
    unit.episode("t1", "late", 30.0, fetus="A")
    unit.episode("t1", "in_time", 3.0, fetus="B")
    rows = {row["fetus"]: (row["late_under"], row["clocks"]) for row in document(unit)["episodes"]}
    assert rows == {"A": (1, 1), "B": (0, 1)}


def test_only_the_asked_month_and_standard(unit):
    unit.case("c1")
    unit.case("c2", period="2031-04")
    unit.case("c3", period=None)
    for case_id in ("c1", "c2", "c3"):
        unit.episode(case_id, "late", 30.0)
        unit.episode(case_id, "late", 30.0, standard="nice-ng229")
    assert len(document(unit)["episodes"]) == 6
    assert {row["case_id"] for row in document(unit, period="2031-04")["episodes"]} == {"c2"}
    (row,) = document(unit, period="2031-03", standard="nice-ng229")["episodes"]
    assert (row["case_id"], row["clocks"]) == ("c1", 2)  # the other standard stays a clock


def test_the_stage_is_that_of_recognition(unit):
    unit.case("c1", second_stage_s=6000.0)
    unit.case("c2")
    unit.episode("c1", "late", 30.0, at_s=5999.0)
    unit.episode("c1", "late", 20.0, at_s=6000.0)
    unit.episode("c2", "late", 10.0)
    assert [row["stage"] for row in document(unit)["episodes"]] == ["first", "second", None]


def test_what_the_other_kind_of_falls_alone_would_make_is_told_and_not_counted(unit):
    unit.case("c1")
    unit.tracing("c1")
    unit.insert("possible_concerns", case_id="c1", fetus="A", standard="figo-2015", trigger="pathological",
                falls_taken_as="gradual", recognisable_s=11520.0, end_s=12000.0, run_id=RUN)  # fmt: skip
    found = document(unit, period="2031-03")
    assert (found["episodes"], set(found["counts"].values())) == ([], {0})
    assert possible.sentence(found["possible"], with_case=True) == (
        "Not found, and in no count: c1: FIGO 2015 pathological, recognisable at 03:12 if the falls near 30 s"
        " were all gradual."
    )
    assert document(unit, period="2031-04")["possible"] == document(unit, standard="nichd-2008")["possible"] == []


def test_why_there_is_nothing(unit):
    assert document(unit)["note"] == "There are no cases in the database."
    unit.case("c1")
    unit.tracing("c1", state=None)
    assert "None of the 1 cases in 2031-03 has been analysed" in document(unit, period="2031-03")["note"]
    unit.case("c2")
    unit.tracing("c2")
    assert document(unit)["note"] == "No concern episode was found in the 1 analysed case in the database."
    assert document(unit, period="2031-05")["note"] == "There are no cases in 2031-05."
    unit.episode("c2", "late", 20.0)
    assert document(unit)["note"] is None


def test_cases_without_a_month_are_counted_when_no_month_is_asked_for(unit):
    unit.case("c1", period=None)
    unit.tracing("c1")
    unit.case("c2")
    assert (document(unit)["cases"], document(unit)["analysed"]) == (2, 1)
    assert (document(unit, period="2031-03")["cases"], document(unit, period="2031-03")["analysed"]) == (1, 0)


def test_a_unit_that_records_no_care_is_told_so(unit):
    unit.case("c1")
    unit.episode("c1", "not_assessable")
    unit.con.execute("update responses set note = 'no care events are recorded for this labour'")
    assert "no response can be judged" in document(unit)["note"]


@pytest.mark.parametrize("period", ["2031-13", "2031-00", "March", "2031-3", "2031-03-01", "", "' or 1=1 --"])
def test_a_period_that_is_no_month_is_wrong_usage(unit, period):
    with pytest.raises(UsageError, match="expected YYYY-MM"):
        document(unit, period=period)


def test_an_unknown_standard_is_wrong_usage(unit):
    with pytest.raises(UsageError, match="expected one of figo-2015, nice-ng229, nichd-2008"):
        document(unit, standard="nice")


def test_the_command_prints_one_json_document_and_nothing_else(unit, db):
    unit.case("c1")
    unit.tracing("c1")
    unit.episode("c1", "late", 30.0)
    unit.episode("c1", "none_recorded", at_s=12000.0, to_birth=None)
    unit.close()
    done = CliRunner().invoke(cli, ["delays", "--db", str(db), "--json"])
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert set(found) >= {"period", "standard", "episodes"}
    assert [row["minutes_to_birth"] for row in found["episodes"]] == [200.0, None]
    assert "NaN" not in done.stdout


def test_the_command_prints_a_table_with_every_episode(unit, db):
    unit.case("c1")
    unit.tracing("c1")
    unit.episode("c1", "late", 30.0)
    unit.close()
    done = CliRunner().invoke(cli, ["delays", "--db", str(db)])
    assert done.exit_code == 0, done.output
    assert "1 concern episodes in all months, 1 analysed cases: 1 answered late." in done.stdout
    row = r"c1 +FIGO 2015( pathological)? +01:40 +senior called +30\.0 +15 +200\.0 +answered late +1 of 1"
    assert re.search(row, done.stdout)


def test_a_month_without_cases_is_an_empty_document_and_a_sentence(unit, db):
    unit.close()
    done = CliRunner().invoke(cli, ["delays", "--db", str(db), "--period", "2031-01", "--json"])
    assert done.exit_code == 0
    assert json.loads(done.stdout)["episodes"] == []
    assert done.stderr == "There are no cases in 2031-01.\n"


def test_wrong_usage_ends_with_2():
    # the exit code is given where errors are mapped: audit.cli.main
    assert UsageError.exit_code == 2
