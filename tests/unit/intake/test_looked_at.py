"""What is said of a workbook or a recording before it is taken: each sheet, the channels, proposals, and no typed name.

The files are written by independent libraries: openpyxl and edfio.
"""

import gzip
from pathlib import Path

import edfio
import numpy as np
import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.intake.looked_at import looked_at
from audit.settings import load_settings
from tests.unit.intake.formats.test_workbook import xlsx

pytestmark = pytest.mark.slow

OURS = [["case_id", "at_s", "event"], ["C1", 600, "epidural"]]
CASES = [
    ["Geburtshilfe"],
    ["Fallnummer", "Geburtsdatum", "NA-pH"],
    *([f"C{k}", f"1{k}.04.2031", 7.2] for k in range(9)),
]
TRACING = [["Fall", "Sekunden", "FHR", "Toco"], *(["C1", k / 4, 130 + k % 9, 10 + k % 30] for k in range(40))]


def test_each_sheet_is_told_and_those_with_other_columns_are_proposed_a_mapping():
    data = gzip.compress(xlsx(Quill=OURS, b=CASES, c=[["T. Quill", "x"], ["y", "z"]], d=TRACING))
    found = looked_at("book.xlsx", data, load_settings())
    assert [(each.place, each.said, each.proposal is not None) for each in found] == [
        ("sheet 1", "care events, with our own columns", False),
        ("sheet 2", "columns of another name", True),
        ("sheet 3", "no column that is known; left alone", False),
        ("sheet 4", "columns of another name", True),
    ]
    assert [each.proposal.kind for each in found if each.proposal] == ["cases", "tracing"]
    assert "Quill" not in repr([(each.said, each.lines()) for each in found if each.place != "sheet 3"])


def test_mappings_of_a_workbook_are_kept_and_read_their_sheets(tmp_path: Path):
    book, db = tmp_path / "book.xlsx", tmp_path / "unit.duckdb"
    book.write_bytes(xlsx(a=CASES, b=TRACING))
    run = CliRunner()
    said = run.invoke(cli, ["--db", str(db), "import", "--guess", str(book), "--mapping", "ward", "--yes"])
    assert "next: import --mapping ward --mapping ward_2 FILE" in said.output
    both = run.invoke(cli, ["--db", str(db), "import", "--mapping", "ward", "--mapping", "ward_2", str(book)])
    assert both.exit_code == 0
    assert "stored, 9 cases" in both.output
    assert "stored, 40 samples" in both.output


def test_the_channels_of_a_recording_are_told(tmp_path: Path):
    names = {"FHR": 300, "UC": 100, "SpO2": 100}
    signals = [
        edfio.EdfSignal(np.full(40, 90.0), 4, label=name, physical_range=(0, high)) for name, high in names.items()
    ]
    patient = edfio.Patient(name="Tessa_Quill")
    edfio.Edf(signals, patient=patient, annotations=[edfio.EdfAnnotation(3, None, "Epidural")]).write(
        tmp_path / "C7.edf"
    )
    found = looked_at("Quill.edf", (tmp_path / "C7.edf").read_bytes(), load_settings())
    assert [(each.place, each.proposal) for each in found] == [("recording", None), ("annotations", None)]
    assert found[0].said.startswith("tracing, read without a mapping: fhr_bpm, toco. 1 signal is not stored")
    assert "Quill" not in repr(found)
