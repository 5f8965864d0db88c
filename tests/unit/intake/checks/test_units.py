"""What an import says of a tracing whose times or channels are in another unit, unsteady, empty or there already.

Source of what is right: the contract of the input files (seconds from the first sample, 0.5 to 10 samples a second,
beats per minute, a toco in its own unit of about 0 to 100); the cases are invented.
"""

import json
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from audit.intake.door.report import ImportReport
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from tests.asking import ask

pytestmark = pytest.mark.slow

ROWS = 1200
T = np.arange(ROWS) / 4
FHR = np.round(140 + 5 * np.sin(np.arange(ROWS) / 40), 2)
TOCO = np.round(15 + 10 * np.sin(np.arange(ROWS) / 200), 1)


def text(t_s=T, fhr=FHR, toco=TOCO, case="C1", fetus="A") -> str:
    rows = zip(t_s, fhr, toco, strict=True)
    return "".join(f"{case},{t:.6g},{'' if np.isnan(f) else f'{f:g}'},{c:g},{fetus}\n" for t, f, c in rows)


def offer(db: Path, *files: str, name: str = "file") -> ImportReport:
    paths = []
    for k, rows in enumerate(files):
        paths.append(db.parent / f"{name}{k}.csv")
        paths[-1].write_text("case_id,t_s,fhr_bpm,toco,fetus\n" + rows)
    return import_paths(db, paths, settings=load_settings())


def said(report: ImportReport) -> list[tuple[int | None, str | None, str]]:
    return [(remark.row_number, remark.column_name, remark.reason) for file in report.files for remark in file.remarks]


def test_a_plain_tracing_is_taken_without_a_remark(db):
    report = offer(db, text())
    assert (report.exit_code, said(report)) == (0, [])


OTHER_UNITS = [
    ({"fhr": FHR * 100}, "fhr_bpm", "hundredths of bpm"),
    ({"fhr": FHR * 10}, "fhr_bpm", "tenths of bpm"),
    ({"fhr": np.round(60_000 / FHR)}, "fhr_bpm", "milliseconds between beats"),
    ({"fhr": np.round(FHR / 60, 3)}, "fhr_bpm", "beats per second"),
    ({"fhr": np.round(60 / FHR, 3)}, "fhr_bpm", "seconds between beats"),
    ({"fhr": np.round(FHR / 255, 3)}, "fhr_bpm", "is the column in another unit?"),
    ({"t_s": T * 1000}, "t_s", "milliseconds"),
    ({"t_s": T / 60}, "t_s", "minutes"),
    ({"t_s": T / 3600}, "t_s", "hours"),
    ({"t_s": np.round(T / 60, 1)}, "t_s", "rounded, in minutes"),
    ({"t_s": np.floor(T)}, "t_s", "rounded"),
]


def test_another_unit_is_refused_in_one_sentence_with_its_name(db):
    report = offer(db, *(text(**given, case=f"C{k}") for k, (given, _, _) in enumerate(OTHER_UNITS)))
    assert report.exit_code == 3
    for file, (_, column, words) in zip(report.files, OTHER_UNITS, strict=True):
        assert (file.rows_accepted, file.rows_rejected) == (0, ROWS), words
        [remark] = file.remarks
        assert (remark.row_number, remark.column_name) == (2, column)
        assert words in remark.reason
        assert "expected" in remark.reason


