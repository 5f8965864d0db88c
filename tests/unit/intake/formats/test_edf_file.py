"""EDF and EDF+ against an independent library (edfio writes, we read), and files made by hand at the format's edges."""

import gzip
from pathlib import Path

import edfio
import numpy as np
import pytest

from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from audit.store.tracings import load_stretches, to_units
from tests.asking import ask

RNG = np.random.default_rng(7)
FHR = np.round(140 + 20 * np.sin(np.arange(2400) / 50) + RNG.normal(0, 2, 2400), 2)
FHR[300:340] = 0
TOCO = np.round(20 + 20 * np.abs(np.sin(np.arange(1200) / 200)), 1)


def signal(values, rate, label, unit, high):
    return edfio.EdfSignal(values, rate, label=label, physical_dimension=unit, physical_range=(0, high))


def take(db: Path, file: Path):
    return import_paths(db, [file], settings=load_settings())


def stored(db: Path, case_id: str):
    with database.open_for_reading(db) as con:
        return load_stretches(con, [case_id])


@pytest.mark.slow
def test_a_file_of_another_library_gives_the_samples_within_its_resolution(db, tmp_path):
    file = tmp_path / "C7.edf"
    patient = edfio.Patient(code="MRN-558812", sex="F", name="Tessa_Quill")
    edf = edfio.Edf(
        [signal(FHR, 4, "FHR", "bpm", 300), signal(TOCO, 2, "UC", "", 100), signal(TOCO, 2, "SpO2", "%", 100)],
        patient=patient,
        annotations=[
            edfio.EdfAnnotation(30, None, "Epidural"),
            edfio.EdfAnnotation(61.5, 2, "senior called"),
            edfio.EdfAnnotation(62, None, "seen by T. Quill"),
        ],
    )
    edf.write(file)
    report = take(db, file)
    assert report.exit_code == 0
    assert [(each.kind, each.part, each.rows_accepted) for each in report.files] == [
        ("tracing", "recording", 2400),
        ("care_events", "annotations", 2),
    ]
    (stretch,) = stored(db, "C7")[("C7", "A")]
    step = 300 / 65535
    found = to_units(stretch.fhr_cbpm)
    seen = FHR > 0
    assert np.nanmax(np.abs(found[seen] - FHR[seen])) <= step / 2 + 0.005
    assert np.isnan(found[~seen]).all()
    # 2 Hz beside 4 Hz: each sample holds until the next
    assert np.abs(to_units(stretch.toco_hundredths) - np.repeat(TOCO, 2)).max() <= 100 / 65535 / 2 + 0.005
    events = ask(db, "select at_s, event from care_events order by at_s")
    assert events == [(30.0, "epidural"), (61.5, "senior_called")]
    said = "\n".join(report.lines())
    assert "1 signal is not stored" in said
    assert "1 annotation is no care event" in said
    for name in ("Quill", "MRN-558812"):
        assert name not in said
        assert name.encode() not in db.read_bytes()
    assert {each.outcome for each in take(db, file).files} == {"unchanged"}


def field(value, width):
    return str(value).encode().ljust(width)


def by_hand(records, *, kind="EDF+D", count=None, record_s=10, signals=None, tail=b""):
    """A file written by hand: each record is (start in s, FHR digital values, further annotations)."""
    signals = signals or [
        ("FHR", "bpm", 0, 300, 0, 3000, len(records[0][1])),
        ("EDF Annotations", "", -1, 1, -32768, 32767, 60),
    ]
    head = field("0", 8) + field("X X X X", 80) + field("Startdate X X X X", 80)
    head += field("01.01.85", 8) + field("00.00.00", 8) + field(256 * (len(signals) + 1), 8) + field(kind, 44)
    head += field(len(records) if count is None else count, 8) + field(record_s, 8) + field(len(signals), 4)
    columns = [(0, 16), (None, 80), (1, 8), (2, 8), (3, 8), (4, 8), (5, 8), (None, 80), (6, 8), (None, 32)]
    for k, width in columns:
        head += b"".join(field("" if k is None else each[k], width) for each in signals)
    body = b""
    for start, values, more in records:
        body += np.array(values, "<i2").tobytes()
        body += (f"+{start}\x14\x14\0".encode() + more).ljust(120, b"\0")
    return head + body + tail


VALUES = [1400] * 40


def test_a_discontinuous_file_keeps_its_gaps_and_its_zero(db, tmp_path):
    file = tmp_path / "C8.edf"
    epidural = b"+135.25\x14epidural\x14\0"
    # starts at 100.25 s of its header's second; 20 s without a record; one sample below the digital range
    broken = [*VALUES[:5], -7, *VALUES[6:]]
    file.write_bytes(by_hand([(100.25, VALUES, b""), (130.25, broken, epidural), (140.25, VALUES, b"")]))
    report = take(db, file)
    assert report.exit_code == 0
    (stretch,) = stored(db, "C8")[("C8", "A")]
    found = to_units(stretch.fhr_cbpm)
    expected = np.full(200, 140.0)
    expected[40:120] = np.nan
    expected[125] = np.nan
    np.testing.assert_array_equal(found, expected)
    assert ask(db, "select at_s, event from care_events") == [(35.0, "epidural")]


