"""The trends document: measures by hand on the small database, gaps between rare events, funnel, command."""

import json

import pytest
from click.testing import CliRunner

from audit.charts.control import control_chart, funnel_chart
from audit.cli import cli
from audit.errors import UsageError
from audit.people import phases
from audit.questions import trends
from audit.settings import load_settings
from audit.store import database, published
from audit.tables.trends import funnel_table
from tests.page_databases import empty_database, small_database


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    return small_database(tmp_path_factory.mktemp("trends"))


def document(unit, **more):
    with database.open_for_reading(published.current(unit)) as con:
        return trends.document(con, load_settings(), **more)


def test_every_point_has_a_value_or_a_reason(small):
    found = document(small)
    assert found["note"] is None
    assert len(found["measures"]) == 13  # with two of oxytocin, which one labour had
    for measure in found["measures"]:
        assert measure["says"].endswith(".")
        for point in measure["points"]:
            assert (point["value"] is None) == (point["reason"] is not None), measure["name"]


def test_shares_keep_numerator_and_denominator_also_where_no_point_is_shown(small):
    found = {measure["name"]: measure["points"] for measure in document(small)["measures"]}
    assert [(p["numerator"], p["denominator"]) for p in found["cases_with_concern"]] == [(2, 3), (0, 1)]
    assert [(p["numerator"], p["denominator"]) for p in found["answered_within_target"]] == [(1, 2), (0, 0)]
    assert [(p["numerator"], p["denominator"]) for p in found["cord_gases_taken"]] == [(4, 4), (1, 2)]
    assert [p["value"] for p in found["births_reviewed"]] == [3.0, 2.0]
    # one caesarean with category 1; the decision of C-003 has no category and is noted after the birth
    births = found["decision_to_birth_within_30_min"]
    assert [(p["numerator"], p["denominator"]) for p in births] == [(1, 1), (0, 0)]


def test_each_caesarean_is_held_against_the_interval_of_its_urgency(unit):
    """NICE NG192, from memory: category 1 mostly within 30 minutes, category 2 within 75; categories 3 and 4 have no
    published interval, and neither have births of another kind."""
    cases = (("a", "caesarean", 1, 30), ("b", "caesarean", 2, 60), ("c", "caesarean", 3, 60),
             ("d", "caesarean", None, 20), ("e", "instrumental_vaginal", 1, 20), ("f", "caesarean", 1, 45))  # fmt: skip
    for case_id, mode, urgency, minutes in cases:
        period = "2031-04" if case_id == "a" else "2031-03"
        unit.case(case_id, period=period, mode_of_birth=mode, birth_s=6000.0 + 60 * minutes)
        unit.insert("care_events", case_id=case_id, at_s=6000.0, event="decision_for_birth", urgency=urgency)
    found = {m["name"]: m for m in trends.document(unit.con, load_settings())["measures"]}
    points = found["decision_to_birth_over_interval"]["points"]
    assert [(p["period"], p["value"]) for p in points] == [("2031-03", 0.8), ("2031-03", 1.5), ("2031-04", 1.0)]
    assert found["decision_to_birth_over_interval"]["single_births"] is True
    assert found["cases_with_concern"]["single_births"] is False


def test_a_record_is_complete_with_tracing_outcome_events_and_time_of_birth(unit):
    """By hand: one labour has all four, each of the others lacks one. Common practice, no source."""
    for case_id, lacks in (("c1", ""), ("c2", "outcome"), ("c3", "event"), ("c4", "birth"), ("c5", "signal")):
        unit.case(case_id, birth_s=None if lacks == "birth" else 18_600.0)
        unit.tracing(case_id, seen_fraction=0.1 if lacks == "signal" else 0.9)
        if lacks != "outcome":
            unit.outcome(case_id)
        if lacks != "event":
            unit.event(case_id)
    found = {m["name"]: m for m in trends.document(unit.con, load_settings())["measures"]}
    (point,) = found["record_complete"]["points"]
    assert (point["numerator"], point["denominator"]) == (1, 5)