ODD = [
    ({"fhr": FHR * 0}, "fhr_bpm", "no heart rate in any"),
    ({"fhr": FHR * 0 + 140}, "fhr_bpm", "found 140 in each"),
    ({"fhr": np.where(np.arange(ROWS) % 9 == 0, 255, FHR)}, "fhr_bpm", "stand for no signal"),
    ({"fhr": np.round(FHR / 2)}, "fhr_bpm", "expected 80 to 200"),  # every other beat counted
    ({"fhr": np.round(FHR * 1.5)}, "fhr_bpm", "expected 80 to 200"),
    ({"toco": TOCO * 0}, "toco", "found 0 in each"),
    ({"toco": TOCO / 100}, "toco", "a share"),
    ({"toco": FHR}, "toco", "the values of fhr_bpm again"),
    ({"toco": TOCO * 0.133}, "toco", "kPa"),
    ({"toco": np.round(TOCO * 0.133)}, "toco", "kPa"),
    ({"t_s": np.arange(ROWS) + 85_300.0 * (np.arange(ROWS) > 9)}, "t_s", "sample numbers"),
    ({"t_s": T + 43_200}, "t_s", "12:00 on a clock that counts from midnight"),
    ({"t_s": np.cumsum(np.random.default_rng(3).choice([0.2, 0.3, 0.7], ROWS)).round(3)}, "t_s", "one steady step"),
    ({"t_s": np.cumsum(np.random.default_rng(4).uniform(0.2, 1, ROWS)).round(3)}, "t_s", "one steady step"),
    ({"t_s": np.append(T[:600], 150 + np.arange(600.0))}, "t_s", "60% of the time has no sample"),
]


def test_what_is_odd_is_stored_with_a_remark(db):
    report = offer(db, *(text(**given, case=f"C{k}") for k, (given, _, _) in enumerate(ODD)))
    assert report.exit_code == 0
    document = json.loads(json.dumps(report.document()))
    for file, told, (_, column, words) in zip(report.files, document["files"], ODD, strict=True):
        assert file.rows_accepted == ROWS
        found = [(remark.row_number, remark.column_name) for remark in file.remarks if words in remark.reason]
        assert found == [(2, column)], file.remarks
        assert any(words in remark["reason"] for remark in told["remarks"])
    assert ask(db, "select count(*) from import_rejects where severity = 'flagged'") == [(report.rows_flagged,)]


def test_unsteady_steps_lose_no_signal(db):
    t_s = np.cumsum(np.random.default_rng(4).uniform(0.2, 1, ROWS)).round(3)
    offer(db, text(t_s))
    [(samples, seen, rate_hz, source_hz)] = ask(
        db, "select samples, fhr_seen_fraction, sample_rate_hz, source_rate_hz from tracings"
    )
    assert (seen, rate_hz, source_hz) == (1.0, 4.0, None)
    assert abs(samples / 4 - (t_s[-1] - t_s[0])) < 2.5  # a sample stands for at most 2 s


def test_times_with_one_decimal_and_missing_rows_are_steady(db):
    kept = np.random.default_rng(5).random(ROWS) > 0.03
    report = offer(db, text(np.round(T, 1)), text(T[kept], FHR[kept], TOCO[kept], case="C2"))
    assert not [reason for _, column, reason in said(report) if column == "t_s"]


def test_the_same_heart_rate_under_another_case_is_told(db):
    moved = {"C2": {}, "C3": {"t_s": T + 3}, "C4": {"toco": TOCO + 1}}
    offer(db, text())
    first = offer(db, *(text(case=case_id, **given) for case_id, given in moved.items()), name="more")
    again = offer(db, text(case="C5"), name="later")
    for case_id, file in zip((*moved, "C5"), (*first.files, *again.files), strict=True):
        [remark] = file.remarks  # one a copy, however many copies there are
        assert f"case C1, fetus A, sample by sample, under case {case_id}" in remark.reason


def test_the_same_heart_rate_again_under_its_own_case_is_no_matter(db):
    offer(db, text())
    report = offer(db, text() + text(T + 400, FHR + 3), name="more")
    assert said(report) == []


def test_two_spellings_of_a_fetus_are_told(db):
    half = ROWS // 2
    report = offer(db, text(T[:half], FHR[:half], TOCO[:half]) + text(T[half:], FHR[half:], TOCO[half:], fetus="a"))
    [(row, column, reason)] = said(report)
    assert (row, column) == (half + 2, "fetus")
    assert "A and a" in reason
    assert ask(db, "select fetus, samples from tracings") == [("A", ROWS)]


def test_letters_beside_figures_for_fetuses_are_told(db):
    report = offer(db, text(), text(fhr=FHR + 4, fetus="2"))
    # also told: there is no fetus A in that file
    told = [(column, "letters or figures" in reason) for _, column, reason in said(report)]
    assert told == [("fetus", False), ("fetus", True)]


