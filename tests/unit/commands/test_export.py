"""What goes out: the same rows in each format, each column said, no cell that runs, a strip that opens."""

import codecs
import csv
import os
import re
from pathlib import Path

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
import pypdf
import pytest
from click.testing import CliRunner

from audit import house_style
from audit.cli import cli
from audit.people import actions
from audit.questions.export import Out
from audit.settings import UNIT_FILE_NAME, load_settings
from audit.store import people_database
from audit.tables.files_out import write
from audit.vocabulary import EQUITY_FIELDS
from tests import page_databases

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def db(tmp_path_factory) -> Path:
    file = page_databases.small_database(tmp_path_factory.mktemp("unit"))
    return file


def run(db: Path, *args: str):
    return CliRunner().invoke(cli, ["--db", str(db), "export", *args])


def texts(rows):
    """Cells as text, so that formats can be compared."""
    return [["" if cell is None else str(cell) for cell in row] for row in rows]


def test_csv_parquet_and_workbook_hold_the_same_rows(db, tmp_path):
    for kind in ("csv", "parquet", "xlsx"):
        found = run(db, "cases", "episodes", "findings", "reads", "--out", str(tmp_path / kind), "--format", kind)
        assert found.exit_code == 0, found.output
    book = openpyxl.load_workbook(tmp_path / "xlsx" / "export.xlsx")
    for name in ("cases", "outcomes", "concern_episodes", "responses", "decelerations", "reads", "burden"):
        table = pq.read_table(tmp_path / "parquet" / f"{name}.parquet")
        with (tmp_path / "csv" / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
            rows = list(csv.reader(stream))
        assert rows[0] == table.column_names
        assert len(rows) == len(table) + 1
        sheet = [[cell.value for cell in row] for row in book[name].iter_rows()]
        assert [row[0] for row in sheet] == [row[0] for row in rows]
        assert len(sheet) == len(rows)
    assert len(pq.read_table(tmp_path / "parquet" / "cases.parquet")) > 1


def test_the_dictionary_says_what_each_column_means(db, tmp_path):
    run(db, "cases", "episodes", "findings", "reads", "actions", "minutes", "events", "--out", str(tmp_path))
    with (tmp_path / "dictionary.csv").open(encoding="utf-8", newline="") as stream:
        head, *rows = csv.reader(stream)
    assert head == ["table", "column", "kind", "meaning"]
    assert all(meaning for *_, meaning in rows)
    said = {(table, column) for table, column, *_ in rows}
    # bands stay, and the hash of the row that holds them, from which each could be tried
    assert not {column for _, column in said} & {*EQUITY_FIELDS, "content_sha256"}
    for file in tmp_path.glob("*.csv"):
        if file.stem != "dictionary":
            with file.open(encoding="utf-8", newline="") as stream:
                assert {(file.stem, name) for name in next(csv.reader(stream))} <= said
    if os.name == "posix":
        assert all(file.stat().st_mode & 0o077 == 0 for file in tmp_path.glob("*.csv"))


def test_minutes_of_one_month_as_parquet(db, tmp_path):
    every = run(db, "minutes", "--out", str(tmp_path / "all"), "--format", "parquet")
    assert every.exit_code == 0
    run(db, "minutes", "--period", "2099-01", "--out", str(tmp_path / "none"), "--format", "parquet")
    assert len(pq.read_table(tmp_path / "all" / "minute_categories.parquet")) > 0
    assert len(pq.read_table(tmp_path / "none" / "minute_categories.parquet")) == 0


def test_csv_and_workbook_have_the_dates_marks_and_words_of_the_unit_and_parquet_what_is_stored(tmp_path):
    db = page_databases.small_database(tmp_path)
    (tmp_path / UNIT_FILE_NAME).write_text(
        '[locale]\ndecimal = ","\nthousands = "."\ndate = "07.04.2031"\npaper = "us-letter"\n'
        '[locale.events]\nposition_change = "Lageänderung"\n[locale.categories]\nnormal = "im Rahmen"\n'
        '[locale.words]\nspontaneous = "von selbst"\n',
        encoding="utf-8",
    )
    for kind in ("csv", "xlsx", "parquet"):
        found = run(db, "cases", "events", "minutes", "--out", str(tmp_path / kind), "--format", kind)
        assert found.exit_code == 0, found.output
    book = openpyxl.load_workbook(tmp_path / "xlsx" / "export.xlsx")
    seen = set()
    for name in ("cases", "outcomes", "care_events", "minute_categories"):
        file = tmp_path / "csv" / f"{name}.csv"
        # what a spreadsheet tells UTF-8 by (Unicode 16.0, 23.8), and nothing where there are no accents
        assert file.read_bytes().startswith(codecs.BOM_UTF8) is (name == "care_events")
        with file.open(encoding="utf-8-sig", newline="") as stream:
            head, *rows = csv.reader(stream, delimiter=";")
        sheet = [[cell.value for cell in row] for row in book[name].iter_rows()]
        stored = pq.read_table(tmp_path / "parquet" / f"{name}.parquet")
        assert int(book[name].page_setup.paperSize) == 1  # Letter, openpyxl's PAPERSIZE_LETTER
        assert head == sheet[0] == stored.column_names
        at = head.index("case_id")
        assert [row[at] for row in rows] == [row[at] for row in sheet[1:]] == stored["case_id"].to_pylist()
        cells = {cell for row in rows for cell in row} | {
            cell for row in sheet for cell in row if isinstance(cell, str)
        }
        assert not cells & {"position_change", "normal", "spontaneous"}
        assert not [cell for cell in cells if re.fullmatch(r"\d{4}-\d\d.*|(?!\d\d\.20\d\d$)-?\d+\.\d+", cell)]
        seen |= cells & {"Lageänderung", "im Rahmen", "04.2031"}
    assert seen == {"Lageänderung", "im Rahmen", "04.2031"}
    assert "position_change" in pq.read_table(tmp_path / "parquet" / "care_events.parquet")["event"].to_pylist()
    assert "MM.YYYY" in (tmp_path / "csv" / "dictionary.csv").read_text(encoding="utf-8")
    said = Out({"responses": pa.table({"note": ["2.4 min after position change"]})}, [])
    (file, _) = write(
        said, tmp_path / "said", "csv", style=house_style.of(load_settings(tmp_path / UNIT_FILE_NAME).locale)
    )
    assert "2,4 min after Lageänderung" in file.read_text(encoding="utf-8")


def test_text_that_a_spreadsheet_would_run_stays_text(tmp_path):
    # source of the rule: OWASP, 'CSV injection'
    db = page_databases.small_database(tmp_path)
    actions.add(db, "2031-03", '=HYPERLINK("x")', owner_role="@lead", due_period="2031-04", who="lead")
    assert people_database.ask(db, "actions_all")
    assert run(db, "actions", "--out", str(tmp_path / "x"), "--format", "xlsx").exit_code == 0
    sheet = openpyxl.load_workbook(tmp_path / "x" / "export.xlsx")["actions"]
    cells = {cell.value: cell.data_type for row in sheet.iter_rows() for cell in row}
    assert cells['\'=HYPERLINK("x")'] == "s"
    assert "f" not in cells.values()
    assert run(db, "actions", "--out", str(tmp_path / "c")).exit_code == 0
    assert "'@lead" in (tmp_path / "c" / "actions.csv").read_text(encoding="utf-8")


def test_a_strip_as_svg_and_pdf(db, tmp_path):
    from audit.store import database

    with database.open_for_reading(db) as con:
        case_id, fetus = con.execute("select case_id, fetus from tracings limit 1").fetchone()
    found = run(db, "--strip", case_id, "--fetus", fetus, "--out", str(tmp_path))
    assert found.exit_code == 0, found.output
    svg, pdf = (tmp_path / f"strip_{case_id}_{fetus}.{ending}" for ending in ("svg", "pdf"))
    text = svg.read_text(encoding="utf-8")
    (page,) = pypdf.PdfReader(pdf).pages
    # both are as wide: a CSS pixel is 1/96 inch (CSS Values 3, 6.2), a unit of PDF 1/72 (ISO 32000-1, 8.3.2.3)
    width_px = float(re.match(r'<svg[^>]* width="([0-9.]+)"', text)[1])
    assert float(page.mediabox.width) / 72 == pytest.approx(width_px / 96, rel=1e-4)


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ([], "nothing to export"),
        (["cases", "--period", "March"], "expected YYYY-MM"),
        (["--strip", "no such case"], "no tracing of this case"),
        (["everything"], "is not one of"),
    ],
)
def test_a_mistake_is_told_and_ends_with_2(db, tmp_path, args, says):
    from audit.errors import UsageError

    found = run(db, *args, "--out", str(tmp_path / "out"))
    code = found.exception.exit_code if isinstance(found.exception, UsageError) else found.exit_code
    assert code == 2
    assert says in f"{found.output}{found.exception}"


def test_nothing_is_written_over(db, tmp_path):
    assert run(db, "cases", "--out", str(tmp_path)).exit_code == 0
    again = run(db, "cases", "--out", str(tmp_path))
    assert "there is a file of this name" in str(again.exception)
