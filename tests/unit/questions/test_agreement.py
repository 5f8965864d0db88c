"""Stored reads to agreement figures, counted by hand on eight windows."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.errors import UsageError
from audit.questions import agreement
from audit.settings import load_settings
from audit.store import database

# window number -> category of readers R1 and R2; window 8 was read by R1 alone
READS = {
    1: ("normal", "normal"),
    2: ("normal", "normal"),
    3: ("normal", "suspicious"),
    4: ("suspicious", "suspicious"),
    5: ("suspicious", "pathological"),
    6: ("pathological", "pathological"),
    7: ("normal", "pathological"),
    8: ("normal", None),
}
INSERT = (
    "insert into reads (case_id, fetus, reader, start_s, end_s, standard, category, would_act, outcome_hidden,"
    " occasion, import_id) values (?, 'A', ?, 0, 1800, ?, ?, ?, ?, ?, 1)"
)


@pytest.fixture
def db(tmp_path: Path) -> Path:
    db = tmp_path / "unit.duckdb"
    with database.open_for_writing(db) as con:
        for number, (one, two) in READS.items():
            case_id = f"C-{number}"
            con.execute("insert into cases (case_id, period) values (?, ?)", [case_id, f"2031-0{1 + number // 5}"])
            con.execute(INSERT, [case_id, "R1", "figo-2015", one, None, True, 1])
            if two:
                con.execute(INSERT, [case_id, "R2", "figo-2015", two, None, None, 1])
        con.execute(INSERT, ["C-1", "R1", "figo-2015", "suspicious", None, True, 2])
        con.execute(INSERT, ["C-1", "R2", "figo-2015", "pathological", None, False, 1])
        con.execute(INSERT, ["C-1", "R1", "nichd-2008", "I", None, True, 1])
        con.execute(
            "insert into window_categories (case_id, fetus, start_s, end_s, standard, category, run_id)"
            " values ('C-4', 'A', 0, 1800, 'figo-2015', 'suspicious', 'r')"
        )
    return db


def document(db: Path, **asked: str) -> dict[str, object]:
    with database.open_for_reading(db) as con:
        question = agreement.question(con, **asked)  # type: ignore[arg-type]
        return agreement.document(con, question, load_settings().agreement)


def measure(found: dict[str, object], name: str, category: str | None = None) -> dict[str, object]:
    rows = found["measures"]
    assert isinstance(rows, list)
    return next(row for row in rows if row["name"] == name and row["category"] == category)


def test_figures_counted_by_hand(db: Path) -> None:
    found = document(db)
    assert found["standard"] == "figo-2015"  # the most used one
    assert (found["windows"], found["readers"], found["reads"]) == (8, 2, 16)
    assert found["reads_outcome_not_stated"] == 7
    assert found["outcome_said"].startswith("Reads: 9 of 16 came by file and are blind as the file says; for 7 nobody")
    # 4 of the 7 windows read by both are alike; 2 x both / (first + second) for each category
    assert measure(found, "proportion_of_agreement")["estimate"] == pytest.approx(4 / 7)
    assert measure(found, "specific_agreement", "normal")["estimate"] == pytest.approx(2 * 2 / (4 + 2))
    assert measure(found, "specific_agreement", "pathological")["estimate"] == pytest.approx(2 * 1 / (1 + 3))
    pair = found["pairs"][0]  # type: ignore[index]
    # chance agreement from the margins 4 2 1 and 2 2 3 of 7: (8 + 4 + 3) / 49
    assert pair["kappa"] == pytest.approx((4 / 7 - 15 / 49) / (1 - 15 / 49))
    assert [row["windows"] for row in found["repeat_reads"]] == [1]  # type: ignore[attr-defined]
    assert found["computed"]["windows"] == 1  # type: ignore[index]


def test_month_standard_and_item_are_respected(db: Path) -> None:
    assert document(db, period="2031-01")["windows"] == 4
    assert document(db, period="2031-02")["windows"] == 4
    assert document(db, standard="nichd-2008")["windows"] == 1
    assert document(db, period="2030-01")["windows"] == 0
    assert document(db, item="variability")["windows"] == 0
    with pytest.raises(UsageError, match="item"):
        document(db, item="colour")
    with pytest.raises(UsageError, match="standard"):
        document(db, standard="own")


def test_windows_apart_reads_side_by_side_leaning_months_and_hindsight(db: Path) -> None:
    with database.open_for_reading(db) as con:
        asked = agreement.question(con)
        apart = agreement.windows_apart(con, asked)
        assert [row.window[0] for row in apart[:3]] == ["C-7", "C-3", "C-5"]
        side = agreement.reads_of_window(con, asked, ("C-4", "A", 0.0, 1800.0))
        assert list(side["reader"]) == ["R1", "R2", "computed"]
        assert set(side["category"]) == {"suspicious"}
        leaning = {row.reader: row for row in agreement.reader_leanings(con, asked, load_settings().agreement)}
        months = agreement.by_month(con, asked, load_settings().agreement)
        shift = agreement.hindsight(con, asked)
    # with the least of two readers for a consensus lowered to the one other reader there is
    assert (leaning["R2"].more_severe, leaning["R2"].less_severe) == (3, 0)
    assert sorted({row.period for row in months}) == ["2031-01", "2031-02"]
    # R2 read C-1 as normal, and as pathological once the outcome was known; but only a file says so
    assert shift.pairs == 0
    assert shift.note is not None
    assert "1 that came by file" in shift.note
    with database.open_for_writing(db) as con:
        con.execute("update reads set import_id = null where case_id = 'C-1'")  # made here
    with database.open_for_reading(db) as con:
        shift = agreement.hindsight(con, asked)
        rows = agreement.windows_behind(con, asked, load_settings().agreement, "hindsight")
    assert (shift.pairs, shift.more_severe) == (1, 1)
    assert [(row.window[0], row.first, row.second) for row in rows] == [("C-1", "normal", "pathological")]


def test_the_command_prints_one_document_without_nan(db: Path) -> None:
    result = CliRunner().invoke(cli, ["--db", str(db), "agreement", "--json"], catch_exceptions=False)
    assert result.exit_code == 0
    found = json.loads(result.stdout)
    assert set(found) >= {"standard", "item", "period", "windows", "readers", "measures", "pairs", "repeat_reads"}
    names = {row["name"] for row in found["measures"]}
    assert names >= {
        "proportion_of_agreement", "specific_agreement", "fleiss_kappa", "krippendorff_alpha_nominal",
        "krippendorff_alpha_ordinal", "krippendorff_alpha_interval", "gwet_ac1", "gwet_ac2",
        "intraclass_correlation",
    }  # fmt: skip
    for row in found["measures"]:
        assert row["estimate"] is not None or row["note"]
    assert "NaN" not in result.stdout


@pytest.mark.parametrize("item", ["baseline_bpm", "would_act", "decelerations", "category"])
def test_nothing_read_gives_sentences_and_nulls(tmp_path: Path, item: str) -> None:
    db = tmp_path / "unit.duckdb"
    with database.open_for_writing(db):
        pass
    result = CliRunner().invoke(cli, ["--db", str(db), "agreement", "--item", item, "--json"], catch_exceptions=False)
    found = json.loads(result.stdout)
    assert found["windows"] == 0
    assert all(row["estimate"] is None and row["note"] for row in found["measures"])
    text = CliRunner().invoke(cli, ["--db", str(db), "agreement", "--item", item], catch_exceptions=False)
    assert "0 windows" in text.stdout
