"""What an import leaves in the store: once, in any order, in any format, and nothing when it must not.

Over 400 lines: the same few files, offered in every way, which all of its tests share.
"""

import gzip
import hashlib
import shutil
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from audit.errors import UsageError
from audit.intake.door.report import ImportReport
from audit.intake.importer import import_paths
from audit.questions.check import stored_ranges
from audit.settings import load_settings
from audit.store import database
from audit.store.tracings import load_stretches, load_tracing, minutes_table
from tests.asking import ask

SETTINGS = load_settings()
HEADER = "case_id,t_s,fhr_bpm,toco\n"
TABLES = ("cases", "outcomes", "care_events", "assessments", "unit_months", "reads", "tracings", "tracing_minutes")


def take(db: Path, *paths: Path, **options: bool) -> ImportReport:
    return import_paths(db, list(paths), settings=SETTINGS, **options)


def content(db: Path) -> dict[str, list[tuple]]:
    """Everything imported, without the numbers of the imports."""
    with database.open_for_reading(db) as con:
        return {
            table: sorted(
                con.execute(
                    f"select * exclude (import_id) from {table}"
                    if table in ("care_events", "reads", "tracings")
                    else f"select * from {table}"
                ).fetchall(),
                key=repr,
            )
            for table in TABLES
        }


def samples(case_id: str = "C1", *, rate_hz: float = 4.0, seconds: float = 200.0, seed: int = 1) -> pa.Table:
    rng = np.random.default_rng(seed)
    count = int(seconds * rate_hz)
    fhr = np.round(rng.uniform(110, 160, count) * 4) / 4
    return pa.table(
        {
            "case_id": [case_id] * count,
            "t_s": np.round(np.arange(count) / rate_hz, 4),
            "fhr_bpm": pa.array(fhr, mask=rng.random(count) < 0.1),
            "toco": np.round(rng.uniform(0, 90, count)),
        }
    )


def csv_of(table: pa.Table, path: Path) -> Path:
    table.to_pandas().to_csv(path, index=False)
    return path


def parquet_of(table: pa.Table, path: Path) -> Path:
    pq.write_table(table, path)
    return path


CASES = "case_id,period,birth_s,cord_artery_ph\nC1,2025-03,190,7.21\nC2,2025-04,,\n"
EVENTS = "case_id,at_s,event\nC1,100,senior_called\nC1,190,birth\n"
READS = "case_id,reader,start_s,end_s,standard,category\nC1,R1,0,180,figo-2015,normal\nC1,R2,0,180,nichd-2008,II\n"


def folder_of_all(folder: Path) -> Path:
    folder.mkdir()
    (folder / "a_reads.csv").write_text(READS)
    (folder / "b_events.csv").write_text(EVENTS)
    (folder / "c_cases.csv").write_text(CASES)
    csv_of(samples(), folder / "d_tracing.csv")
    (folder / "README.md").write_text("Exported in the night.\n")
    (folder / ".hidden").write_text("x")
    return folder


def test_a_folder_is_taken_in_the_order_cases_tracings_events_reads(db, tmp_path):
    report = take(db, folder_of_all(tmp_path / "march"))
    assert report.exit_code == 0
    assert [file.kind for file in report.files[:4]] == ["cases", "tracing", "care_events", "reads"]
    assert [file.path.name for file in report.files if file.outcome == "left_alone"] == [".hidden", "README.md"]
    assert ask(db, "select source, sha256 from imports order by import_id") == [
        (f"{file.sha256[:10]}.csv", file.sha256) for file in report.files[:4]
    ]
    assert ask(db, "select case_id, period, birth_s from cases order by all") == [
        ("C1", "2025-03", 190.0),
        ("C2", "2025-04", None),
    ]
    assert ask(db, "select case_id, fetus, cord_artery_ph from outcomes") == [("C1", "A", 7.21)]


def test_the_same_again_changes_nothing_and_says_so(db, tmp_path):
    folder = folder_of_all(tmp_path / "march")
    take(db, folder)
    before, imports = content(db), ask(db, "select * from imports order by import_id")
    again = take(db, folder)
    assert again.exit_code == 0
    assert {file.outcome for file in again.files} == {"unchanged", "left_alone"}
    assert "unchanged" in again.lines()[0]
    assert content(db) == before
    assert ask(db, "select * from imports order by import_id") == imports


