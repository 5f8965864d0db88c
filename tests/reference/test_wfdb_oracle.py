"""Recordings read with our reader and with the WFDB project's own Python package: the same samples and header facts.

Source: package `wfdb` (Python), by the authors of the format, as a second reader; and its writer, which packs
files that ours has not seen. Hand-made edge cases follow the header(5) and signal(5) manual pages, from memory.
"""

from pathlib import Path

import numpy as np
import pytest
import wfdb

from audit.intake.formats import wfdb_file

FORMATS = ("16", "61", "80", "212")
# the greatest values a format holds; the most negative one marks a sample without a value
LARGEST = {"16": 32767, "61": 32767, "80": 127, "212": 2047}
# of the open database: the first, and every 45th after it
EVERY = 45


def ours(folder: Path, record: str) -> tuple[wfdb_file.Header, list[np.ndarray]]:
    header = wfdb_file.read_header((folder / f"{record}.hea").read_bytes())
    files = {name: (folder / name).read_bytes() for name in header.file_names}
    return header, wfdb_file.read_signals(header, files)


def same(folder: Path, record: str) -> list[np.ndarray]:
    """Hold both readers against each other and give the samples, one array a signal."""
    header, signals = ours(folder, record)
    oracle = wfdb.rdrecord(str(folder / record))
    assert header.record == oracle.record_name
    assert header.sample_rate_hz == oracle.fs
    assert [signal.description for signal in header.signals] == oracle.sig_name
    assert [signal.units for signal in header.signals] == oracle.units
    assert [signal.gain for signal in header.signals] == oracle.adc_gain
    assert [signal.baseline for signal in header.signals] == oracle.baseline
    assert [str(signal.format) for signal in header.signals] == oracle.fmt
    assert header.samples in (None, oracle.sig_len)
    assert [text for _, text in header.comments] == [text.lstrip("#").strip() for text in oracle.comments]
    for signal, column in zip(signals, oracle.p_signal.T, strict=True):
        # the same division in both: the last bit may differ, not more
        np.testing.assert_allclose(signal, column, rtol=1e-15, atol=0, equal_nan=True)
    return signals


def test_recordings_of_the_open_database_are_the_same_in_both(ctu_uhb):
    headers = sorted(ctu_uhb.glob("*.hea"))[::EVERY]
    assert len(headers) >= 8
    for header in headers:
        signals = same(ctu_uhb, header.stem)
        assert len(signals) == 2


def written(folder: Path, code: str, digital: np.ndarray, *, gains=(100.0, 2.0), baselines=(0, 0)) -> list[np.ndarray]:
    """Written by the package in a format, then read by both. It reads 61 but writes only 16: the bytes are swapped."""
    packed = "16" if code == "61" else code
    wfdb.wrsamp(
        "R1",
        fs=4,
        units=["bpm", "nd"],
        sig_name=["FHR", "UC"],
        d_signal=digital,
        fmt=[packed, packed],
        adc_gain=list(gains),
        baseline=list(baselines),
        comments=["pH           7.14", "Apgar5       9"],
        write_dir=str(folder),
    )
    if code == "61":
        header, data = folder / "R1.hea", folder / "R1.dat"
        header.write_text(header.read_text(encoding="utf-8").replace("R1.dat 16 ", "R1.dat 61 "), encoding="utf-8")
        data.write_bytes(np.frombuffer(data.read_bytes(), dtype="<i2").astype(">i2").tobytes())
    return same(folder, "R1")


@pytest.mark.parametrize("code", FORMATS)
@pytest.mark.parametrize("samples", [1, 2, 3, 4801])
def test_what_the_package_writes_in_each_format_we_read_as_it_does(tmp_path, code, samples):
    most = LARGEST[code]
    digital = np.random.default_rng(samples).integers(-most, most, (samples, 2), endpoint=True)
    digital[0] = (most, -most)
    signals = written(tmp_path, code, digital)
    np.testing.assert_array_equal(np.stack(signals, axis=1), digital / [100.0, 2.0])


@pytest.mark.parametrize("code", FORMATS)
def test_a_sample_marked_as_without_a_value_is_missing_in_both(tmp_path, code):
    digital = np.arange(20).reshape(10, 2)
    digital[3, 0] = digital[9, 1] = -LARGEST[code] - 1
    fhr, toco = written(tmp_path, code, digital)
    assert np.flatnonzero(np.isnan(fhr)).tolist() == [3]
    assert np.flatnonzero(np.isnan(toco)).tolist() == [9]


@pytest.mark.parametrize(
    ("gains", "baselines"), [((0.5, 200.0), (-40, 30)), ((1.0, 12.75), (100, -100)), ((200.0, 3.0), (0, 7))]
)
def test_gain_and_baseline_mean_the_same_in_both(tmp_path, gains, baselines):
    digital = np.arange(-50, 50).reshape(50, 2)
    fhr, toco = written(tmp_path, "16", digital, gains=gains, baselines=baselines)
    np.testing.assert_allclose(fhr, (digital[:, 0] - baselines[0]) / gains[0])
    np.testing.assert_allclose(toco, (digital[:, 1] - baselines[1]) / gains[1])


# each: the signal line of a record of three samples (100, -2, 7) in format 16, and what stands there in bpm
LINES = {
    "baseline_in_brackets": ("R1.dat 16 2(10)/bpm 12 0 100 105 0 FHR", [45.0, -6.0, -1.5]),
    "negative_baseline": ("R1.dat 16 2(-10)/bpm 12 0 100 105 0 FHR", [55.0, 4.0, 8.5]),
    "no_baseline_takes_the_zero": ("R1.dat 16 2/bpm 12 4 100 105 0 FHR", [48.0, -3.0, 1.5]),
    "baseline_before_the_zero": ("R1.dat 16 2(10)/bpm 12 4 100 105 0 FHR", [45.0, -6.0, -1.5]),
    "gain_with_an_exponent": ("R1.dat 16 2e-1(0)/bpm 12 0 100 105 0 FHR", [500.0, -10.0, 35.0]),
    "several_words": ("R1.dat 16 2/bpm 12 0 100 105 0 fetal heart rate", [50.0, -1.0, 3.5]),
}


@pytest.mark.parametrize("name", LINES)
def test_a_hand_written_signal_line_means_the_same_in_both(tmp_path, name):
    line, expected = LINES[name]
    (tmp_path / "R1.hea").write_text(f"R1 1 4 3\n{line}\n#pH           7.14\n", encoding="utf-8")
    (tmp_path / "R1.dat").write_bytes(np.array([100, -2, 7], dtype="<i2").tobytes())
    (signal,) = same(tmp_path, "R1")
    np.testing.assert_allclose(signal, expected)


def test_samples_that_begin_later_in_the_file_are_the_same_in_both(tmp_path):
    (tmp_path / "R1.hea").write_text("R1 1 4 3\nR1.dat 16+6 2/bpm 12 0 100 105 0 FHR\n", encoding="utf-8")
    (tmp_path / "R1.dat").write_bytes(b"prolog" + np.array([100, -2, 7], dtype="<i2").tobytes())
    (signal,) = same(tmp_path, "R1")
    assert signal.tolist() == [50.0, -1.0, 3.5]
