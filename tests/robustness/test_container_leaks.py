# ruff: noqa: E501 (one resource a line reads best)
"""Identifiers in the places that only archives, workbooks, recordings and bundles have: none is kept or said anywhere.

Kinds of identifiers: 45 CFR 164.514(b)(2)(i). Places: ECMA-376 (sheet names, properties), ZIP (names, comments), EDF+
(patient, recording, signals that are not ours, annotations), annot(5) notes, FHIR R4 (names, identifiers, displays,
extensions, narrative, references).
"""

import json
import logging
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np
import pytest
from click.testing import CliRunner

from audit.cli import cli
from audit.store import database, published
from tests.identifier_corpus import found_in
from tests.robustness.containers import cell, edf, fhr_signal, notes_signal, ods, sampled, wfdb_notes, xlsx, zipped
from tests.robustness.test_import_identifiers import CELLS, IN_A_LOG, table
from tests.robustness.test_nothing_leaks import words_in, written

SOME = CELLS[::7]
ASCII = [each for each in SOME if each.isascii()]
FILE_NAMES = [each for each in SOME if "/" not in each]
PLANTED = sorted({*FILE_NAMES[::40], *ASCII[::40], *SOME[:40], *SOME[1::9], *SOME[2::9]})
MINUTES = 10
FHR = np.round(
    1400 + 60 * np.sin(np.arange(MINUTES * 240) / 12) + np.random.default_rng(5).normal(0, 10, MINUTES * 240)
)


def workbook(k: int, who: str) -> bytes:
    core = f"<cp:coreProperties xmlns:cp='x' xmlns:dc='y'><dc:creator>{quoteattr(who)}</dc:creator></cp:coreProperties>"
    rows = [["case_id", "period", "remark", who], [f"X{k}", "2031-03", who, who], [who, "2031-03", "", ""]]
    sheet = "".join(
        f'<row r="{n}">'
        + "".join(cell(f"{'ABCD'[c]}{n}", quoteattr(text)[1:-1].replace("<", "&lt;")) for c, text in enumerate(row))
        + "</row>"
        for n, row in enumerate(rows, start=1)
    )
    return xlsx(
        sheet, name=quoteattr(who)[1:-1].replace('"', ""), more={"docProps/core.xml": core, "xl/comments1.xml": who}
    )


def recording(k: int, who: str) -> bytes:
    """An EDF+ file whose header and annotations say who it is."""
    other = [who, who, who, 0, 1, 0, 1, who, 4, who]
    notes = f"+0\x14\x14\0+5\x14{who}\x14\0+9\x14epidural\x14\0".encode().ljust(400, b"\0")[:400]
    data = (FHR + k).astype("<i2").tobytes()
    return edf([fhr_signal(len(FHR)), other, notes_signal(200)], data + bytes(8) + notes, record_s=len(FHR) / 4, patient=who, recording=who)  # fmt: skip


def bundle(k: int, who: str) -> bytes:
    """A labour with a tracing, and persons and texts in every other place."""
    tracing = json.loads(sampled(" ".join(f"{each / 10:g}" for each in FHR + 3 + k)))
    said = {"text": {"status": "generated", "div": who}, "extension": [{"url": who, "valueString": who}]}
    tracing |= said | {
        "id": who, "identifier": [{"system": who, "value": who}], "note": [{"text": who}], "subject": {"reference": f"Patient/{who}", "display": who},
        "encounter": {"reference": f"Encounter/{who}", "display": who}, "performer": [{"display": who}], "device": {"display": who},
    }  # fmt: skip
    tracing["code"] |= {"text": who}
    tracing["code"]["coding"][0]["display"] = who
    person = {"resourceType": "Patient", "id": who, "name": [{"family": who}], "birthDate": who, "telecom": [{"value": who}]} | said  # fmt: skip
    odd = {"resourceType": who, "id": who}
    event = {"resourceType": "Procedure", "status": "completed", "code": {"coding": [{"code": who, "display": who}]},
             "performedDateTime": who, "encounter": {"reference": f"Encounter/{who}"}}  # fmt: skip
    return json.dumps({"resourceType": "Bundle", "entry": [{"fullUrl": who, "resource": each} for each in (person, tracing, event, odd)]}).encode()  # fmt: skip