@pytest.mark.slow
@pytest.mark.parametrize("order", [(0, 1, 2, 3), (3, 2, 1, 0), (1, 3, 0, 2)])
def test_files_may_come_in_any_order(db, tmp_path, order):
    folder = folder_of_all(tmp_path / "march")
    files = sorted(folder.glob("*.csv"))
    for k in order:
        assert take(db, files[k]).exit_code == 0
    other = tmp_path / "other.duckdb"
    take(other, folder)
    assert content(db) == content(other)


@pytest.mark.slow
def test_another_format_another_file_and_another_order_of_rows_are_the_same_content(db, tmp_path):
    table = samples()
    take(db, csv_of(table, tmp_path / "a.csv"))
    before = content(db)
    packed = tmp_path / "b.csv.gz"
    packed.write_bytes(gzip.compress((tmp_path / "a.csv").read_bytes()))
    shuffled = table.take(np.random.default_rng(3).permutation(len(table)))
    reordered = table.select(["toco", "fhr_bpm", "t_s", "case_id"])
    quoted = tmp_path / "e.csv"
    quoted.write_text(table.to_pandas().to_csv(index=False, quoting=2).replace("\n", "\r\n"))
    marked = tmp_path / "f.csv"
    marked.write_bytes(b"\xef\xbb\xbf" + (tmp_path / "a.csv").read_bytes().upper().replace(b"NAN", b""))
    for file in (
        packed,
        parquet_of(table, tmp_path / "c.parquet"),
        csv_of(shuffled, tmp_path / "d.csv"),
        parquet_of(reordered, tmp_path / "g.parquet"),
        quoted,
        marked,
    ):
        report = take(db, file)
        assert (file.name, report.files[0].outcome, report.exit_code) == (file.name, "unchanged", 0)
        assert content(db) == before


@pytest.mark.slow
def test_interleaved_cases_are_told_apart(db, tmp_path):
    one, two = samples("C1", seed=1), samples("C2", seed=2)
    mixed = pa.concat_tables([one, two]).sort_by("t_s")
    take(db, csv_of(mixed, tmp_path / "mixed.csv"))
    for table in (one, two):
        other = take(db, csv_of(table, tmp_path / f"{table['case_id'][0]}.csv"))
        assert other.files[0].outcome == "unchanged"


@pytest.mark.slow
@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 4.0, 5.0, 10.0])
@pytest.mark.parametrize("backwards", [False, True])
def test_a_tracing_in_pieces_equals_the_whole(db, tmp_path, rate_hz, backwards):
    whole = samples(rate_hz=rate_hz, seconds=300)
    cut = int(len(whole) * 0.4) + 1
    pieces = [csv_of(whole.slice(0, cut), tmp_path / "1.csv"), csv_of(whole.slice(cut), tmp_path / "2.csv")]
    for piece in reversed(pieces) if backwards else pieces:
        assert take(db, piece).files[0].outcome == "stored"
    assert ask(db, "select count(*) from tracings") == [(2,)]
    other = tmp_path / "whole.duckdb"
    take(other, csv_of(whole, tmp_path / "whole.csv"))
    with database.open_for_reading(db) as con:
        split = load_tracing(con, "C1")
    with database.open_for_reading(other) as con:
        together = load_tracing(con, "C1")
    unlike = split.fhr_bpm != together.fhr_bpm
    unlike &= ~(np.isnan(split.fhr_bpm) & np.isnan(together.fhr_bpm))
    assert unlike.sum() <= (1 if rate_hz > 4 else 0)  # a cut within a quarter second
    assert take(db, tmp_path / "whole.csv").exit_code == 0
    assert take(db, *pieces).files[0].outcome == "unchanged"


@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.0, 3.0])
def test_a_slower_file_is_stored_with_its_own_samples(db, tmp_path, rate_hz):
    table = samples(rate_hz=rate_hz, seconds=300)
    take(db, csv_of(table, tmp_path / "slow.csv"))
    stored = ask(db, "select samples, sample_rate_hz, source_rate_hz from tracings")
    assert stored == [(len(table), rate_hz, pytest.approx(rate_hz, abs=0.001))]
    with database.open_for_reading(db) as con:
        tracing = load_tracing(con, "C1")
    np.testing.assert_array_equal(tracing.fhr_bpm, np.asarray(table["fhr_bpm"].to_numpy(), float))


