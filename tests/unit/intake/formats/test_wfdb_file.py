"""WFDB signal files of each format, packed here by hand, and the names and units of their signals."""

import numpy as np
import pytest

from audit.intake.checks.wfdb_record import read_record
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.formats import wfdb_file
from audit.settings import load_settings

SETTINGS = load_settings()


def header(signal_lines: str, *, count: int = 2, rate: str = "4", samples: int = 3) -> wfdb_file.Header:
    return wfdb_file.read_header(f"R1 {count} {rate} {samples}\n{signal_lines}".encode())


# Each row: the format, the bytes of the pairs (100, 1), (-2, 2), (127, -3), written out by hand.
# 212: two 12-bit samples in three bytes, the middle byte holds the high halves (signal manual page, from memory).
PACKED = {
    16: bytes.fromhex("6400 0100 feff 0200 7f00 fdff".replace(" ", "")),
    61: bytes.fromhex("0064 0001 fffe 0002 007f fffd".replace(" ", "")),
    80: bytes([228, 129, 126, 130, 255, 125]),
    212: bytes([0x64, 0x00, 0x01, 0xFE, 0x0F, 0x02, 0x7F, 0xF0, 0xFD]),
}


@pytest.mark.parametrize("code", PACKED)
def test_each_format_gives_the_packed_values(code):
    lines = f"R1.dat {code} 1(0)/bpm 12 0 100 225 0 FHR\nR1.dat {code} 1(0)/nd 12 0 1 0 0 UC\n"
    fhr, uc = wfdb_file.read_signals(header(lines), {"R1.dat": PACKED[code]})
    assert fhr.tolist() == [100.0, -2.0, 127.0]
    assert uc.tolist() == [1.0, 2.0, -3.0]


@pytest.mark.parametrize(("code", "data"), [(16, b"\x00\x80\x01\x00"), (80, b"\x00\x81"), (212, b"\x00\x08\x01")])
def test_the_formats_mark_for_an_invalid_sample_is_nan(code, data):
    (fhr,) = wfdb_file.read_signals(header(f"R1.dat {code} 1(0)/bpm\n", count=1, samples=2), {"R1.dat": data})
    assert np.isnan(fhr[0])
    assert fhr[1] == 1.0


def test_gain_and_baseline_turn_digital_into_physical_units():
    """physical = (digital - baseline) / gain (header manual page, from memory)."""
    (fhr,) = wfdb_file.read_signals(
        header("R1.dat 16 2(10)/bpm 12 0\n", count=1, samples=2), {"R1.dat": np.array([10, 290], "<i2").tobytes()}
    )
    assert fhr.tolist() == [0.0, 140.0]


def test_without_a_baseline_the_zero_of_the_converter_counts():
    (fhr,) = wfdb_file.read_signals(
        header("R1.dat 16 1/bpm 12 5\n", count=1, samples=1), {"R1.dat": np.array([145], "<i2").tobytes()}
    )
    assert fhr.tolist() == [140.0]


def test_signals_may_lie_in_two_files_and_after_a_prolog():
    lines = "a.dat 16+4 1/bpm 12 0 7 7 0 FHR\nb.dat 80 1/nd 12 0 1 1 0 UC\n"
    data = {"a.dat": b"skip" + np.array([7], "<i2").tobytes(), "b.dat": bytes([129])}
    fhr, uc = wfdb_file.read_signals(header(lines, samples=1), data)
    assert (fhr.tolist(), uc.tolist()) == ([7.0], [1.0])


def test_the_number_of_samples_may_be_left_to_the_file():
    found = header("R1.dat 16 1/bpm\n", count=1, samples=0)
    (fhr,) = wfdb_file.read_signals(found, {"R1.dat": np.array([1, 2, 3, 4], "<i2").tobytes()})
    assert fhr.tolist() == [1.0, 2.0, 3.0, 4.0]


def test_the_rate_may_carry_a_counter_frequency():
    assert header("R1.dat 16 1/bpm\n", count=1, rate="4/100(0)").sample_rate_hz == 4.0


def record(names: list[str]) -> tuple[list[tuple[str, float, float]], list[str]]:
    lines = "".join(f"R1.dat 16 1/bpm 12 0 {k + 1} {k + 1} 0 {name}\n" for k, name in enumerate(names))
    found = header(lines, count=len(names), samples=1)
    remarks = Remarks(10)
    signals = wfdb_file.read_signals(found, {"R1.dat": np.arange(1, len(names) + 1, dtype="<i2").tobytes()})
    tracings = read_record(found, signals, remarks, SETTINGS).tracings
    return [(t.fetus, float(t.fhr_bpm[0]), float(t.toco[0])) for t in tracings], remarks.messages


def test_twins_in_one_record_are_fetus_a_and_b_under_one_toco():
    assert record(["FHR1", "FHR2", "TOCO"]) == ([("A", 1.0, 3.0), ("B", 2.0, 3.0)], [])


def test_a_signal_that_is_not_used_is_said_and_a_missing_toco_too():
    tracings, messages = record(["SpO2", "Fetal heart rate"])
    assert [t[:2] for t in tracings] == [("A", 2.0)]
    assert np.isnan(tracings[0][2])
    assert messages == ["signal 1 is not stored", "the record has no uterine activity"]


@pytest.mark.parametrize("names", [["ECG", "RESP"], ["MHR", "UC"]])
def test_a_record_without_a_fetal_heart_rate_is_refused(names):
    with pytest.raises(FileRefused, match="expected one called FHR"):
        record(names)
