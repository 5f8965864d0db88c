# ruff: noqa: E501 (one bad file a line reads best)
"""Small files that ask for much: archives, workbooks, recordings and bundles that would fill memory or never end.

Each is refused, or taken for what it is, with one sentence, within memory and processor time, and the rest of the
folder is still taken. Amplification in archives and XML: CWE-409 and CWE-776.
"""

import json
import os
import resource
import tracemalloc
import zipfile
from pathlib import Path

import pytest

from audit.intake.contents import read_content
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.folders import candidates
from audit.intake.importer import import_paths
from audit.intake.unpacked import unpacked
from audit.intake.writing.ledger import Ledger
from audit.settings import load_settings
from tests.asking import ask
from tests.robustness.containers import cell, edf, fhr_signal, notes_signal, ods, sampled, wfdb_notes, xlsx, zipped

SETTINGS = load_settings()
MOST_MIB = 500  # of memory beyond what the program has anyway
LONGEST_S = 10  # of processor time, which others on the machine do not change
TOO_MUCH = "the workbook is damaged, or wants more than"
ENTITIES = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
) + "]>"  # fmt: skip
ROW = '<table:table-row table:number-rows-repeated="{}">{}</table:table-row>'
WIDE = '<table:table-cell office:value-type="string" table:number-columns-repeated="{}"><text:p>{}</text:p></table:table-cell>'
SAMPLES = (1400).to_bytes(2, "little") * 40
BODY = SAMPLES + b"+0\x14\x14\0".ljust(120, b"\0")
PLAIN = [fhr_signal(40), notes_signal(60)]


def deep(depth: int) -> bytes:
    """A bundle in a bundle, and so on."""
    inner: dict[str, object] = {"resourceType": "Observation"}
    for _ in range(depth):
        inner = {"resourceType": "Bundle", "entry": [{"resource": inner}]}
    return json.dumps(inner).encode()


def records_of(seconds: str) -> bytes:
    return edf(PLAIN, BODY, record_s=seconds)


BAD: dict[str, tuple[str, bytes, str]] = {
    "two cells at the corners of a sheet": ("a.xlsx", xlsx(f'<row r="1">{cell("A1", "case_id")}</row><row r="1048576">{cell("XFD1048576", "x")}</row>'), TOO_MUCH),
    "a row of a number that no sheet has": ("a.xlsx", xlsx(f'<row r="1">{cell("A1", "case_id")}</row><row r="4000000000">{cell("A4000000000", "x")}</row>'), TOO_MUCH),
    "a column of a name that no sheet has": ("a.xlsx", xlsx(f'<row r="1">{cell("ZZZZZZZZZ99999999999999", "x")}</row>'), "sheet 1 has"),
    "a row of no number": ("a.xlsx", xlsx(f'<row r="0">{cell("A0", "x")}</row>'), "sheet 1 of the workbook is damaged"),
    "entities that multiply": ("a.xlsx", xlsx(f'<row r="1">{cell("A1", "&i;")}</row>', before=ENTITIES), "sheet 1 of the workbook is damaged"),
    "entities that multiply in ods": ("a.ods", ods(ROW.format(1, WIDE.format(1, "&i;")), before=ENTITIES), "the workbook is damaged"),
    "a long text repeated": ("a.ods", ods(ROW.format(1_000_000, WIDE.format(1, "x" * 4000))), TOO_MUCH),
    "a cell repeated over the sheet": ("a.ods", ods(ROW.format(1_048_576, WIDE.format(16_384, "x"))), "the workbook is damaged"),
    "a workbook made of zeros": ("a.xlsx", xlsx("", more={"xl/media/1.png": bytes(50_000_000)}), "200 times its packed size"),
    "an archive of bzip2": ("a.zip", zipped({"a.csv": bytes(50_000_000)}, zipfile.ZIP_BZIP2), "packed in an unusual way"),
    "an archive of lzma": ("a.zip", zipped({"a.csv": bytes(50_000_000)}, zipfile.ZIP_LZMA), "packed in an unusual way"),
    "an archive of folders in folders": ("a.zip", zipped({"a/" * 1500 + "a.csv": b"case_id,period\n"}), "folders deep"),
    "a name longer than any": ("a.zip", zipped({"a" * 5000: b"case_id,period\n"}), "cannot be unpacked"),
    "an archive that lists more than it may": ("a.zip", zipped({"a.csv": b"x"})[:-10] + (2**31).to_bytes(4, "little") + b"\0" * 6, "lists more than 20,000 files"),
    "samples of 512 signals each": ("a.edf", edf([fhr_signal(99_999_999)] * 512, b""), "it is cut off"),
    "records of nothing but zeros": ("a.edf", edf([fhr_signal(1)], bytes(6_000_000), records=-1), "found 3,000,000 data records"),
    "a signal longer than any labour": ("a.edf", edf([fhr_signal(30_000_000)], bytes(60_000_000), records=1), "found 30,000,000 samples of signal 1"),
    "records of a year": ("a.edf", records_of("3.2e7"), "found data records of 3.2e+07 s"),
    "a range beyond all": ("a.edf", edf([fhr_signal(40, high="1e300"), notes_signal(60)], BODY), "for the range of signal 1"),
    "annotations at the end of time": ("a.edf", edf(PLAIN, SAMPLES + b"+9e299\x14\x14\0".ljust(120, b"\0")), "the time of an annotation"),
    "bundles in bundles": ("a.json", deep(40), "bundles inside bundles"),
    "brackets in brackets": ("a.json", b'{"resourceType": "Bundle", "entry": ' + b"[" * 100_000, "not well-formed JSON"),
    "millions of empty objects": ("a.json", b'{"resourceType": "Bundle", "entry": [' + b"{}," * 9_000_000 + b"{}]}", "split it"),
    "a number with a million figures": ("a.json", sampled("140", period=1).replace(b'"period": 1', b'"period": ' + b"9" * 1_000_000), "not well-formed JSON"),
    "numbers without end": ("a.json", sampled("1 " * 12_000_000), "found data of 24,000,000 characters"),
    "a period of no time": ("a.json", sampled("140 140", period=1e-300), "found a period that is none"),
    "a factor beyond all": ("a.json", sampled("140 140", factor=1e300), "found values beyond"),
}  # fmt: skip