def test_the_share_that_chance_gives_stands_beside_each_share_in_time(unit):
    """Three of four shifts of the one answered concern would have answered it too, of the other none: 3 of 8 by chance.
    Counted by hand; the letters are those of `response.chance`."""
    for k, (status, letters) in enumerate((("in_time", "iiin"), ("none_recorded", "nnnn"))):
        unit.case(f"c{k}", period="2031-03")
        unit.episode(f"c{k}", status, 5.0 if status == "in_time" else None, chance_statuses=letters)
    measure = {m["name"]: m for m in trends.document(unit.con, load_settings())["measures"]}["answered_within_target"]
    assert [point["chance"] for point in measure["points"]] == [3 / 8]
    assert "; by chance 38 % (" in measure["says"]


def test_the_document_is_plain_json(small):
    found = document(small)
    assert json.loads(json.dumps(found, allow_nan=False)) == found


@pytest.mark.parametrize(
    ("ph", "periods", "gaps"),
    [
        ([], [], []),
        ([7.2, 7.2], [], []),
        ([7.2, 7.0, 7.2], [], []),  # one event: no gap is known
        ([7.0, 7.0], ["m1"], [0.0]),
        ([7.2, 7.0, 7.2, 7.2, 7.0, 7.2, 7.04], ["m4", "m6"], [2.0, 1.0]),
        ([7.0, 7.05, 7.0], ["m2"], [1.0]),  # 7.05 itself is no event
    ],
)
def test_gaps_count_newborns_without_the_event_between_two_with_it(ph, periods, gaps):
    rows = [{"cord_artery_ph": value, "period": f"m{k}"} for k, value in enumerate(ph)]
    assert trends.gaps_between_events(rows, 7.05) == (periods, gaps)


def test_a_change_of_practice_starts_a_phase(small):
    phases.add(small, "2031-05", "night round", who="lead")
    found = {measure["name"]: measure for measure in document(small, db=small)["measures"]}
    assert [phase["label"] for phase in found["births_reviewed"]["phases"]] == ["baseline", "night round"]
    phases.remove(small, "2031-05", who="lead")


def test_an_unknown_standard_is_refused_by_name(small):
    with pytest.raises(UsageError, match="found 'who-2000', expected one of figo-2015"):
        document(small, standard="who-2000")


def test_an_empty_database_says_why_there_is_nothing(tmp_path):
    found = document(empty_database(tmp_path))
    assert "no cases with a month" in found["note"]


def waits(status, minutes, shift, n):
    ended = {"in_time": "response", "late": "response", "born_first": "birth"}[status]
    row = {"wait_minutes": minutes, "ended_by": ended, "target_minutes": 15.0, "status": status, "shift": shift}
    return [row] * n


def test_the_funnel_stands_around_the_units_own_share():
    """Five groups; births first stay in the denominator: 20 of 40, and at night 2 of 20 with 10 born first."""
    rows = [*waits("in_time", 5.0, "day", 6), *waits("late", 30.0, "day", 2), *waits("in_time", 5.0, "night", 2),
            *waits("late", 30.0, "night", 8), *waits("born_first", 5.0, "night", 10)]  # fmt: skip
    rows += [row for shift in ("early", "late", "weekend") for row in waits("in_time", 5.0, shift, 4)]
    found = trends.funnel(rows, "shift", groups_min=5)
    assert (found["chart"], found["target"]) == ("funnel", pytest.approx(20 / 40))
    named = {row["group"]: row for row in found["points"]}
    day, night = named["day"], named["night"]
    assert (day["group"], day["numerator"], day["denominator"]) == ("day", 6, 8)
    assert (night["numerator"], night["denominator"]) == (2, 20)
    assert "not independent" in found["note"]
    assert night["share"] == pytest.approx(0.1)
    assert night["share"] < night["low_95"]
    assert day["low_998"] < day["low_95"] < found["target"] < day["high_95"] < day["high_998"]


