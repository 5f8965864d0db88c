# ruff: noqa: E501 (one bad file a line reads best)
"""WFDB records that are broken: headers, signal files, checksums, names that lead elsewhere."""

from pathlib import Path

import numpy as np
import pytest

from audit.intake.importer import import_paths
from audit.settings import load_settings
from tests.robustness.import_support import Hostile, check, held

FHR = np.array([14000, 14025, 0, 14050, 14100, 14075, 14000, 13950], dtype="<i2")
UC = np.array([1000, 1010, 1020, 1030, 1040, 1050, 1060, 1070], dtype="<i2")
SAMPLES = np.stack([FHR, UC], axis=1).tobytes()


def checksum(signal: np.ndarray) -> int:
    """Sum of the samples as a signed 16-bit number (header manual page of the format, from memory)."""
    return int((int(signal.sum()) + 32768) % 65536 - 32768)


RECORD = "R1 2 4 8\n"
FHR_LINE = f"R1.dat 16 100(0)/bpm 12 0 {FHR[0]} {checksum(FHR)} 0 FHR\n"
UC_LINE = f"R1.dat 16 100/nd 12 0 {UC[0]} {checksum(UC)} 0 UC\n"
GOOD = RECORD + FHR_LINE + UC_LINE


def record(
    name: str, header: str, says: str, row: int | None = None, column: str | None = None, **more: object
) -> Hostile:
    data = more.pop("data", SAMPLES)
    beside = {} if data is None else {"R1.dat": data}
    return Hostile("R1.hea", header.encode(), says, row, column, beside=beside, **more)  # type: ignore[arg-type]


def line(old: str, new: str, header: str = GOOD) -> str:
    assert old in header
    return header.replace(old, new, 1)


