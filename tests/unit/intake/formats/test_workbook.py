"""Spreadsheets and zipped folders: the same rows as from CSV, sheet by sheet, and nothing of what is not ours.

The workbooks are written by independent libraries: openpyxl (xlsx) and odfpy (ods).
"""

import csv
import gzip
import io
import zipfile
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from tests.asking import ask

pytestmark = pytest.mark.slow

CASES = [["case_id", "period", "cord_artery_ph", "apgar_5", "ward name"], ["C1", "2031-03", 7.1, 9, "Ward of T. Quill"]]
EVENTS = [["case_id", "at_s", "event"], ["C1", 600, "epidural"], ["C1", 900.5, "senior_called"]]
READS = [
    ["case_id", "reader", "start_s", "end_s", "standard", "category"],
    ["C1", "R1", 0, 1800, "figo-2015", "normal"],
]


def xlsx(**sheets) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def ods(**sheets) -> bytes:
    book = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                if isinstance(value, timedelta):  # OpenDocument 1.3, part 3, 19.387: office:time-value is a duration
                    minutes, seconds = divmod(value.total_seconds(), 60)
                    cell = TableCell(valuetype="time", timevalue=f"PT{minutes:.0f}M{seconds:g}S")
                elif isinstance(value, str):
                    cell = TableCell(valuetype="string")
                    cell.addElement(P(text=value))
                else:
                    cell = TableCell(valuetype="float", value=value)
                line.addElement(cell)
            table.addElement(line)
        book.spreadsheet.addElement(table)
    out = BytesIO()
    book.write(out)
    return out.getvalue()


def take(db: Path, *files: Path):
    return import_paths(db, list(files), settings=load_settings())


def held(db: Path) -> list[list[tuple]]:
    asked = (
        "select case_id, period from cases",
        "select case_id, cord_artery_ph, apgar_5 from outcomes",
        "select case_id, at_s, event from care_events order by at_s",
        "select case_id, reader, category from reads",
    )
    return [ask(db, sql) for sql in asked]


EXPECTED = [
    [("C1", "2031-03")],
    [("C1", 7.1, 9)],
    [("C1", 600.0, "epidural"), ("C1", 900.5, "senior_called")],
    [("C1", "R1", "normal")],
]


@pytest.mark.parametrize(("write", "ending"), [(xlsx, "xlsx"), (ods, "ods")])
def test_sheets_of_a_workbook_are_taken_as_the_files_they_would_be(db, tmp_path, write, ending):
    book = tmp_path / f"Quill, Tessa.{ending}"
    book.write_bytes(write(reads=READS, events=EVENTS, cases=CASES))
    report = take(db, book)
    assert report.exit_code == 0
    assert [(file.kind, file.part) for file in report.files] == [
        ("cases", "sheet 3"),
        ("care_events", "sheet 2"),
        ("reads", "sheet 1"),
    ]
    assert held(db) == EXPECTED
    assert not any("Quill" in line for line in report.lines())
    again = take(db, book)
    assert {file.outcome for file in again.files} == {"unchanged"}


def test_a_zipped_folder_is_taken_as_the_folder(db, tmp_path):
    packed = tmp_path / "march.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("month/book.xlsx", xlsx(cases=CASES, events=EVENTS))
        text = io.StringIO()
        csv.writer(text).writerows(READS)
        archive.writestr("month/reads.csv", text.getvalue())
        archive.writestr("__MACOSX/._reads.csv", b"\0\0")
        archive.writestr("month/notes.md", "nothing")
    report = take(db, packed)
    assert report.exit_code == 0
    assert held(db) == EXPECTED


def test_a_month_that_became_a_date_is_a_month_again_and_a_sheet_of_notes_is_left_alone(db, tmp_path):
    book = tmp_path / "book.xlsx"
    cases = [[], ["Births of the month"], ["case_id", "period", "birth_weight_g"], ["C1", date(2031, 3, 1), 3400.0]]
    book.write_bytes(xlsx(notes=[["remember the forms"], ["T. Quill"]], cases=cases))
    report = take(db, book)
    assert [file.outcome for file in report.files] == ["stored", "left_alone"]
    assert "row 2 of the sheet" in report.files[0].message
    assert "the header stands in row 2;" in report.files[0].message
    with database.open_for_reading(db) as con:
        assert con.execute("select period from cases").fetchall() == [("2031-03",)]
        assert con.execute("select birth_weight_g from outcomes").fetchall() == [(3400.0,)]