def test_four_groups_are_a_table_with_intervals_and_no_funnel():
    """Wilson 95 % interval of 2 of 7: 0.0822 to 0.6411 (Newcombe 1998, formula by hand)."""
    rows = [row for shift in "abcd" for row in (*waits("in_time", 5.0, shift, 2), *waits("late", 30.0, shift, 5))]
    found = trends.funnel(rows, "shift", groups_min=5)
    assert found["chart"] == "table"
    assert "low_95" not in found["points"][0]
    interval = (found["points"][0]["low"], found["points"][0]["high"])
    assert interval == (pytest.approx(0.0822, abs=5e-4), pytest.approx(0.6411, abs=5e-4))
    assert "not independent" in found["note"]
    assert funnel_chart(found, width_px=400) is None
    assert [column.name for column in funnel_table(found).columns][-2:] == ["low", "high"]
    assert trends.funnel([], "shift", groups_min=5)["points"] == []


def with_labours(unit, cases):
    """A month per list; each labour: (share seen, hours, has a concern)."""
    for period, members in cases.items():
        for k, (seen, hours, concern) in enumerate(members):
            case_id = f"{period}x{k}"
            unit.case(case_id, period=period)
            unit.tracing(case_id, seen_fraction=seen, duration_s=3600.0 * hours)
            if concern:
                unit.episode(case_id, "late", 40.0)


def test_labours_that_could_not_be_read_make_no_good_month(unit):
    """No signal shows no concern: six labours seen a tenth of the time say nothing, so they are in no denominator."""
    seen = [(0.9, 5, True)] * 2 + [(0.9, 5, False)] * 4
    with_labours(unit, {"2031-03": seen, "2031-04": [(0.1, 5, False)] * 6, "2031-05": [*seen, (0.5, 5, False),
                 (0.49, 5, False), (0.95, 0.5, False)]})  # fmt: skip
    found = {m["name"]: m for m in trends.document(unit.con, load_settings())["measures"]}["cases_with_concern"]
    # the last month: half seen counts, less does not, nor does half an hour of which 28.5 minutes were seen
    assert [(p["numerator"], p["denominator"]) for p in found["points"]] == [(2, 6), (0, 0), (2, 7)]
    assert found["points"][1]["value"] is None
    assert "8 left out: seen less than 50 % of their tracing or under 30 min" in found["says"]


@pytest.mark.slow
def test_a_month_in_which_fewer_than_half_were_answered_stands_at_the_top_of_the_scale(unit):
    for period, statuses in (("2031-03", ["late"] * 6), ("2031-04", ["late"] * 2 + ["none_recorded"] * 4)):
        for k, status in enumerate(statuses):
            unit.case(f"{period}x{k}", period=period)
            unit.tracing(f"{period}x{k}")
            minutes = 20.0 if status == "late" else None
            unit.episode(f"{period}x{k}", status, minutes)
    found = {m["name"]: m for m in trends.document(unit.con, load_settings())["measures"]}
    first, last = found["half_answered_minutes"]["points"]
    assert (first["value"], first["beyond_scale"]) == (20.0, False)
    assert (last["value"], last["beyond_scale"], last["reason"]) == (None, True, "Fewer than half answered.")
    drawn = str(control_chart(found["half_answered_minutes"]).to_dict())
    assert "triangle-up" in drawn
    assert "Fewer than half answered." in drawn
    assert "triangle-up" not in str(control_chart(found["cases_with_concern"]).to_dict())


def test_the_page_says_how_often_as_many_charts_flag_something_by_luck(small):
    assert "none can flag" in document(small)["luck"]["says"]
    steady = [{"chart": "run", "points": [{"value": 1.0, "beyond_scale": False}] * 20}] * 8
    found = trends.luck(steady, load_settings().trends)
    assert found["charts"] == 8
    assert 0.2 < found["chance_newest"] < found["chance_anywhere"] < 1
    assert f"{100 * found['chance_anywhere']:.0f} %" in found["says"]


def test_the_command_prints_one_document_and_ends_with_0(small):
    result = CliRunner().invoke(cli, ["--db", str(small), "trends", "--json"])
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert {"name", "chart", "unit", "points", "phases"} <= set(found["measures"][0])
    assert {"period", "value", "numerator", "denominator", "centre", "low", "high", "signal"} <= set(
        found["measures"][0]["points"][0]
    )


def test_the_command_prints_a_table_with_reasons(small):
    result = CliRunner().invoke(cli, ["--db", str(small), "trends"])
    assert result.exit_code == 0
    assert "fewer than 5" in result.stdout
