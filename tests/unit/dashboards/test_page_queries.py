"""The queries of the pages on the hand-filled database: counts a person can redo from tests/page_databases.py."""

import re
from pathlib import Path

import duckdb
import pytest

from audit import paths
from audit.store import database, published

OURS = sorted(
    file
    for room in ("case", "month", "data_quality", "trends")
    for file in (paths.queries_folder() / room).glob("*.sql")
)


@pytest.fixture(scope="module")
def con(only_read):
    with database.open_for_reading(published.current(only_read["small"])) as found:
        yield found


@pytest.fixture(scope="module")
def empty(only_read):
    with database.open_for_reading(published.current(only_read["empty"])) as found:
        yield found


def header(text, word):
    return re.findall(rf"^-- {word}: (.+)$", text, flags=re.MULTILINE)


@pytest.mark.parametrize("file", OURS, ids=lambda file: f"{file.parent.name}/{file.stem}")
def test_a_header_says_what_the_query_takes_and_gives(con, file):
    text = file.read_text(encoding="utf-8")
    assert header(text, "question")[0].endswith("?")
    assert header(text, "row")
    params = {line.split()[0] for line in header(text, "param")}
    assert duckdb.extract_statements(text)[0].named_parameters == params
    body = text[text.index("\n", text.rindex("\n-- ") + 1) :]
    described = con.execute(f"describe {body}", dict.fromkeys(params)).fetchall()
    columns = [line.split(",")[0].split() for line in header(text, "column")]
    assert [(name, kind.lower()) for name, kind, *_ in described] == [(c[0], " ".join(c[1:])) for c in columns]


@pytest.mark.parametrize("file", OURS, ids=lambda file: f"{file.parent.name}/{file.stem}")
def test_a_query_answers_on_an_empty_database(empty, file):
    params = dict.fromkeys(line.split()[0] for line in header(file.read_text(encoding="utf-8"), "param"))
    rows = database.rows(empty, f"{file.parent.name}/{file.stem}", params)
    assert len(rows) <= 1  # a count of nothing, or nothing


def ask(con, name, **params):
    return database.rows(con, name, params).to_dict("records")


def test_a_month_counts_twins_as_one_labour_and_two_tracings(con):
    april, = ask(con, "month/counts", period="2031-04")  # fmt: skip
    assert (april["labours"], april["tracings"], april["never_read"], april["failed"]) == (3, 4, 0, 0)
    assert april["tracing_hours"] == pytest.approx(4 * 1.5)
    assert april["seen_fraction"] == pytest.approx(0.97)
    may, = ask(con, "month/counts", period="2031-05")  # fmt: skip
    assert (may["labours"], may["failed"], may["tracing_hours"], may["merged_labours"]) == (2, 1, 1.5, 0)
    none, = ask(con, "month/counts", period="2031-06")  # fmt: skip
    assert (none["labours"], none["seen_fraction"]) == (0, pytest.approx(float("nan"), nan_ok=True))


def test_minutes_in_each_category_add_up_to_the_minutes_judged(con):
    rows = [row for row in ask(con, "month/categories", period="2031-04") if row["standard"] == "figo-2015"]
    # 4 tracings x 90 min: 10 not assessable, minutes 11 to 44 normal, then suspicious; C-001 pathological from 60
    assert {row["category"]: row["minutes"] for row in rows} == {
        "not assessable": 40, "normal": 4 * 34, "suspicious": 3 * 46 + 15, "pathological": 31,
    }  # fmt: skip
    assert {row["standard_minutes"] for row in rows} == {360}
    assert sum(row["fraction"] for row in rows) == pytest.approx(1.0)
    assert next(row["tracings"] for row in rows if row["category"] == "pathological") == 1


def test_statuses_count_episodes_under_each_standard(con):
    rows = ask(con, "month/statuses", period="2031-04")
    assert [(row["standard"], row["status"], row["episodes"]) for row in rows] == [
        ("figo-2015", "in_time", 1), ("figo-2015", "late", 1), ("nice-ng229", "late", 1), ("nichd-2008", "late", 1),
    ]  # fmt: skip


def test_what_a_month_lacks_is_counted_and_named(con):
    counts, = ask(con, "data_quality/missing_counts", period="2031-05")  # fmt: skip
    assert counts["labours"] == 2
    assert (counts["no_outcome"], counts["no_events"], counts["not_read"], counts["no_reads"]) == (1, 1, 1, 2)
    cases = {row["case_id"]: row["lacks"] for row in ask(con, "data_quality/missing", period="2031-05")}
    assert cases == {"C-004": "care events, reads", "C-005": "analysis, outcome, reads"}


