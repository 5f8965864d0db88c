"""Files read under a mapping: identifiers in every column, name of a file and header, and none is found anywhere.

What may be stored is what the contract allows, as for files of our own; dates of birth give a month and no day.
"""

import json
import logging
from pathlib import Path

import pytest
from click.testing import CliRunner

from audit.cli import cli
from tests.identifier_corpus import identifiers
from tests.robustness.test_import_identifiers import table

# figures and clock times alone are numbers and times of the day; they have their places in mapped columns
CELLS = [cell for kind, cell in identifiers() if kind != "time of day" and not cell.isdigit()][::4]
SETTINGS = """
[import.mapping.cases]
kind = "cases"
columns = {case_id = "Nr", period = "Datum", mode_of_birth = "Modus", cord_artery_ph = "pH", birth_s = "Zeit"}
units = {period = "date", birth_s = "clock"}
time_zone = "Europe/Berlin"
words = {mode_of_birth = {spontan = "spontaneous"}}
[import.mapping.events]
kind = "care_events"
columns = {case_id = "Nr", at_s = "Zeit", event = "Was"}
units = {at_s = "clock"}
time_zone = "Europe/Berlin"
[import.mapping.tracing]
kind = "tracing"
columns = {t_s = "Zeit", fhr_bpm = "FHF", toco = "Toko"}
case_id_from_file = "^(.*)[.]csv$"
"""


@pytest.mark.parametrize("mapping", ["cases", "events", "tracing"])
def test_nothing_that_was_typed_is_stored_or_said(
    mapping: str, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    db, incoming = tmp_path / "unit.duckdb", tmp_path / "in"
    incoming.mkdir()
    (tmp_path / "unit_settings.toml").write_text(SETTINGS)
    if mapping == "cases":
        header = ["Nr", "Datum", "Modus", "pH", "Zeit", "Tessa Quill"]
        rows = [[c, "14.03.2031", c, c, c, c] for c in CELLS] + [
            [f"C{k}", c, "", "", "", ""] for k, c in enumerate(CELLS)
        ]
    elif mapping == "events":
        header = ["Nr", "Zeit", "Was", "Tessa Quill"]
        rows = [[c, c, c, c] for c in CELLS] + [[f"C{k}", "14.03.2031 12:30", c, c] for k, c in enumerate(CELLS)]
    else:
        header = ["Zeit", "FHF", "Toko", "Tessa Quill"]
        rows = [[str(k / 4), "140", "10", c] for k, c in enumerate(CELLS)] + [[c, c, c, c] for c in CELLS]
    (incoming / "Quill, Tessa.csv").write_text(table([header, *rows]), encoding="utf-8")
    found = CliRunner().invoke(cli, ["--db", str(db), "import", "--mapping", mapping, "--json", str(incoming)])
    assert json.loads(found.stdout)["exit_code"] == 3
    kept = "".join(file.read_bytes().decode("latin-1") for file in tmp_path.glob("unit.*") if file.is_file())
    said = found.output + caplog.text
    hidden = [cell for cell in (*CELLS, "Quill, Tessa", "Tessa Quill", "14.03.2031") if len(cell) > 4]
    assert [cell for cell in hidden if cell in said or cell in kept or cell.encode().decode("latin-1") in kept] == []