def held_up(db: Path) -> None:
    """As a slower file lay in the store before it kept its own rate: every sample held on quarter seconds."""
    with database.open_for_writing(db) as con:
        (stretches,) = load_stretches(con, ["C1"]).values()
        held = [stretch.held() for stretch in stretches]
        con.execute("delete from tracing_minutes")
        con.from_arrow(minutes_table(held)).insert_into("tracing_minutes")
        con.execute("delete from tracings where start_s <> (select min(start_s) from tracings)")
        con.execute(
            "update tracings set start_s = ?, samples = ?, sample_rate_hz = 4, content_sha256 = ?",
            [held[0].start_s, held[0].samples, held[0].content_sha256()],
        )


@pytest.mark.slow
@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("start_s", [0.0, 0.1])
def test_a_database_that_held_a_slower_file_up_knows_it_again_and_takes_what_follows(db, tmp_path, rate_hz, start_s):
    whole = samples(rate_hz=rate_hz, seconds=400)
    whole = whole.set_column(1, "t_s", pa.array(np.round(whole["t_s"].to_numpy() + start_s, 4)))
    early = whole.slice(0, int(300 * rate_hz))
    take(db, csv_of(early, tmp_path / "early.csv"))
    held_up(db)
    before = content(db)
    # the same file, the same content in another format
    assert take(db, tmp_path / "early.csv").files[0].outcome == "unchanged"
    assert take(db, parquet_of(early, tmp_path / "early.parquet")).files[0].outcome == "unchanged"
    assert content(db) == before
    # the same tracing, grown: what is new comes with its own samples
    assert take(db, csv_of(whole, tmp_path / "whole.csv")).files[0].outcome == "stored"
    assert ask(db, "select samples, sample_rate_hz from tracings order by start_s")[1:] == [(100 * rate_hz, rate_hz)]
    with database.open_for_reading(db) as con:
        tracing = load_tracing(con, "C1")
        assert database.rows(con, "check/ranges", stored_ranges(SETTINGS)).empty
    assert tracing.sample_rate_hz == 4.0
    at = np.floor((np.arange(tracing.fhr_bpm.size) / 4 + tracing.start_s - start_s) * rate_hz + 0.005).astype(int)
    expected = np.asarray(whole["fhr_bpm"].to_numpy(), float)[np.minimum(at, len(whole) - 1)]
    np.testing.assert_array_equal(tracing.fhr_bpm, expected)


def test_pieces_of_different_rates_make_one_tracing_and_say_so(db, tmp_path):
    slow, usual = samples(rate_hz=1.0, seconds=200), samples(seconds=200, seed=2)
    usual = usual.set_column(1, "t_s", pa.array(usual["t_s"].to_numpy() + 200))
    assert take(db, csv_of(slow, tmp_path / "1.csv"), csv_of(usual, tmp_path / "2.csv")).exit_code == 0
    assert ask(db, "select samples, sample_rate_hz from tracings order by start_s") == [(200, 1.0), (800, 4.0)]
    with database.open_for_reading(db) as con:
        tracing = load_tracing(con, "C1")
    assert (tracing.sample_rate_hz, tracing.rates_hz) == (4.0, (1.0, 4.0))
    np.testing.assert_array_equal(tracing.toco[:800], np.repeat(slow["toco"].to_numpy(), 4))
    np.testing.assert_array_equal(tracing.toco[800:], usual["toco"].to_numpy())


@pytest.mark.slow
def test_other_samples_in_a_slower_file_are_refused_and_named(db, tmp_path):
    take(db, csv_of(samples(rate_hz=1.0, seed=1), tmp_path / "a.csv"))
    before = content(db)
    report = take(db, csv_of(samples(rate_hz=1.0, seed=2), tmp_path / "b.csv"))
    assert "other samples are stored; at 0 s" in report.lines()[1]
    assert content(db) == before


def test_a_tracing_that_grew_is_stored_from_where_it_ended(db, tmp_path):
    whole = samples(seconds=300)
    take(db, csv_of(whole.slice(0, 700), tmp_path / "early.csv"))
    assert take(db, csv_of(whole, tmp_path / "late.csv")).files[0].outcome == "stored"
    assert ask(db, "select start_s, samples from tracings order by 1") == [(0.0, 700), (175.0, 500)]


@pytest.mark.slow
def test_other_samples_for_the_same_time_are_refused_and_named(db, tmp_path):
    take(db, csv_of(samples(seed=1), tmp_path / "a.csv"))
    before = content(db)
    report = take(db, csv_of(samples(seed=2), tmp_path / "b.csv"))
    assert report.exit_code == 3
    assert "other samples are stored; at 0 s" in report.lines()[1]
    assert "--replace" in report.lines()[1]
    assert report.rows_rejected == 800
    assert content(db) == before