def test_files_are_listed_under_the_months_that_they_brought_something_of(con):
    # number 1 brought the tracings, all of April and May; of 2 (cases) and 3 (refused) nothing says of which month
    for period, expected in ((None, [3, 2, 1]), ("2031-04", [3, 2, 1]), ("2031-05", [3, 2, 1]), ("2031-06", [3, 2])):
        assert [row["import_id"] for row in ask(con, "data_quality/imports", period=period)] == expected
    assert {row["import_id"] for row in ask(con, "data_quality/rejects", imports=[2])} == {2}
    assert ask(con, "data_quality/rejects", imports=[1]) == []
    assert sum(row["found"] for row in ask(con, "data_quality/reject_reasons", imports=[1, 2])) == 3


def test_a_birth_time_counts_from_the_case_row_or_from_the_events(con):
    counts, = ask(con, "data_quality/missing_counts", period=None)  # fmt: skip
    assert counts["no_birth_time"] == 0


def test_the_outcome_names_every_newborn_and_leaves_unknown_open(con):
    rows = ask(con, "case/outcome", case_id="C-003")
    assert [row["fetus"] for row in rows] == ["A", "B"]
    assert rows[0]["cord_artery_ph"] == 7.25
    unknown, = ask(con, "case/outcome", case_id="C-005")  # fmt: skip
    assert unknown["cord_artery_ph"] != unknown["cord_artery_ph"]  # NaN in a frame: not given


def test_the_facts_of_a_case_do_not_hold_its_outcome(con):
    facts, = ask(con, "case/facts", case_id="C-001")  # fmt: skip
    assert not {"mode_of_birth", "cord_artery_ph", "apgar_5"} & set(facts)


def test_reads_and_the_computed_reading_stand_in_one_list(con):
    rows = ask(con, "case/reads", case_id="C-001", fetus="A")
    assert [(row["reader"], row["category"]) for row in rows] == [
        ("R1", "pathological"), ("R2", "suspicious"), ("R3", "pathological"), ("computed", "pathological"),
    ]  # fmt: skip


def test_months_come_newest_first_and_those_without_one_last(only_read):
    with database.open_for_reading(published.current(only_read["odd"])) as con:
        found = ask(con, "month/months")
    assert found[0]["period"] == "2031-04"
    assert found[-1]["period"] is None or found[-1]["period"] != found[-1]["period"]


def test_a_month_of_the_trends_counts_both_sides_of_each_bound(con):
    enough = {"least_seen_fraction": 0.5, "least_seen_minutes": 30.0}
    april, may = ask(con, "trends/months", standard="figo-2015", **enough)
    assert (april["period"], april["births"], april["newborns"], april["analysed"]) == ("2031-04", 3, 4, 3)
    assert (april["seen"], may["seen"]) == (3, 1)
    assert (april["with_concern"], april["cord_gases"], april["complete"]) == (2, 4, 3)
    assert (may["births"], may["analysed"], may["with_concern"], may["cord_gases"], may["complete"]) == (2, 1, 0, 1, 0)
    # 19200 bpm s in 57 of 60 minutes seen, the same for each of the four tracings
    assert april["area_median_bpm_s"] == pytest.approx(19200 / (57 / 60))
    assert april["area_tracings"] == 4


def test_every_query_file_ends_in_an_order_unless_it_gives_one_row():
    for file in OURS:
        text = file.read_text(encoding="utf-8")
        assert "order by" in text or "row: the month" in text, file.name


def test_no_query_text_stands_in_the_pages():
    folder = Path(paths.dashboards_folder())
    for file in folder.rglob("*.py"):
        text = file.read_text(encoding="utf-8").lower()
        assert not re.search(r"\bselect\b[^\"']*\bfrom\b\s+\w+\s+(where|order|group|join)", text), file.name


def test_minutes_of_a_case_without_a_category(con):
    # 90 minutes, the first 10 of them not assessable, none of the last 30; no reason begins with 'cannot say'
    rows = ask(con, "case/hidden", case_id="C-001", fetus="A")
    assert {row["standard"] for row in rows} == {"nichd-2008", "figo-2015", "nice-ng229"}
    for row in rows:
        minutes = row["minutes"]
        assert (row["refused_minutes"], row["last_minutes"], row["last_refused_minutes"]) == (10, min(30, minutes), 0)
        assert row["last_open_minutes"] == 0


def test_how_much_of_a_month_has_no_category(con):
    hidden = {row["standard"]: row for row in ask(con, "month/hidden", period="2031-04")}
    shares = [row for row in ask(con, "month/categories", period="2031-04") if row["category"] == "not assessable"]
    assert hidden
    for share in shares:
        row = hidden[share["standard"]]
        assert (row["refused_minutes"], row["minutes"]) == (share["minutes"], share["standard_minutes"])
        assert row["refused_minutes"] == 10 * row["tracings"]
        assert row["tracings_half_hidden"] == 0