def test_a_case_called_na_is_a_case(db):
    report = offer(db, text(case="NA"))
    assert (report.exit_code, report.rows_accepted) == (0, ROWS)
    [(case_id,)] = ask(db, "select case_id from tracings")
    (db.parent / "cases.csv").write_text("case_id,period\nNA,2031-04\n,2031-04\n")
    later = import_paths(db, [db.parent / "cases.csv"], settings=load_settings())
    assert (later.rows_accepted, later.rows_rejected) == (1, 1)
    assert ask(db, "select case_id, period from cases") == [(case_id, "2031-04")]


def test_ph_keeps_its_printed_decimals(db):
    printed = [7.10, 7.05, 7.2]
    files = []
    for kind in (pa.float16(), pa.float32(), pa.float64()):
        values = pa.array(np.array(printed).astype(kind.to_pandas_dtype()), kind)
        case_ids = [f"C{kind.bit_width}{k}" for k in range(3)]
        files.append(db.parent / f"{kind}.parquet")
        table = {"case_id": case_ids, "period": ["2031-04"] * 3, "cord_artery_ph": values}
        pq.write_table(pa.table(table), files[-1])
    import_paths(db, files, settings=load_settings())
    assert [ph for (ph,) in ask(db, "select cord_artery_ph from outcomes order by case_id")] == printed * 3


def test_ph_that_went_through_32_bits_before_it_was_printed(db):
    (db.parent / "cases.csv").write_text(
        "case_id,period,cord_artery_ph\nC1,2031-04,7.099999904632568\nC2,2031-04,7.0999999\nC3,2031-04,7.104\n"
    )
    import_paths(db, [db.parent / "cases.csv"], settings=load_settings())
    assert ask(db, "select cord_artery_ph from outcomes order by case_id") == [(7.1,), (7.1,), (7.104,)]


EVENTS = "case_id,at_s,event\n"
HOURS = np.arange(0, 4 * 3600.0, 2)  # a tracing of 4 h


OTHER_CLOCKS = [
    ("{0},50,epidural\n{0},120,oxytocin_started\n{0},239,birth\n", "minutes"),
    ("{0},50,epidural\n{0},120,oxytocin_started\n{0},230,senior_called\n", "minutes"),
    ("{0},43300,epidural\n{0},50400,senior_called\n{0},57600,incision\n", "midnight"),
    ("{0},57600,birth\n", "midnight"),
]


def test_events_with_another_clock_than_the_tracing_are_told(db):
    wave = np.sin(HOURS / 40)
    tracings, files = [], []
    for k, (rows, _) in enumerate(OTHER_CLOCKS):
        tracings.append(text(HOURS, np.round(140 + k + 5 * wave, 2), np.round(20 + 10 * wave, 1), case=f"C{k}"))
        files.append(db.parent / f"events{k}.csv")
        files[-1].write_text(EVENTS + rows.format(f"C{k}"))
    offer(db, *tracings)
    report = import_paths(db, files, settings=load_settings())
    for file, (_, words) in zip(report.files, OTHER_CLOCKS, strict=True):
        assert any(words in remark.reason and remark.column_name == "at_s" for remark in file.remarks), file.remarks


def test_milliseconds_of_an_event_are_refused_with_a_word(db):
    (db.parent / "events.csv").write_text(EVENTS + "C1,3600000,epidural\n")
    [(row, column, reason)] = said(import_paths(db, [db.parent / "events.csv"], settings=load_settings()))
    assert (row, column) == (2, "at_s")
    assert "milliseconds" in reason


def test_codes_that_an_earlier_version_stored_as_typed_are_recognised(db):
    with database.open_for_writing(db) as con:
        con.execute("insert into cases (case_id) values ('Labour 2031/0007')")
    report = offer(db, text(case="Labour 2031/0007"))
    assert report.rows_accepted == ROWS
    assert ask(db, "select case_id from cases") == [("Labour 2031/0007",)]


