"""Which files of a folder are taken, which are left alone, and which are named as not readable."""

import os
from pathlib import Path

import numpy as np
import pytest

from audit.intake.door.report import ImportReport
from audit.intake.importer import import_paths
from audit.settings import load_settings

pytestmark = pytest.mark.slow

CASES = "case_id,period\nC1,2025-03\n"


def take(tmp_path: Path, *paths: Path) -> ImportReport:
    return import_paths(tmp_path / "unit.duckdb", list(paths), settings=load_settings())


def outcomes(report: ImportReport) -> dict[str, str]:
    return {file.path.name: file.outcome for file in report.files}


def test_documents_are_left_alone_and_data_that_cannot_be_read_is_not(tmp_path):
    folder = tmp_path / "in"
    (folder / "sub").mkdir(parents=True)
    (folder / "sub" / "cases.csv").write_text(CASES)
    (folder / "notes.txt").write_text("Nothing to see.\n")
    (folder / "README.md").write_text("case_id,period\n")
    (folder / "scan.pdf").write_bytes(b"%PDF-1.7\n")
    (folder / "strip.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(64))
    (folder / ".lock").write_text("")
    (folder / "march.xlsx").write_bytes(b"PK\x03\x04" + bytes(64))
    (folder / "other.csv").write_text("bed,colour\n1,red\n")
    (folder / "events.txt").write_text("case_id,at_s,event\nC1,5,birth\n")
    report = take(tmp_path, folder)
    assert outcomes(report) == {
        "cases.csv": "stored",
        "events.txt": "stored",
        "march.xlsx": "refused",
        "other.csv": "refused",
        ".lock": "left_alone",
        "README.md": "left_alone",
        "notes.txt": "left_alone",
        "scan.pdf": "left_alone",
        "strip.png": "left_alone",
    }
    assert report.exit_code == 3


def test_the_database_in_the_folder_is_left_alone(tmp_path):
    (tmp_path / "cases.csv").write_text(CASES)
    take(tmp_path, tmp_path / "cases.csv")
    report = take(tmp_path, tmp_path)
    assert outcomes(report)["unit.duckdb"] == "left_alone"
    assert report.exit_code == 0


def test_a_file_given_twice_is_taken_once(tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "cases.csv").write_text(CASES)
    assert len(take(tmp_path, tmp_path / "in", tmp_path / "in" / "cases.csv").files) == 1


def test_a_signal_file_that_looks_like_text_goes_with_its_header(tmp_path):
    """The first byte of a signal file may be anything, a brace or the start of another format."""
    for first in (b"{\x37", b"PK", b"C,", b"\x1f\x8b"):
        folder = tmp_path / first.hex()
        folder.mkdir()
        signal = np.concatenate([np.frombuffer(first, "<i2"), np.full(7, 14000, "<i2")])
        (folder / "R1.dat").write_bytes(signal.tobytes())
        (folder / "R1.hea").write_text("R1 1 4 8\nR1.dat 16 100/bpm 12 0\n".replace("12 0", f"12 0 {signal[0]} {int(signal.astype(np.int64).sum() + 32768) % 65536 - 32768} 0 FHR"))  # fmt: skip  # noqa: E501
        report = import_paths(folder / "db.duckdb", [folder / "R1.hea"], settings=load_settings())
        assert report.rows_accepted == 8
        again = import_paths(folder / "db.duckdb", [folder], settings=load_settings())
        assert outcomes(again) == {"R1.hea": "unchanged", "db.duckdb": "left_alone"}


def test_a_record_that_names_itself_as_its_segment_is_refused_and_not_passed_over(tmp_path):
    (tmp_path / "R1.hea").write_text("R1/1 1 4 8\nR1 8\n")
    (file,) = take(tmp_path, tmp_path).files
    assert (file.outcome, "record of several segments inside another" in file.message) == ("refused", True)


def test_a_signal_file_belongs_to_a_header_whose_ending_is_in_capitals(tmp_path):
    (tmp_path / "R1.dat").write_bytes(np.full(8, 14000, "<i2").tobytes())
    (tmp_path / "R1.HEA").write_text("R1 1 4 8\nR1.dat 16 100/bpm 16 0 14000 46464 0 FHR\n")  # 8 x 14000 modulo 65536
    assert {file.path.name: file.outcome for file in take(tmp_path, tmp_path).files} == {"R1.HEA": "stored"}


def test_expert_readings_before_their_recordings_are_rejected_and_taken_later(tmp_path):
    experts = tmp_path / "experts.csv"
    experts.write_text("rec_id,expert_id,eval_step1,eval_step2,eval_step3,eval_step4\n1,1,1,2,-1,1\n1,1,3,-1,-1,2\n")
    report = take(tmp_path, experts)
    assert (report.exit_code, report.rows_rejected) == (3, 2)
    assert "expected it to be imported first" in report.lines()[1]
    signal = np.full(4 * 4000, 14000, "<i2")
    (tmp_path / "1.dat").write_bytes(signal.tobytes())
    (tmp_path / "1.hea").write_text("1 1 4 16000\n1.dat 16 100/bpm 12 0 14000\n#Pos. II.st.  14400\n".replace("14000\n", f"14000 {int(signal.astype(np.int64).sum() + 32768) % 65536 - 32768} 0 FHR\n", 1))  # fmt: skip  # noqa: E501
    report = take(tmp_path, tmp_path / "1.hea", experts)
    assert (report.exit_code, report.files[1].rows_accepted) == (0, 2)
    assert any("3 windows read" in line for line in report.lines())


def test_a_pipe_is_not_waited_for(tmp_path):
    (tmp_path / "in").mkdir()
    pipe = tmp_path / "in" / "cases.csv"
    os.mkfifo(pipe)
    assert "not a regular file" in take(tmp_path, pipe).lines()[0]
    assert outcomes(take(tmp_path, tmp_path / "in")) == {"cases.csv": "left_alone"}
