# ruff: noqa: E501 (one bad file a line reads best)
"""The door: files with a direct identifier in them are refused, the column named and the value never repeated."""

from pathlib import Path

import pytest

from audit.intake.door import deidentify
from audit.intake.importer import import_paths
from audit.settings import load_settings
from tests.robustness.import_support import Hostile, check, held

# Identifier kinds follow 45 CFR 164.514(b)(2)(i). All names, numbers and addresses are invented.
NAMES = [
    "name", "Patient Name", "patientName", "mother_name", "First name", "Surname", "dob", "date_of_birth", "BirthDate",
    "date", "admission_date", "mrn", "MRN", "patient_id", "hospital number", "nhs_number", "national_id", "ssn",
    "phone", "Telephone no", "mobile", "e-mail", "email", "address", "post code", "zip", "device_serial", "serial no",
    "ip_address", "url", "midwife_name", "vorname", "geburtsdatum",
]  # fmt: skip
CONTENTS = [
    ("2025-03-14", "a calendar date"),
    ("14.03.2025", "a calendar date"),
    ("03/14/2025", "a calendar date"),
    ("14 Mar 2025", "a calendar date"),
    ("March 14, 2025", "a calendar date"),
    ("20250314", "a calendar date"),
    ("2025-03-14T10:31:22Z", "a calendar date"),
    ("10:31:22", "a time of day"),
    ("born at 10:31", "a time of day"),
    ("quill@example.org", "an e-mail address"),
    ("+45 12 34 56 78", "a telephone number"),
    ("(555) 123-4567", "a telephone number"),
    ("07700 900123", "a telephone number"),
    ("123-45-6789", "a national number"),
    ("010190-1234", "a national number"),
    ("943 476 5919", "a national number"),
    ("4827163950", "a record number"),
    ("MRN 00234711", "a record number"),
    ("SN48271639", "a device serial number"),
    ("00:1B:44:11:3A:B7", "a network address"),
    ("192.168.0.12", "a network address"),
    ("https://example.org/x", "a web address"),
    ("Quill, Tessa", "a name"),
    ("Dr Quill", "a name"),
    ("Mrs. T. Quill", "a name"),
]
CODE_ONLY = ["Tessa Quill", "tessa.quill", "Tessa-Quill", "Tessa_Quill"]


@pytest.mark.parametrize("column", NAMES)
def test_a_column_named_for_an_identifier_stops_the_file(column: str, tmp_path: Path):
    data = f"case_id,period,{column}\nC-1,2025-03,x9\n".encode()
    check(
        Hostile("cases.csv", data, "announces a direct identifier", 1, column, shown=("remove the column",)), tmp_path
    )


@pytest.mark.parametrize(("text", "kind"), CONTENTS)
@pytest.mark.parametrize("place", ["unknown_column", "case_id", "reader", "detail"])
def test_an_identifier_in_a_value_stops_the_file(text: str, kind: str, place: str, tmp_path: Path):
    quoted = f'"{text}"'
    rows = {
        "unknown_column": ("case_id,period,remark\nC-1,2025-03,fine\nC-2,2025-03,{}\n", 3, "remark"),
        "case_id": ("case_id,period\nC-1,2025-03\n{},2025-03\n", 3, "case_id"),
        "reader": ("case_id,reader,start_s,end_s,standard,category\nC-1,{},0,900,figo-2015,normal\n", 2, "reader"),
        "detail": ("case_id,at_s,event,detail\nC-1,5,birth,{}\n", 2, "detail"),
    }
    template, row, column = rows[place]
    file = Hostile("table.csv", template.format(quoted).encode(), kind, row, column, shown=("masked",), hidden=(text,))
    check(file, tmp_path)


@pytest.mark.parametrize("text", CODE_ONLY)
@pytest.mark.parametrize("column", ["case_id", "reader"])
def test_a_name_where_a_code_belongs_stops_the_file(text: str, column: str, tmp_path: Path):
    values = {"case_id": "C-1", "reader": "R1", column: text}
    data = f"case_id,reader,start_s,end_s,standard,category\n{values['case_id']},{values['reader']},0,900,figo-2015,normal\n"
    check(Hostile("reads.csv", data.encode(), "a name", 2, column, hidden=(text,)), tmp_path)


@pytest.mark.parametrize("text", ["2025-03-14 10:31:22", "10:31:22", "1741948282", "1741948282000", "14.03.2025"])
def test_a_calendar_clock_in_the_time_of_a_tracing_stops_the_file(text: str, tmp_path: Path):
    data = f"case_id,t_s,fhr_bpm,toco\nC-1,{text},140,1\nC-1,{text},140,1\n".encode()
    file = Hostile("tracing.csv", data, "seconds from the case's first sample", 2, "t_s", hidden=(text,))
    check(file, tmp_path)


@pytest.mark.parametrize("column", ["birth_s", "second_stage_s"])
def test_a_calendar_clock_in_the_time_of_a_case_stops_the_file(column: str, tmp_path: Path):
    data = f"case_id,period,{column}\nC-1,2025-03,1741948282\n".encode()
    check(Hostile("cases.csv", data, "a calendar date", 2, column, hidden=("1741948282",)), tmp_path)