def test_many_short_cases_are_stored_in_one_go(db, monkeypatch):
    asked: list[str] = []
    execute = database.execute
    monkeypatch.setattr(database, "execute", lambda con, name, *rest: asked.append(name) or execute(con, name, *rest))
    told: list[tuple[float, int, float]] = []
    rows = "case_id,t_s,fhr_bpm,toco\n" + "".join(f"C{k},0,140,10\n" for k in range(300))
    (db.parent / "many.csv").write_text(rows)
    (db.parent / "events.csv").write_text(EVENTS + "".join(f"C{k + 500},10,epidural\n" for k in range(300)))
    paths = [db.parent / "many.csv", db.parent / "events.csv"]
    import_paths(db, paths, settings=load_settings(), progress=lambda *now: told.append(now))
    assert len(asked) < 40  # it was one for each case
    assert len([done for done, _, _ in told if 0 < done < 1]) == 99
    assert told[-1] == (2, 2, 1)


LONG_S = np.arange(7200) / 4.0  # 30 min
LONG = np.round(140 + np.cumsum(np.random.default_rng(8).normal(0, 0.4, 7200)).clip(-40, 40), 1)
HELD = np.repeat(LONG[::4], 4)  # as a recorder of 1 Hz gives it


def test_a_rate_of_two_values_or_in_large_steps_is_told_and_one_of_whole_bpm_is_plain(db):
    # no source: a stuck or coded channel; and no variability of under 3 bpm can be seen in steps of 5
    given = (140 + 20.0 * (np.arange(7200) % 50 < 9), np.round(LONG / 5) * 5, np.round(LONG))
    toco = np.round(40 + 10 * np.sin(np.arange(7200) / 200), 1)  # as high in mmHg, in hPa or without a unit
    report = offer(db, *(text(LONG_S, fhr, toco, case=f"C{k}") for k, fhr in enumerate(given)))
    found = [[remark.reason for remark in file.remarks] for file in report.files]
    assert "found only 140 and 160 in 7,200 samples" in found[0][0]
    assert "in steps of 5 bpm" in found[1][0]
    assert (report.exit_code, [len(reasons) for reasons in found]) == (0, [1, 1, 0])


@pytest.mark.parametrize(
    ("t_s", "fhr"),
    [
        (LONG_S[: 7200 - 2881], LONG[2881:]),  # its last 18 min, from a second that is not the first one's
        (LONG_S[:2400], LONG[1200:3600]),  # ten minutes of it
        (LONG_S[::2], LONG[1::2]),  # every other sample
        (LONG_S[::4], LONG[2::4]),  # one sample a second
        (LONG_S, HELD),  # one sample a second, each four times
        (LONG_S, np.where(np.arange(7200) % 2000 < 300, np.nan, LONG)),  # other losses
    ],
    ids=["cut", "ten-minutes", "2-Hz", "1-Hz", "held", "losses"],
)
def test_a_piece_of_a_heart_rate_under_another_case_is_told_however_it_was_cut(db, t_s, fhr):
    # no source: a labour that is counted twice is no second labour
    offer(db, text(LONG_S, LONG, np.full(7200, 10.0)))
    report = offer(db, text(t_s, fhr, np.full(len(t_s), 10.0), case="C2"), name="more")
    [(_, column, reason)] = [each for each in said(report) if "sample by sample" in each[2]]
    assert column == "fhr_bpm"
    assert "a piece of the heart rate of case C1, fetus A" in reason


def test_pieces_within_one_import_are_told_and_other_labours_are_not(db):
    other = np.round(140 + np.cumsum(np.random.default_rng(9).normal(0, 0.4, 7200)).clip(-40, 40), 1)
    toco = np.full(7200, 10.0)
    part = text(LONG_S[:3599], other[3601:], toco[:3599], case="C3")
    report = offer(db, text(LONG_S, LONG, toco), text(LONG_S, other, toco, case="C2"), part)
    reasons = [reason for _, _, reason in said(report) if "sample by sample" in reason]
    assert [reason.split(",")[0] for reason in reasons] == ["found a piece of the heart rate of case C2"]