@pytest.mark.slow
def test_replace_puts_the_new_samples_in_place_and_keeps_the_former_hash(db, tmp_path):
    take(db, csv_of(samples(seed=1), tmp_path / "a.csv"))
    former = ask(db, "select content_sha256 from tracings")[0][0]
    second = samples(seed=2)
    pieces = [csv_of(second.slice(0, 300), tmp_path / "b1.csv"), csv_of(second.slice(300), tmp_path / "b2.csv")]
    report = take(db, *pieces, replace=True)
    assert report.files[0].outcome == "replaced"
    assert report.exit_code == 0
    other = tmp_path / "other.duckdb"
    take(other, *pieces)
    assert content(db) == content(other)
    assert ask(db, "select former_sha256, kind from content_history") == [
        (hashlib.sha256(former.encode()).hexdigest(), "tracing")
    ]
    # the first file is no longer what is stored, so it must not pass as imported before
    assert take(db, tmp_path / "a.csv").exit_code == 3


@pytest.mark.slow
def test_a_case_with_other_values_is_refused_and_replaced_when_asked(db, tmp_path):
    (tmp_path / "a.csv").write_text(CASES)
    (tmp_path / "b.csv").write_text(CASES.replace("7.21", "7.05"))
    take(db, tmp_path / "a.csv")
    report = take(db, tmp_path / "b.csv")
    assert (report.exit_code, report.rows_accepted, report.rows_rejected) == (3, 1, 1)
    assert "cord_artery_ph 7.21 (file: 7.05)" in report.lines()[1]
    assert ask(db, "select cord_artery_ph from outcomes") == [(7.21,)]
    assert take(db, tmp_path / "b.csv", replace=True).files[0].outcome == "replaced"
    assert ask(db, "select cord_artery_ph from outcomes") == [(7.05,)]
    assert ask(db, "select case_id, kind, length(former_sha256) from content_history") == [("C1", "cases", 64)]


@pytest.mark.slow
def test_columns_that_a_file_does_not_have_keep_what_is_stored(db, tmp_path):
    (tmp_path / "a.csv").write_text(CASES)
    (tmp_path / "b.csv").write_text("case_id,period\nC1,2025-03\n")
    (tmp_path / "c.csv").write_text("case_id,period,parity\nC1,2025-05,2\n")
    take(db, tmp_path / "a.csv")
    assert take(db, tmp_path / "b.csv").files[0].outcome == "unchanged"
    take(db, tmp_path / "c.csv", replace=True)
    assert ask(db, "select period, parity, birth_s from cases where case_id = 'C1'") == [("2025-05", 2, 190.0)]


@pytest.mark.slow
def test_a_case_known_from_its_tracing_only_is_filled_in_later(db, tmp_path):
    take(db, csv_of(samples(), tmp_path / "t.csv"))
    assert ask(db, "select case_id, period, content_sha256 from cases") == [("C1", None, None)]
    (tmp_path / "c.csv").write_text(CASES)
    assert take(db, tmp_path / "c.csv").exit_code == 0
    assert ask(db, "select period from cases where case_id = 'C1'") == [("2025-03",)]
    assert ask(db, "select count(*) from content_history") == [(0,)]


@pytest.mark.slow
def test_twins_are_one_case_with_two_tracings_and_two_outcomes(db, tmp_path):
    table = samples().append_column("fetus", pa.array(["A"] * 800))
    second = samples(seed=2).append_column("fetus", pa.array(["B"] * 800))
    take(db, csv_of(pa.concat_tables([table, second]), tmp_path / "t.csv"))
    (tmp_path / "c.csv").write_text("case_id,period,plurality,fetus,apgar_5\nC1,2025-03,2,A,9\nC1,2025-03,2,B,8\n")
    take(db, tmp_path / "c.csv")
    assert ask(db, "select case_id, plurality from cases") == [("C1", 2)]
    assert ask(db, "select fetus, apgar_5 from outcomes order by 1") == [("A", 9), ("B", 8)]
    assert ask(db, "select fetus, samples from tracings order by 1") == [("A", 800), ("B", 800)]
    (tmp_path / "e.csv").write_text("case_id,at_s,event\nC1,150,birth\nC1,190,birth\n")
    assert take(db, tmp_path / "e.csv").exit_code == 0