def test_times_that_a_spreadsheet_holds_as_lengths_keep_their_quarter_seconds(db, tmp_path):
    book = tmp_path / "book.xlsx"
    lengths = [timedelta(seconds=at_s) for at_s in (0.25, 100_000.25, 123_456.75)]
    book.write_bytes(xlsx(events=[EVENTS[0], *(["C1", length, "epidural"] for length in lengths)]))
    take(db, book)
    with database.open_for_reading(db) as con:
        asked = "select at_s from care_events order by at_s"
        assert [at_s for (at_s,) in con.execute(asked).fetchall()] == [0.25, 100_000.25, 123_456.75]


@pytest.mark.parametrize("written", [xlsx, ods])
def test_times_that_a_spreadsheet_holds_are_read_as_the_column_wants_them(db, tmp_path, written):
    """As a time of day, as a length under a mapping, and as one in our own column of seconds."""
    start, units = timedelta(hours=10, minutes=15), tmp_path / "unit_settings.toml"
    clock = [[f"C{k}", start + timedelta(seconds=k), 140, 10] for k in (1, 1, 2)]
    clock[1][1] += timedelta(seconds=1.5)
    since = [["C1", timedelta(minutes=59, seconds=0.5), "epidural"], ["C1", timedelta(hours=26), "senior_called"]]
    own = [["case_id", "at_s", "event"], *(["C2", *row[1:]] for row in since)]
    book = tmp_path / f"book.{written.__name__}"
    book.write_bytes(
        written(a=[["Case", "Time", "FHR", "Toco"], *clock], b=[["Case", "Elapsed", "Event"], *since], c=own)
    )
    units.write_text("""
[import.mapping.strip]
kind = "tracing"
columns = {case_id = "Case", t_s = "Time", fhr_bpm = "FHR", toco = "Toco"}
units = {t_s = "clock"}
time_zone = "Europe/Berlin"
[import.mapping.acts]
kind = "care_events"
columns = {case_id = "Case", at_s = "Elapsed", event = "Event"}
units = {at_s = "duration"}
""")
    import_paths(db, [book], settings=load_settings(units), mapping=["strip", "acts"])
    with database.open_for_reading(db) as con:
        found = con.execute("select case_id, at_s from care_events order by all").fetchall()
        assert found == [("C1", 3540.5), ("C1", 93600.0), ("C2", 3540.5), ("C2", 93600.0)]
        assert con.execute("select * from case_clocks order by all").fetchall()[0][:2] == ("C1", 36901.0)


def test_rows_are_numbered_as_the_sheet_numbers_them(db, tmp_path):
    book = tmp_path / "book.xlsx"
    book.write_bytes(xlsx(events=[EVENTS[0], ["C1", 5, "epidural"], [], ["C1", "soon", "epidural"]]))
    (file,) = take(db, book).files
    assert [(remark.row_number, remark.column_name) for remark in file.rejects] == [(4, "at_s")]