def test_a_full_date_as_period_stops_the_file(tmp_path: Path):
    data = b"case_id,period\nC-1,2025-03-14\n"
    check(Hostile("cases.csv", data, "a calendar date", 2, "period", hidden=("2025-03-14",)), tmp_path)


def test_a_file_without_a_header_row_does_not_repeat_its_first_row(tmp_path: Path):
    data = b'"Quill, Tessa",4827163950,140,10\n'
    check(Hostile("rows.csv", data, "a name", 1, "header", hidden=("Quill", "4827163950")), tmp_path)


def test_a_row_of_the_wrong_length_does_not_repeat_an_identifier(tmp_path: Path):
    data = b"case_id,period\nC-1,2025-03\nC-2,2025-03,quill@example.org\n"
    check(Hostile("cases.csv", data, "an e-mail address", 3, "value 3", hidden=("quill@",)), tmp_path)


def test_identifiers_in_a_wfdb_header_stop_the_record(tmp_path: Path):
    lines = "C1 1 4 4\nC1.dat 16 100(0)/bpm 12 0 1 10 0 FHR\n"
    samples = {"C1.dat": bytes([1, 0, 2, 0, 3, 0, 4, 0])}
    for k, (comment, says) in enumerate([("#Name: T. Quill", "identifier"), ("#seen 14.03.2025", "a calendar date")]):
        folder = tmp_path / str(k)
        folder.mkdir()
        file = Hostile("C1.hea", (lines + comment + "\n").encode(), says, 3, ["Name", "comment"][k], beside=samples, hidden=("Quill", "14.03"))  # fmt: skip
        check(file, folder)


@pytest.mark.parametrize("name", ["Quill, Tessa.csv", "quill@example.org.csv", "010190-1234.csv"])
def test_an_identifier_in_the_name_of_the_file_stops_it_and_is_not_repeated(name: str, tmp_path: Path):
    file = tmp_path / name
    file.write_text("case_id,period\nC-1,2025-03\n")
    report = import_paths(tmp_path / "unit.duckdb", [file], settings=load_settings())
    assert report.exit_code == 3
    assert "rename the file" in report.lines()[0]
    assert name[:5] not in "".join(report.lines())
    counts, listed = held(tmp_path / "unit.duckdb")
    assert set(counts.values()) == {0}
    assert name[:5] not in repr(listed)


@pytest.mark.parametrize("name", ["export_2025-04-01.csv", "C-1.csv", "20250401.csv", "Labour Ward.csv", "1002.csv"])
def test_an_export_date_or_number_in_the_name_of_the_file_is_fine(name: str, tmp_path: Path):
    file = tmp_path / name
    file.write_text("case_id,period\nC-1,2025-03\n")
    assert import_paths(tmp_path / "unit.duckdb", [file], settings=load_settings()).exit_code == 0


ORDINARY = [
    "C-2025-0031", "1002", "case-0001", "demo_12", "U3-2025-03-017", "twin-12", "M07-012", "L2503-017", "C-1234567",
    "550e8400-e29b-41d4-a716-446655440000", "Case 12", "25-0031", "A", "Labour_West-7",
]  # fmt: skip
ORDINARY_TEXT = [
    "2025-03", "late decelerations", "not assessable", "emergency caesarean", "scalp_electrode", "1:2", "10 to 15", "7.25",
    "3250", "28799.75", "-3.5", "40 ms", "Reassuring", "spont. vaginal", "G2P1", "38+4", "1/3", "Uterine Activity",
]  # fmt: skip


@pytest.mark.parametrize("text", ORDINARY)
def test_an_ordinary_code_is_no_identifier(text: str):
    assert deidentify.identifier_in(text, code=True) is None


@pytest.mark.parametrize("text", ORDINARY_TEXT)
def test_ordinary_text_is_no_identifier(text: str):
    assert deidentify.identifier_in(text) is None


def test_no_column_of_the_contract_announces_an_identifier():
    from audit.intake.formats.tables import EXPERT_COLUMNS, OPTIONAL, REQUIRED

    names = {name for table in (REQUIRED, OPTIONAL) for columns in table.values() for name in columns}
    assert [name for name in sorted(names | set(EXPERT_COLUMNS)) if deidentify.announces_identifier(name)] == []
    for name in ("event_name", "file_name", "spo2", "quality", "fhr_quality", "remark", "time_s", "signal_name"):
        assert not deidentify.announces_identifier(name)


def test_ordinary_codes_go_through_the_whole_import(tmp_path: Path):
    file = tmp_path / "cases.csv"
    file.write_text("case_id,period\n" + "".join(f"{text},2025-03\n" for text in ORDINARY), encoding="utf-8")
    report = import_paths(tmp_path / "unit.duckdb", [file], settings=load_settings())
    assert report.exit_code == 0
    assert report.rows_accepted == len(ORDINARY)
