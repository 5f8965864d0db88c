"""WFDB in every format, in segments and with annotations: our reader beside the WFDB project's own Python package.

Source: package `wfdb` (Python), by the authors of the format. What it does not write is packed here by hand from the
signal(5) manual page, from memory, and then read by both.
"""

import shutil

import numpy as np
import pytest
import wfdb

from audit.intake.door.remarks import FileRefused
from audit.intake.formats import wfdb_annotations, wfdb_file, wfdb_segments
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

RNG = np.random.default_rng(11)
LARGEST = {"24": 2**23 - 1, "32": 2**31 - 1, "508": 127, "516": 32767, "524": 2**23 - 1}


def ours(folder, record):
    data = (folder / f"{record}.hea").read_bytes()

    def files(header):
        return {name: (folder / name).read_bytes() for name in header.file_names}

    master = wfdb_segments.read_master(data)
    if master is None:
        header = wfdb_file.read_header(data)
        return header, wfdb_file.read_signals(header, files(header))
    return wfdb_segments.read_segments(master, lambda name: (folder / f"{name}.hea").read_bytes(), files)


def same(folder, record):
    header, signals = ours(folder, record)
    oracle = wfdb.rdrecord(str(folder / record))
    assert [signal.description for signal in header.signals] == oracle.sig_name
    for signal, column in zip(signals, oracle.p_signal.T, strict=True):
        np.testing.assert_allclose(signal, column, rtol=1e-12, atol=0, equal_nan=True)
    return signals


@pytest.mark.parametrize("code", LARGEST)
def test_formats_that_the_package_writes(tmp_path, code):
    most = LARGEST[code]
    digital = RNG.integers(-most, most, (501, 2))
    digital[0], digital[1] = [most, -most], [0, -1]
    wfdb.wrsamp("R1", fs=4, units=["bpm", "nd"], sig_name=["FHR", "UC"], d_signal=digital, fmt=[code] * 2,
                adc_gain=[100.0, 2.0], baseline=[0, 5], write_dir=str(tmp_path))  # fmt: skip
    same(tmp_path, "R1")


def packed(code: int, values: np.ndarray) -> bytes:
    """Samples packed by hand."""
    if code == 160:
        return (values + 32768).astype("<u2").tobytes()
    out = b""
    for a, b, c in values.reshape(-1, 3).tolist():
        a, b, c = (v & 0x3FF for v in (a, b, c))
        if code == 310:
            low, high = a << 1 | (c & 0x1F) << 11, b << 1 | (c >> 5) << 11
            out += low.to_bytes(2, "little") + high.to_bytes(2, "little")
        else:
            out += (a | b << 10 | c << 20).to_bytes(4, "little")
    return out


@pytest.mark.parametrize(("code", "low", "high"), [(160, -32767, 32767), (310, -511, 511), (311, -511, 511)])
def test_formats_that_are_packed_by_hand(tmp_path, code, low, high):
    values = RNG.integers(low, high, 300)
    values[:6] = [low, high, 0, -1, high, low]
    (tmp_path / "R1.dat").write_bytes(packed(code, values))
    (tmp_path / "R1.hea").write_text(f"R1 2 4 150\nR1.dat {code} 100/bpm 12 0 {values[0]} 0 0 FHR\n"
                                     f"R1.dat {code} 2/nd 12 0 {values[1]} 0 0 UC\n")  # fmt: skip
    # the checksum is not what this is about
    header = (tmp_path / "R1.hea").read_text()
    sums = [int(values[k::2].sum()) % 65536 for k in (0, 1)]
    for k, name in enumerate(("FHR", "UC")):
        header = header.replace(f"{values[k]} 0 0 {name}", f"{values[k]} {sums[k]} 0 {name}")
    (tmp_path / "R1.hea").write_text(header)
    found = same(tmp_path, "R1")
    np.testing.assert_array_equal(found[0], values[0::2] / 100)


def test_differences_add_up_from_the_initial_value(tmp_path):
    (tmp_path / "R1.dat").write_bytes(np.array([0, 5, -3, 1, 127, -128], "<i1").tobytes())
    (tmp_path / "R1.hea").write_text("R1 1 4 6\nR1.dat 8 1(0)/bpm 8 0 140\n")
    _, (found,) = ours(tmp_path, "R1")
    np.testing.assert_array_equal(found, wfdb.rdrecord(str(tmp_path / "R1")).p_signal[:, 0])
    assert found.tolist() == [140, 145, 142, 143, 270, 142]


def test_several_samples_a_frame_and_a_skew(tmp_path):
    # frames a second 1; heart rate 4 a frame, toco 2, one frame late in the file
    values = RNG.integers(1000, 2000, (100, 6))
    (tmp_path / "R1.dat").write_bytes(values.astype("<i2").tobytes())
    (tmp_path / "R1.hea").write_text("R1 2 1 100\nR1.dat 16x4 10/bpm 16 0\nR1.dat 16x2:1 10/nd 16 0\n")
    _, found = ours(tmp_path, "R1")
    oracle = wfdb.rdrecord(str(tmp_path / "R1"), smooth_frames=False, physical=True)
    np.testing.assert_allclose(found[0], oracle.e_p_signal[0])
    np.testing.assert_allclose(found[1][:-2], oracle.e_p_signal[1][: len(found[1]) - 2])
    assert np.isnan(found[1][-2:]).all()