def plant(folder: Path) -> None:
    for k, who in enumerate(FILE_NAMES[::40]):
        (folder / f"{who} a.xlsx").write_bytes(workbook(k, who))
        (folder / f"{who} b.zip").write_bytes(
            zipped({f"{who}/{who}.csv": f"case_id,period\nZ{k},2031-03\n{who},2031-03\n", f"{who}.txt": who, f"{who}.csv": who},
                   comment=who.encode(), about=who.encode())
        )  # fmt: skip
        (folder / f"{who} c.json").write_bytes(bundle(k, who))
        (folder / f"{who} d.json").write_bytes(json.dumps({"resourceType": who, "value": who}).encode() + who.encode())
    for k, who in enumerate(ASCII[::40]):
        (folder / f"E{k}.edf").write_bytes(recording(k, who))
        (folder / f"bad{k}.edf").write_bytes(recording(k, who).replace(b"+0\x14", b"x0\x14"))
    rows = "".join(f"<table:table-row>{_cell(each)}{_cell(each)}</table:table-row>" for each in ("case_id", *SOME[:40]))
    (folder / "f.ods").write_bytes(ods(rows))
    for k in (1, 2):
        body = (FHR + 20 + k).astype("<i2").tobytes()
        (folder / f"R{k}.hea").write_text(f"R{k} 1 4 {len(FHR)}\nR{k}.dat 16 10/bpm 16 0 {int(FHR[0]) + 20 + k} {int((FHR + 20 + k).sum()) % 65536} 0 FHR\n")  # fmt: skip
        (folder / f"R{k}.dat").write_bytes(body)
        (folder / f"R{k}.atr").write_bytes(wfdb_notes([(8, text) for text in ("epidural", *SOME[k::9])]))


def _cell(text: str) -> str:
    return f'<table:table-cell office:value-type="string"><text:p>{quoteattr(text)[1:-1]}</text:p></table:table-cell>'


@pytest.fixture(scope="module")
def unit(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A unit's folder after a month's work on such files, and all that was said meanwhile."""
    folder = tmp_path_factory.mktemp("containers")
    incoming, said = folder / "in", []
    incoming.mkdir()
    (folder / "unit_settings.toml").write_text("[import]\nstore_detail = true\n", encoding="utf-8")
    logging.getLogger("audit").handlers.clear()
    plant(incoming)
    guessed = incoming / "guess.csv"
    guessed.write_text(
        table([["Fallnummer", "Zeit", *SOME[:20]], *([each] * 22 for each in SOME[:30])]), encoding="utf-8"
    )

    def ran(*arguments: str) -> None:
        done = CliRunner().invoke(cli, ["--db", str(folder / "unit.duckdb"), *arguments], standalone_mode=False)
        assert done.exc_info is None or done.exception is None, (arguments, done.exc_info)
        said.append(done.output + done.stderr)

    ran("import", "--dry-run", str(incoming))
    ran("import", str(incoming))
    ran("import", "--json", str(incoming))
    ran("import", "--guess", str(guessed))
    ran("analyse", "--workers", "1")
    ran("imports")
    ran("pack", "--period", "2031-03", "--out", str(folder / "packs"))
    ran("export", "cases", "findings", "--format", "xlsx", "--out", str(folder / "out"))
    ran("backup", str(folder / "unit.backup"))
    return folder, "\n".join(said)


def test_the_files_were_taken(unit):
    folder, _ = unit
    with database.open_for_reading(folder / "unit.duckdb") as con:
        tracings = con.execute("select count(*) from tracings").fetchall()[0][0]
        ids = {each[0][:1] for each in con.execute("select case_id from cases").fetchall()}
        events = con.execute("select count(*) from care_events where event = 'epidural'").fetchall()[0][0]
    assert {"X", "Z", "P", "E", "R"} <= ids  # workbooks, archives, pseudonyms, recordings, records
    assert tracings >= len(ASCII[::40]) + len(FILE_NAMES[::40])
    assert events >= len(ASCII[::40]) + 2


def test_nothing_planted_is_stored(unit):
    folder, _ = unit
    for db in (folder / "unit.duckdb", published.current(folder / "unit.duckdb")):
        assert found_in(words_in(db), PLANTED) == []


def test_nothing_planted_is_in_any_file_or_said(unit):
    folder, said = unit
    kinds = {name.rpartition(".")[2] for name, _ in written(folder)}
    assert {"duckdb", "log", "pdf", "html", "pptx", "backup", "xlsx", "json"} <= kinds
    in_a_log = [each for each in PLANTED if each in IN_A_LOG]
    assert found_in(said.encode(), in_a_log) == []
    for name, text in written(folder):
        assert found_in(text, in_a_log) == [], name