def test_no_signal_is_null_and_toco_zero_is_zero(db, tmp_path):
    (tmp_path / "t.csv").write_text(HEADER + "C1,0,0,0\nC1,0.25,,\nC1,0.5,140,5\nC1,0.75,NaN,NaN\n")
    take(db, tmp_path / "t.csv")
    assert ask(db, "select fhr_cbpm, toco_hundredths, mhr_cbpm from tracing_minutes") == [
        ([None, None, 14000, None], [0, None, 500, None], None)
    ]
    assert ask(db, "select fhr_seen_fraction, toco_seen_fraction from tracings") == [(0.25, 0.5)]


@pytest.mark.slow
def test_a_dry_run_reports_the_same_and_writes_nothing(tmp_path, empty):
    folder = folder_of_all(tmp_path / "march")
    (folder / "bad.csv").write_text(HEADER + "C9,0,140,1\nC9,x,140,1\n")
    absent = tmp_path / "absent.duckdb"
    dry = take(absent, folder, dry_run=True)
    assert not absent.exists()
    assert "nothing was written" in dry.lines()[-1]
    db = Path(shutil.copyfile(empty, tmp_path / "unit.duckdb"))
    take(db, folder / "c_cases.csv")
    bytes_before = hashlib.sha256(db.read_bytes()).hexdigest()
    dry_again = take(db, folder, dry_run=True)
    assert hashlib.sha256(db.read_bytes()).hexdigest() == bytes_before
    wet = take(db, folder)
    assert dry_again.files == wet.files
    assert dry.exit_code == wet.exit_code == 3


def test_accepted_and_rejected_rows_add_up_to_the_rows_of_the_file(db, tmp_path):
    rng = np.random.default_rng(5)
    words = ["", "x", "140", "-1", "999", "150.5"]
    rows = [f"C{rng.integers(3)},{k / 4 if rng.random() < 0.9 else 'y'},{rng.choice(words)},3" for k in range(400)]
    (tmp_path / "t.csv").write_text(HEADER + "\n".join(rows) + "\n")
    (file,) = take(db, tmp_path / "t.csv").files
    assert file.rows_accepted + file.rows_rejected == 400
    assert ask(db, "select rows_accepted, rows_rejected, values_rejected from imports") == [
        (file.rows_accepted, file.rows_rejected, file.values_rejected)
    ]
    listed = ask(db, "select count(*) from import_rejects where severity = 'rejected'")[0][0]
    assert listed == file.rows_rejected + file.values_rejected


def test_unknown_columns_are_said_and_not_stored(db, tmp_path):
    (tmp_path / "c.csv").write_text("case_id,period,colour\nC1,2025-03,teal-colour\n")
    report = take(db, tmp_path / "c.csv")
    assert report.exit_code == 0
    assert "unknown columns are not stored: 1 of 3 (counted from the left: 3)" in report.lines()[0]
    assert "colour" not in report.lines()[0]
    assert "teal" not in repr(content(db))


def test_a_path_that_does_not_exist_is_wrong_usage(db, tmp_path):
    with pytest.raises(UsageError, match="no such file"):
        take(db, tmp_path / "nowhere.csv")


def test_an_empty_folder_is_no_error(db, tmp_path):
    (tmp_path / "none").mkdir()
    assert take(db, tmp_path / "none").lines() == ["No files found."]


def test_progress_counts_files(db, tmp_path):
    seen: list[tuple[float, int, float]] = []
    folder = folder_of_all(tmp_path / "march")
    import_paths(db, [folder], settings=SETTINGS, progress=lambda *now: seen.append(now))
    assert seen[0] == (0, 6, 0)
    assert seen[-1] == (6, 6, 1)


def test_progress_tells_what_share_of_the_bytes_is_done(db, tmp_path):
    seen: list[tuple[float, int, float]] = []
    small, large = tmp_path / "a.csv", tmp_path / "b.csv"
    small.write_text("case_id,t_s,fhr_bpm,toco\nC2,0,140,10\n")
    large.write_text("case_id,t_s,fhr_bpm,toco\n" + "".join(f"C1,{k},140,10\n" for k in range(600)))
    import_paths(db, [small, large], settings=SETTINGS, progress=lambda *now: seen.append(now))
    part = small.stat().st_size / (small.stat().st_size + large.stat().st_size)
    assert [share for done, _, share in seen if done == 1] == [pytest.approx(part, abs=1e-3)]