ELSEWHERE = "the plain name of a file in the header's own folder"
RECORDS = {
    "no_signal_file": record("", GOOD, "a signal file that the header names is missing", data=None),
    "empty_signal_file": record("", GOOD, "found 0 samples in the signal file, expected 8", 2, data=b""),
    "short_signal_file": record("", GOOD, "found 7 samples in the signal file, expected 8", 2, data=SAMPLES[:-4]),
    "odd_byte_short": record("", GOOD, "found 7 samples in the signal file, expected 8", 2, data=SAMPLES[:-1]),
    "long_signal_file": record("", GOOD, "the two do not belong together", 2, data=SAMPLES * 2),
    "flipped_bit": record("", GOOD, "the header's checksum", 2, data=SAMPLES[:8] + b"\x01" + SAMPLES[9:]),
    "flipped_bit_uc": record("", GOOD, "the header's checksum", 3, data=SAMPLES[:10] + b"\xff" + SAMPLES[11:]),
    "other_first_sample": record("", line(f"0 {FHR[0]} ", "0 14001 "), "found another first sample", 2),
    "wrong_checksum": record("", line(f" {checksum(UC)} 0 UC", " 12 0 UC"), "the header's checksum", 3),
    "swapped_signals": record("", RECORD + UC_LINE + FHR_LINE, "found another first sample", 2),
    "path_up": record("", line("R1.dat", "../R1.dat"), ELSEWHERE, 2),
    "path_absolute": record("", line("R1.dat", "/etc/hostname"), ELSEWHERE, 2),
    "path_windows": record("", line("R1.dat", "C:\\R1.dat"), ELSEWHERE, 2),
    "path_backslash": record("", line("R1.dat", "..\\R1.dat"), ELSEWHERE, 2),
    "path_folder": record("", line("R1.dat", "sub/R1.dat"), ELSEWHERE, 2),
    "path_standard_input": record("", line("R1.dat", "-"), ELSEWHERE, 2),
    "path_home": record("", line("R1.dat", "~"), ELSEWHERE, 2),
    "signal_is_the_folder": record("", line("R1.dat", "."), ELSEWHERE, 2),
    "format_17": record("", line("R1.dat 16", "R1.dat 17"), "found another format, expected one of 8, 16, 24, 32, 61", 2),
    "not_compressed": record("", GOOD.replace("R1.dat 16", "R1.dat 516"), "compressed signal file is damaged"),
    "format_word": record("", line("R1.dat 16", "R1.dat flac"), "for the format", 2),
    "two_formats": record("", line("R1.dat 16 100/nd", "R1.dat 61 100/nd"), "several formats for one signal file", 2),
    "frames_none": record("", line("R1.dat 16", "R1.dat 16x0"), "samples a frame, expected 1 to 100", 2),
    "frames_of_more": record("", line("R1.dat 16", "R1.dat 16x2"), "found 5 samples in the signal file, expected 8", 2),
    "gain_zero": record("", line("100(0)/bpm", "0(0)/bpm"), "for the gain, expected a number other than 0", 2),
    "gain_word": record("", line("100(0)/bpm", "many/bpm"), "for the gain, expected a number such as", 2),
    "gain_two_points": record("", line("100(0)/bpm", "1.0.0/bpm"), "for the gain, expected a number such as", 2),
    "initial_word": record("", line(f"0 {FHR[0]} ", "0 first "), "characters (letters) in the signal line", 2),
    "few_values": record("", line(FHR_LINE, "R1.dat 16\n"), "too few values in the signal line", 2),
    "signal_line_missing": record("", RECORD + FHR_LINE, "found 1 signal lines, expected 2", 1),
    "signal_line_too_many": record("", GOOD + UC_LINE, "found 3 signal lines, expected 2", 1),
    "no_signals": record("", "R1 0 4 8\n", "of signals, expected 1 to 32", 1),
    "many_signals": record("", "R1 99999 4 8\n", "found a number of 5 digits of signals", 1),
    "segments": record("", line("R1 2", "R1/3 2"), "found 2 segments, expected 3 as the record line says", 1),
    "rate_zero": record("", line("R1 2 4", "R1 2 0"), "samples a second, expected a number above 0", 1),
    "samples_word": record("", line("4 8", "4 eight"), "for the samples, expected a whole number", 1),
    "samples_negative": record("", line("4 8", "4 -8"), "for the samples, expected a whole number", 1),
    "rate_250": record("", line("R1 2 4", "R1 2 250"), "if they are seconds, export fewer samples a second", 1, "t_s", rejected=8),
    "no_heart_rate": record("", GOOD.replace(" FHR", " ECG"), "expected one called FHR"),
    "zero_byte": record("", GOOD + "\0", "a zero byte"),
    "comments_only": Hostile("R1.hea", b"# nothing here\n# at all\n", "none of the known kinds", 1),
    "record_path": record("", line("R1 2", "R.1 2"), "as the record name, expected letters", 1),
    "comment_no_number": record("", GOOD + "#pH           low\n", "expected a number or NaN", 4, "pH"),
    "ph_no_point": record("", GOOD + "#pH           72.1\n", "a decimal point is missing", 4, "pH", accepted=8, severity="flagged"),
    "apgar_11": record("", GOOD + "#Apgar5       11\n", "an Apgar score is at most 10", 4, "Apgar5", accepted=8, severity="flagged"),
    "sensor_7": record("", GOOD + "#Rec. type    7\n", "expected 1, 2, 12", 4, "Rec. type", accepted=8, severity="flagged"),
    "stage_after_birth": record("", GOOD + "#Pos. II.st.  400\n#Sig2Birth    0\n", "expected birth after it", 4, "Pos. II.st.", accepted=8, severity="flagged"),
    "unit": record("", line("100(0)/bpm", "100(0)/mV"), "found another unit, expected bpm", 2, "fhr_bpm", accepted=8, severity="flagged"),
    "other_name": record("", line("R1 2", "R7 2"), "found another record name", 1, "record", accepted=8, severity="flagged"),
}  # fmt: skip


@pytest.mark.parametrize("name", RECORDS)
def test_a_broken_record_is_refused_or_its_bad_values_are(name: str, tmp_path: Path):
    check(RECORDS[name], tmp_path)


def test_a_signal_file_that_leads_to_another_folder_by_a_link_is_refused(tmp_path: Path):
    (tmp_path / "in").mkdir()
    (tmp_path / "secret.dat").write_bytes(SAMPLES)
    (tmp_path / "in" / "R1.hea").write_text(GOOD)
    (tmp_path / "in" / "R1.dat").symlink_to(tmp_path / "secret.dat")
    report = import_paths(tmp_path / "unit.duckdb", [tmp_path / "in"], settings=load_settings())
    assert report.exit_code == 3
    assert "leads to another folder" in report.lines()[0]


def test_a_signal_file_without_its_header_is_refused_by_name_and_in_a_folder(tmp_path: Path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "R1.dat").write_bytes(SAMPLES + bytes([1, 2, 3]) * 400)
    for path in (tmp_path / "in", tmp_path / "in" / "R1.dat"):
        report = import_paths(tmp_path / "unit.duckdb", [path], settings=load_settings())
        assert report.exit_code == 3
        assert "a binary file of no known kind" in report.lines()[0]
    counts, _ = held(tmp_path / "unit.duckdb")
    assert set(counts.values()) == {0}
