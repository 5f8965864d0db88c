"""The annual report: twelve months as one, no case named, small counts hidden."""

import csv
from pathlib import Path

import pytest
from pypdf import PdfReader

from audit.cli import main
from audit.store import database
from tests.page_databases import small_database


def run(db: Path, out: Path, *arguments: str) -> int | str | None:
    with pytest.raises(SystemExit) as left:
        main(["--db", str(db), "pack", "--out", str(out), *arguments])
    return left.value.code


@pytest.mark.slow
def test_a_year_is_one_report_without_cases_and_small_counts(tmp_path: Path) -> None:
    db = small_database(tmp_path)
    assert run(db, tmp_path / "out", "--year", "2031-01") == 0
    (report,) = (tmp_path / "out").glob("*.pdf")
    assert report.name == "pack_2031-01_to_2031-12_outside.pdf"
    text = "\n".join(page.extract_text() for page in PdfReader(report).pages)
    assert "Annual report on 2031-01 to 2031-12" in text
    assert "C-001" not in text
    with (tmp_path / "out/tables_2031-01_to_2031-12_outside/cover.csv").open() as file:
        rows = list(csv.reader(file))
    numbers = [row[1] for row in rows[1:]]
    assert not [count for count in numbers if count.isdigit() and 0 < int(count) < 5]
    assert run(db, tmp_path / "no", "--year", "2041") == 1
    assert run(db, tmp_path / "no", "--year", "2031-02") == 2
    assert run(db, tmp_path / "other", "--year", "2031-02", "--overlapping") == 0
    (other,) = (tmp_path / "other").glob("*.html")
    assert "This report overlaps with others" in other.read_text(encoding="utf-8")


@pytest.mark.slow
def test_bands_stand_in_it_only_where_the_unit_switched_them_on(tmp_path: Path) -> None:
    db = small_database(tmp_path)
    with database.open_for_writing(db) as con:
        con.execute("update cases set age_band = 'under_20' where case_id = 'C-001'")
    assert run(db, tmp_path / "off", "--year", "2031-01") == 0
    assert not list((tmp_path / "off").glob("tables_*/equity_*.csv"))
    (tmp_path / "unit_settings.toml").write_text("[equity]\ncompare = true\n")
    assert run(db, tmp_path / "on", "--year", "2031-01") == 0
    [file] = (tmp_path / "on").glob("tables_*/equity_age_band.csv")
    with file.open(encoding="utf-8-sig") as rows:
        found = list(csv.DictReader(rows))
    assert {row["Band"] for row in found} == {"under 20", "not given"}
    # one labour in a band, and the only other row would tell it: nothing is left
    assert {row["Of"] for row in found if row["Measure"] == "Labours"} == {"hidden"}
    assert run(db, tmp_path / "month", "--period", "2031-04") == 0
    assert not list((tmp_path / "month").glob("tables_*/equity_*.csv"))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "found neither"),
        (("--period", "2031-04", "--year", "2031"), "found both"),
        (("--year", "soon"), "expected YYYY"),
        (("--year", "2031", "--feedback"), "names no case"),
    ],
)
def test_one_of_month_and_year_is_asked_for(tmp_path: Path, capsys, arguments: tuple[str, ...], said: str) -> None:
    assert run(tmp_path / "unit.duckdb", tmp_path, *arguments) == 2
    assert said in capsys.readouterr().err