def segments(folder, layout=False):
    first = RNG.integers(1000, 2000, (40, 2))
    second = RNG.integers(1000, 2000, (60, 1 if layout else 2))
    for name, digital in (("S_1", first), ("S_2", second)):
        n = digital.shape[1]
        wfdb.wrsamp(name, fs=4, units=["bpm", "nd"][:n], sig_name=["FHR", "UC"][:n], d_signal=digital,
                    fmt=["16"] * n, adc_gain=[10.0] * n, baseline=[0] * n, write_dir=str(folder))  # fmt: skip
    if layout:
        (folder / "S_l.hea").write_text("S_l 2 4 0\n~ 0 10/bpm 16 0 0 0 0 FHR\n~ 0 10/nd 16 0 0 0 0 UC\n")
        (folder / "S9.hea").write_text("S9/4 2 4 120\nS_l 0\nS_1 40\n~ 20\nS_2 60\n")
    else:
        (folder / "S9.hea").write_text("S9/2 2 4 100\nS_1 40\nS_2 60\n")


@pytest.mark.parametrize("layout", [False, True])
def test_records_in_segments_of_one_layout_and_of_several_with_a_gap(tmp_path, layout):
    segments(tmp_path, layout)
    found = same(tmp_path, "S9")
    assert len(found[0]) == (120 if layout else 100)


def test_segments_of_several_samples_a_frame_lie_where_their_frames_do(tmp_path):
    # frames a second 1, heart rate 4 a frame and toco 1; 30 frames, 10 without anything, 20 frames (header(5))
    values = RNG.integers(1000, 2000, (50, 5))
    for name, part in (("S_1", values[:30]), ("S_2", values[30:])):
        (tmp_path / f"{name}.dat").write_bytes(part.astype("<i2").tobytes())
        (tmp_path / f"{name}.hea").write_text(
            f"{name} 2 1 {len(part)}\n{name}.dat 16x4 10/bpm 16 0 {part[0, 0]} {part[:, :4].sum() % 65536} 0 FHR\n"
            f"{name}.dat 16 10/nd 16 0 {part[0, 4]} {part[:, 4].sum() % 65536} 0 UC\n"
        )
    (tmp_path / "S9.hea").write_text("S9/3 2 1 60\nS_1 30\n~ 10\nS_2 20\n")
    _, (fhr, toco) = ours(tmp_path, "S9")
    gap = np.full(10, np.nan)
    np.testing.assert_allclose(toco, np.concatenate([values[:30, 4] / 10, gap, values[30:, 4] / 10]))
    rate = values[:, :4].reshape(-1) / 10
    np.testing.assert_allclose(fhr, np.concatenate([rate[:120], np.repeat(gap, 4), rate[120:]]))
    (tmp_path / "S_2.hea").write_text((tmp_path / "S_2.hea").read_text().replace("16x4", "16x2"))
    with pytest.raises(FileRefused, match="another number of samples a frame"):
        ours(tmp_path, "S9")


def test_a_folder_with_a_record_in_segments_and_annotations_is_one_case_with_its_events(tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    for k, rate in ((1, 1400), (2, 1450)):
        wfdb.wrsamp(f"S9_{k}", fs=4, units=["bpm", "nd"], sig_name=["FHR", "UC"],
                    d_signal=np.tile([rate, 20], (400, 1)), fmt=["16"] * 2, adc_gain=[10.0, 1.0], baseline=[0, 0],
                    write_dir=str(folder))  # fmt: skip
    (folder / "S9.hea").write_text("S9/2 2 4 800\nS9_1 400\nS9_2 400\n")
    notes = ["epidural", "N", "seen by T. Quill", "Senior called"]
    wfdb.wrann("S9", "evt", np.array([40, 100, 120, 70000]), symbol=['"'] * 4, aux_note=notes, fs=4,
               write_dir=str(folder))  # fmt: skip
    db = tmp_path / "unit.duckdb"
    report = import_paths(db, [folder], settings=load_settings())
    said = "\n".join(report.lines())
    assert [(file.kind, file.outcome) for file in report.files] == [("wfdb", "stored"), ("care_events", "stored")], said
    with database.open_for_reading(db) as con:
        assert con.execute("select case_id from cases").fetchall() == [("S9",)]
        events = con.execute("select at_s, event from care_events order by at_s").fetchall()
    assert events == [(10.0, "epidural"), (17500.0, "senior_called")]
    assert "2 notes are no care event" in said
    assert "Quill" not in said


def test_bytes_that_are_no_annotations_give_none():
    note = (63 << 10 | 8).to_bytes(2, "little") + b"epidural"
    assert wfdb_annotations.read_notes(note + b"\0\0") == [(0, "epidural")]
    for data in (b"", b"\0", note, note[:-1] + b"\0\0"):
        assert wfdb_annotations.read_notes(data) == []


def test_a_compressed_file_without_the_extra_says_what_to_install(tmp_path, monkeypatch):
    wfdb.wrsamp("R1", fs=4, units=["bpm"], sig_name=["FHR"], d_signal=np.full((50, 1), 140), fmt=["516"],
                adc_gain=[1.0], baseline=[0], write_dir=str(tmp_path))  # fmt: skip
    monkeypatch.setitem(__import__("sys").modules, "soundfile", None)
    with pytest.raises(FileRefused, match=r"intrapartum-audit\[flac\]"):
        ours(tmp_path, "R1")
    shutil.rmtree(tmp_path)