def test_starts_printed_with_few_decimals_lie_where_the_records_do(db, tmp_path):
    # records of a third of a second hold a sample each; printed to two decimals each start is up to 5 ms off
    starts = [f"{k / 3:.2f}" for k in range(90)]
    signals = [("FHR", "bpm", 0, 300, 0, 3000, 1), ("EDF Annotations", "", -1, 1, -32768, 32767, 60)]
    lengths = []
    for kind in ("EDF+D", "EDF+C"):
        file = tmp_path / f"C{len(lengths) + 1}.edf"
        records = [(start, [1400 + k % 7], b"") for k, start in enumerate(starts)]
        file.write_bytes(by_hand(records, kind=kind, record_s="0.333333", signals=signals))
        assert take(db, file).exit_code == 0
        (stretch,) = stored(db, file.stem)[(file.stem, "A")]
        lengths.append(stretch.samples / stretch.sample_rate_hz)
    assert np.abs(np.array(lengths) - 30).max() <= 0.5


def test_a_start_may_be_told_with_a_remark_and_in_the_first_of_two_annotation_signals(db, tmp_path):
    file = tmp_path / "C8.edf"
    signals = [
        ("EDF Annotations", "", -1, 1, -32768, 32767, 30), ("FHR", "bpm", 0, 300, 0, 3000, 40),
        ("EDF Annotations", "", -1, 1, -32768, 32767, 30),
    ]  # fmt: skip
    head = by_hand([(0, VALUES, b"")], signals=signals, count=2)[: 256 * 4]
    body = b""
    # the first entry of a record is its own time; in the same entry a remark may follow (Kemp and Olivan 2003)
    for first, second in ((b"+5\x14\x14Epidural\x14\0", b""), (b"+45\x14\x14\0", b"+47.5\x14senior called\x14\0")):
        body += first.ljust(60, b"\0") + np.array(VALUES, "<i2").tobytes() + second.ljust(60, b"\0")
    file.write_bytes(head + body)
    assert take(db, file).exit_code == 0
    (stretch,) = stored(db, "C8")[("C8", "A")]
    seen = np.flatnonzero(~np.isnan(to_units(stretch.fhr_cbpm)))
    assert seen.tolist() == [*range(40), *range(160, 200)]
    assert ask(db, "select at_s, event from care_events order by 1") == [
        (0.0, "epidural"), (42.5, "senior_called"),
    ]  # fmt: skip


def test_a_file_that_was_never_closed_is_taken_as_far_as_it_goes(db, tmp_path):
    file = tmp_path / "C9.edf"
    file.write_bytes(by_hand([(0, VALUES, b""), (10, VALUES, b"")], count=-1, tail=b"\0" * 50))
    (outcome,) = take(db, file).files
    assert (outcome.outcome, outcome.rows_accepted) == ("stored", 80)


def test_an_inverted_physical_range_is_read_as_it_says(db, tmp_path):
    file = tmp_path / "C9.edf"
    signals = [("FHR", "bpm", 300, 0, 0, 3000, 40), ("EDF Annotations", "", -1, 1, -32768, 32767, 60)]
    file.write_bytes(by_hand([(0, [1500] * 20 + [1600] * 20, b"")], signals=signals))
    take(db, file)
    (stretch,) = stored(db, "C9")[("C9", "A")]
    np.testing.assert_allclose(to_units(stretch.fhr_cbpm), [150.0] * 20 + [140.0] * 20)


GOOD = by_hand([(0, VALUES, b""), (10, VALUES, b"")])


REFUSED = [
    (GOOD[:-1], "cut off"),
    (GOOD[:-100], "cut off"),
    (GOOD[:300], "found 300 bytes of an EDF header of 768"),
    (GOOD + b"\0", "more data than the 2 records"),
    (GOOD[:236] + field("two", 8) + GOOD[244:], "the number of data records"),
    (GOOD[:244] + field("0", 8) + GOOD[252:], "data records of 0 s"),
    (GOOD[:244] + field("nan", 8) + GOOD[252:], "the length of a data record"),
    (by_hand([(0, VALUES, b""), (5, VALUES, b"")]), "starts before the one before it ends"),
    (by_hand([(0, VALUES, b""), (9.8, VALUES, b"")]), "starts before the one before it ends"),
    # 20 s are missing in a file that calls itself continuous: its lengths would not be true
    (by_hand([(0, VALUES, b""), (30, VALUES, b"")], kind="EDF+C"), "data record 2 says that it starts 30 s after"),
    (by_hand([(0, VALUES, b""), (10, VALUES, b"")]).replace(b"+10\x14\x14", bytes(5)), "does not say when it starts"),
    (by_hand([(0, VALUES, b"1\x14x\x14\0")]), "without a time"),
    (by_hand([(0, VALUES, b"")], signals=[("Resp", "", 0, 1, 0, 9, 40), ("EDF Annotations", "", -1, 1, -9, 9, 60)]),
     "expected one called FHR"),
    (by_hand([(0, VALUES, b"")],
             signals=[("FHR", "bpm", 5, 5, 0, 9, 40), ("EDF Annotations", "", -1, 1, -9, 9, 60)]),
     "a range of nothing"),
    (edfio.Edf([], annotations=[edfio.EdfAnnotation(30, None, "Epidural")]).to_bytes(), "annotations and no signal"),
]  # fmt: skip


def test_a_file_that_breaks_the_format_is_refused_with_what_was_found(offered):
    for outcome, (_, says) in zip(offered([data for data, _ in REFUSED], ".edf"), REFUSED, strict=True):
        assert outcome.outcome == "refused", says
        assert says in outcome.message


def test_two_fetuses_in_one_packed_file(db, tmp_path):
    file = tmp_path / "C7.edf.gz"
    edf = edfio.Edf(
        [signal(FHR, 4, "FHR1", "bpm", 300), signal(FHR + 5, 4, "FHR 2", "bpm", 300), signal(TOCO, 2, "toco", "", 100)]
    )
    file.write_bytes(gzip.compress(edf.to_bytes()))
    assert take(db, file).exit_code == 0
    assert set(stored(db, "C7")) == {("C7", "A"), ("C7", "B")}
