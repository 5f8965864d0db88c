"""The trends document: measures by hand on the small database, gaps between rare events, funnel, command."""

import json

import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.errors import UsageError
from audit.people import phases
from audit.questions import trends
from audit.settings import load_settings
from audit.store import database, published
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
    assert len(found["measures"]) == 10
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
    ended = {"in_time": "response", "late": "response"}[status]
    row = {"wait_minutes": minutes, "ended_by": ended, "target_minutes": 15.0, "status": status, "shift": shift}
    return [row] * n


def test_the_funnel_stands_around_the_units_own_share():
    rows = [*waits("in_time", 5.0, "day", 18), *waits("late", 30.0, "day", 2), *waits("in_time", 5.0, "night", 2),
            *waits("late", 30.0, "night", 8)]  # fmt: skip
    found = trends.funnel(rows, "shift")
    assert found["target"] == pytest.approx(20 / 30)
    day, night = found["points"]
    assert (day["group"], day["numerator"], day["denominator"]) == ("day", 18, 20)
    assert night["share"] == pytest.approx(0.2)
    assert night["share"] < night["low_95"]
    assert day["low_998"] < day["low_95"] < found["target"] < day["high_95"] < day["high_998"]


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