def packed(entries: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return out.getvalue()


def _link() -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        entry = zipfile.ZipInfo("link.csv")
        entry.external_attr = 0o120777 << 16
        archive.writestr(entry, "/etc/hostname")
    return out.getvalue()


def _locked() -> bytes:
    data = bytearray(packed({"a.csv": b"case_id"}, zipfile.ZIP_STORED))
    data[data.find(b"PK\x01\x02") + 8] |= 1
    return bytes(data)


REFUSED = [
    (packed({"a.csv": bytes(3_000_000)}), "200 times its packed size"),
    (packed({"xl/workbook.xml": bytes(3_000_000)}), "200 times its packed size"),
    (packed({"../a.csv": b"case_id,period\nC1,2031-03\n"}), "leads out of it"),
    (packed({"/a.csv": b"case_id,period\nC1,2031-03\n"}), "leads out of it"),
    (packed({"c:a.csv": b"case_id,period\nC1,2031-03\n"}), "leads out of it"),
    (packed({"in.zip": packed({"a.csv": b"case_id,period\nC1,2031-03\n"})}), "inside another"),
    (packed({}), "no file in the zip archive"),
    (_link(), "is a link"),
    (_locked(), "locked with a password"),
    (packed({"a.csv": b"x" * 1000})[:-30], "damaged or cut off"),
    (packed({"xl/workbook.xml": b"<workbook/>"}), "workbook is damaged"),
    (xlsx(empty=[]), "no sheet with anything in it"),
]


def test_what_would_burst_or_break_out_is_refused(offered, tmp_path):
    for outcome, (_, says) in zip(offered([data for data, _ in REFUSED], ".zip"), REFUSED, strict=True):
        assert outcome.outcome == "refused", says
        assert says in outcome.message
    assert [path.name for path in tmp_path.iterdir() if "a.csv" in path.name] == []


def test_the_number_of_files_in_an_archive_has_a_limit(db, tmp_path, monkeypatch):
    monkeypatch.setattr("audit.intake.formats.archive._MOST_ENTRIES", 2)
    file = tmp_path / "month.zip"
    file.write_bytes(packed({f"{k}.csv": b"case_id,period\nC1,2031-03\n" for k in range(3)}))
    (outcome,) = take(db, file).files
    assert "found 3 files" in outcome.message


def test_which_names_the_sheet_and_the_file_in_an_archive(db, tmp_path):
    from click.testing import CliRunner

    from audit.cli import cli

    file = tmp_path / "month.zip"
    file.write_bytes(packed({"a/book.xlsx": xlsx(cases=CASES, events=EVENTS)}))
    said = CliRunner().invoke(cli, ["--db", str(db), "which", "2", str(file)])
    assert said.output.strip() == f"{file}: a/book.xlsx, sheet 2"
    packed_table = tmp_path / "ward.csv.gz"
    packed_table.write_bytes(gzip.compress(b"Fallnummer;Geburtsdatum\nC1;14.04.2031\n"))
    said = CliRunner().invoke(cli, ["--db", str(db), "which", "1", str(packed_table)])
    assert said.output.strip() == str(packed_table)


ASSESSMENTS = [
    ["case_id", "at_s", "standard", "category", "assessor", "baseline_bpm", "risk"],
    ["C1", 600, "figo-2015", "suspicious", "midwife", 135, "meconium,epidural"],
    ["C1", 1200.5, "nice-ng229", "normal", "obstetrician", 140.5, ""],
]
MONTHS = [["period", "births", "caesareans", "deaths"], ["2031-03", 240, 61, 0], ["2031-04", 231, 58, 1]]


@pytest.mark.parametrize(("write", "ending"), [(xlsx, "xlsx"), (ods, "ods")])
def test_assessments_and_months_of_a_workbook_are_those_of_the_same_files(tmp_path, write, ending):
    """Each sheet beside the same rows written as CSV by the standard library: every column that is stored is alike."""
    stored = {}
    for way in ("book", "files"):
        folder = tmp_path / way
        folder.mkdir()
        if way == "book":
            (folder / f"book.{ending}").write_bytes(write(months=MONTHS, assessments=ASSESSMENTS, cases=CASES))
        else:
            for name, rows in (("months", MONTHS), ("assessments", ASSESSMENTS), ("cases", CASES)):
                with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                    csv.writer(file).writerows(rows)
        db = tmp_path / f"{way}.duckdb"
        assert take(db, *folder.iterdir()).exit_code == 0
        with database.open_for_reading(db) as con:
            asked = ("select * exclude (import_id) from assessments order by all", "select * from unit_months")
            stored[way] = [con.execute(sql).fetchall() for sql in asked]
    assert stored["book"] == stored["files"]
    assert [len(rows) for rows in stored["book"]] == [2, 2]
    assert "2031-04" in repr(stored["book"][1])


def test_cells_with_an_error_or_a_formula_that_nobody_worked_out_are_said(db, tmp_path):
    """ECMA-376 part 1, 18.18.11: t="e" is an error; 18.3.1.96: a cell without v has no result; openpyxl writes none."""
    rows = [["case_id", "period", "cord_artery_ph"], ["C1", "2031-03", "#N/A"], ["C2", "2031-03", "=1+1"]]
    file = tmp_path / "cases.xlsx"
    file.write_bytes(xlsx(cases=[*rows, ["C3", "2031-03", 7.21]]))
    report = take(db, file)
    assert "2 cells of the workbook with an error (such as #N/A)" in " ".join(report.lines())
    assert ask(db, "select cord_artery_ph from outcomes where case_id = 'C3'") == [(7.21,)]
    whole = tmp_path / "whole.xlsx"
    whole.write_bytes(xlsx(cases=CASES))
    assert "with an error" not in " ".join(take(db, whole).lines())