def read(folder: Path, files: dict[str, bytes]) -> tuple[list[str], float, float]:
    """Why files are refused, with memory in MiB and processor time in s, ours and that of processes of ours."""
    for name, data in files.items():
        (folder / name).write_bytes(data)
    before, said = os.times(), []
    tracemalloc.start()
    try:
        with unpacked(candidates([folder]), SETTINGS) as found:
            for candidate in found:
                try:
                    if candidate.refused is not None:
                        raise candidate.refused
                    content = read_content(candidate.path, Ledger(), Remarks(100), SETTINGS)
                    list(getattr(content, "tracings", None) or [])
                except FileRefused as refused:
                    said.append(str(refused))
        most_mib = tracemalloc.get_traced_memory()[1] / 1024**2
    finally:
        tracemalloc.stop()
    return said, most_mib, sum(os.times()[:4]) - sum(before[:4])


@pytest.mark.parametrize("what", BAD)
def test_a_file_that_asks_for_much_is_refused_with_a_sentence(what: str, tmp_path: Path) -> None:
    name, data, says = BAD[what]
    (message,), most_mib, used_s = read(tmp_path, {name: data})
    assert says in message
    assert "could not be read (" not in message
    assert "\n" not in message
    assert (most_mib < MOST_MIB, used_s < LONGEST_S) == (True, True), (most_mib, used_s)
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024 < 2048


def test_beside_such_files_the_rest_of_a_folder_is_taken(tmp_path: Path) -> None:
    incoming = tmp_path / "in"
    for k, (name, data, _) in enumerate(BAD.values()):
        (incoming / str(k)).mkdir(parents=True)
        if len(data) < 1_000_000:
            (incoming / str(k) / name).write_bytes(data)
    (incoming / "good.csv").write_text("case_id,period\nC1,2031-03\n")
    report = import_paths(tmp_path / "unit.duckdb", [incoming], settings=SETTINGS)
    refused = [file for file in report.files if file.outcome == "refused"]
    assert len(refused) == len(report.files) - 1
    assert not [line for line in report.lines() if "could not be read (" in line or "Traceback" in line]
    assert ask(tmp_path / "unit.duckdb", "select case_id from cases") == [("C1",)]


HEADER = b"R1 1 4 8\nR1.dat 16 100(0)/bpm 12 0 14000 0 0 FHR\n"
MASTER = "R1/{} 1 4 {}\n".format
RECORDS: dict[str, tuple[dict[str, bytes], str]] = {
    "a gap of years between segments": (
        {"R1.hea": (MASTER(2, 999_999_999) + "S1 8\n~ 999999991\n").encode(), "S1.hea": b"S1 1 4 8\nS1.dat 16 100/bpm\n", "S1.dat": b"\xb0\x36" * 8},
        "samples in the segments",
    ),
    "more samples than memory holds": (
        {"R1.hea": b"R1 1 4\nR1.dat 80 1/bpm\n", "R1.dat": b"\x0c" * 41_000_000}, "found 41,000,000 samples",
    ),
    "a time resolution of nothing": (
        {"R1.hea": HEADER.replace(b" 0 0 FHR", b" 46464 0 FHR"), "R1.dat": b"\xb0\x36" * 8, "R1.atr": wfdb_notes([(0, "## time resolution: 0"), (4, "epidural")])},
        "found a time resolution that is none",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", RECORDS)
def test_a_record_that_asks_for_much_is_refused_with_a_sentence(what: str, tmp_path: Path) -> None:
    files, says = RECORDS[what]
    messages, most_mib, used_s = read(tmp_path, files)
    assert any(says in message for message in messages), messages
    assert not [message for message in messages if "could not be read (" in message]
    assert (most_mib < MOST_MIB, used_s < LONGEST_S) == (True, True), (most_mib, used_s)


def test_thousands_of_segments_of_one_name_are_read_once(tmp_path: Path) -> None:
    count = 5_000
    head = (MASTER(count, count * 8) + "S1 8\n" * count).encode()
    files = {"R1.hea": head, "S1.hea": b"S1 1 4 8\nS1.dat 16 100/bpm 12 0 14000 0 0 FHR\n", "S1.dat": b"\xb0\x36" * 8}
    _, most_mib, used_s = read(tmp_path, files)
    assert (most_mib < MOST_MIB, used_s < LONGEST_S) == (True, True), (most_mib, used_s)


def test_a_line_of_resources_may_hold_any_character_of_json(tmp_path: Path) -> None:
    # RFC 8259 lets U+2028 stand in a string; lines of NDJSON end with a line feed alone
    line = sampled("140 141").decode().replace('"final"', '"final", "note": [{"text": "a\u2028b"}]')
    messages, *_ = read(tmp_path, {"a.ndjson": f"{line}\n{line}\n".encode()})
    assert messages == []
