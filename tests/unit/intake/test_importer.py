"""What an import leaves in the store: once, in any order, in any format, and nothing when it must not."""

import gzip
import hashlib
import shutil
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from audit.errors import UsageError
from audit.intake.importer import import_paths
from tests.asking import ask
from tests.offering import (
    CASES,
    HEADER,
    SETTINGS,
    content,
    csv_of,
    folder_of_all,
    parquet_of,
    samples,
    take,
)


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
