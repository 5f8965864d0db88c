"""The analysis job: what is read, what is left alone, what a broken tracing does, and that workers change nothing."""

import math
import re
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from audit.analysis import guarded, job, stages
from audit.analysis.stale_tracings import stale_tracings
from audit.errors import AuditError, SettingsError, UsageError
from audit.intake.importer import import_paths
from audit.questions.check import check
from audit.second_reading import fitted_file
from audit.settings import load_settings, settings_for
from audit.store import database
from audit.words import RECOGNISABLE_AT, hh_mm
from tests.asking import ask
from tests.fitted_by_hand import by_hand
from tests.reading_builder import reading

SETTINGS = load_settings()
MINUTES = 70


def drawn_tracing(seed: int, start_s: float = 0.0, minutes: int = MINUTES) -> pd.DataFrame:
    """A steady 140 with moderate variability, a contraction every 4 minutes, a late-looking fall after each."""
    rng = np.random.default_rng(seed)
    t = np.arange(minutes * 240) / 4.0
    slow = sum(
        a * np.sin(2 * math.pi * f * t / 60 + rng.uniform(0, 6)) for a, f in ((4.0, 3.1), (2.5, 5.3), (1.5, 9.7))
    )
    fhr = 140 + slow + rng.normal(0, 0.6, t.size)
    toco = 10 + rng.normal(0, 0.4, t.size)
    for peak in np.arange(150.0, minutes * 60, 240.0):
        toco += 50 * np.exp(-(((t - peak) / 22.0) ** 2))
        fhr -= 28 * np.exp(-(((t - peak - 35) / 20.0) ** 2))
    return pd.DataFrame({"t_s": t + start_s, "fhr_bpm": np.round(fhr * 4) / 4, "toco": np.round(toco * 2) / 2})


def write_case(folder: Path, case_id: str, seed: int, start_s: float = 0.0) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    frame = drawn_tracing(seed, start_s)
    frame.insert(0, "case_id", case_id)
    file = folder / f"{case_id}.parquet"
    frame.to_parquet(file, index=False)
    return file


def import_files(db: Path, *files: Path, **options) -> None:
    report = import_paths(db, list(files), settings=SETTINGS, **options)
    assert report.exit_code == 0, report.lines()


def findings(db: Path) -> dict[str, pd.DataFrame]:
    """Every derived table without run_id, in a fixed order."""
    found = {}
    with database.open_for_reading(db) as con:
        for table in stages.DERIVED:
            frame = con.table(table).df().drop(columns="run_id")
            for name in ("reasons", "notes", "assessed_under"):
                if name in frame:
                    frame[name] = [tuple(value) if isinstance(value, np.ndarray) else None for value in frame[name]]
            found[table] = frame.sort_values(list(frame.columns), ignore_index=True)
    return found


@pytest.fixture(scope="module")
def three_cases(tmp_path_factory) -> Path:
    db = tmp_path_factory.mktemp("three") / "unit.duckdb"
    import_files(db, *(write_case(db.parent / "files", f"C{k}", seed=k) for k in range(3)))
    return db


@pytest.fixture(scope="module")
def three_read(three_cases, tmp_path_factory) -> tuple[Path, job.JobSummary]:
    db = Path(shutil.copy(three_cases, tmp_path_factory.mktemp("read")))
    return db, job.analyse(db, settings=SETTINGS, workers=1)


@pytest.fixture
def unit(three_cases, tmp_path) -> Path:
    """Three cases that nobody has read."""
    return Path(shutil.copy(three_cases, tmp_path))


@pytest.fixture
def read_unit(three_read, tmp_path) -> Path:
    """The same, read under the packaged settings."""
    return Path(shutil.copy(three_read[0], tmp_path))


def test_everything_new_is_read_once_and_then_left_alone(three_read, read_unit):
    unit, first = read_unit, three_read[1]
    assert (first.read, first.current, first.failed) == (3, 0, [])
    assert first.hours == pytest.approx(3 * MINUTES / 60)
    again = job.analyse(unit, settings=SETTINGS, workers=1)
    assert (again.read, again.current, again.run_id) == (0, 3, None)
    with database.open_for_reading(unit) as con:
        assert con.execute("select count(*) from analysis_runs").fetchone() == (1,)
        assert con.execute("select count(*) from decelerations").fetchone()[0] > 30
        # one row per minute and standard
        assert con.execute("select count(*) from minute_categories").fetchone() == (3 * MINUTES * 3,)


@pytest.mark.slow
def test_force_and_case_choose_what_is_read(read_unit):
    assert job.analyse(read_unit, settings=SETTINGS, workers=1, force=True).read == 3
    assert job.analyse(read_unit, settings=SETTINGS, workers=1, force=True, case_ids=["C1"]).read == 1
    with pytest.raises(UsageError, match="C9"):
        job.analyse(read_unit, settings=SETTINGS, workers=1, case_ids=["C9"])
    with database.open_for_reading(read_unit) as con:
        assert con.execute("select count(*) from tracing_states").fetchone() == (3,)
        assert con.execute("select count(*) from minute_categories").fetchone() == (3 * MINUTES * 3,)


@pytest.mark.parametrize(
    ("changed", "read"), [("[tracing]\nprolonged_s = 150.0\n", 3), ("[trends]\nacidosis_ph_below = 7.0\n", 0)]
)
def test_changed_settings_make_everything_be_read_again_that_depends_on_them(read_unit, tmp_path, changed, read):
    change = tmp_path / "unit_settings.toml"
    change.write_text(changed, encoding="utf-8")
    other = load_settings(change)
    assert other.sha256 != SETTINGS.sha256
    assert job.analyse(read_unit, settings=other, workers=1).read == read


@pytest.mark.slow
def test_stages_that_are_kept_leave_what_a_whole_analysis_leaves(three_read, read_unit, tmp_path):
    """A target, a standard's limit, an act and a read: each time the same rows as when everything is read again."""
    assert three_read[1].from_kept == 0
    change = tmp_path / "unit_settings.toml"
    change.write_text(
        '[response.triggers."nichd-2008/category_ii_persistent"]\ntarget_minutes = 10.0\n'
        '[figo-2015]\ntachysystole = "> 3"\n',
        encoding="utf-8",
    )
    other = load_settings(change)
    events, reads = tmp_path / "care_events.csv", tmp_path / "reads.csv"
    events.write_text("case_id,at_s,event\nC1,1800,senior_called\nC1,4100,birth\n", encoding="utf-8")
    reads.write_text(
        "case_id,reader,start_s,end_s,standard,category\nC2,R1,600,2400,figo-1986,pathological\n", encoding="utf-8"
    )
    before = findings(read_unit)
    import_files(read_unit, events, reads)
    with database.open_for_writing(read_unit) as con:  # as a program left it that judged them under all at once
        con.execute("insert into stages select * replace ('windows' as stage) from stages where stage = 'burden'")
    summary = job.analyse(read_unit, settings=other, workers=1)
    assert (summary.read, summary.from_kept, summary.hours) == (3, 3, 0.0)
    parts = findings(read_unit)
    assert not parts["responses"].equals(before["responses"])
    assert len(parts["reader_clocks"]) == 1
    with database.open_for_reading(read_unit) as con:
        assert stale_tracings(con, other) == []
        runs = con.execute("select stage, run_id from stages where case_id = 'C1' order by stage").fetchall()
    anew = {"figo-2015", "windows figo-2015", "burden", "clock"}
    assert {stage for stage, run_id in runs if run_id == summary.run_id} == anew
    assert "windows" not in {stage for stage, _ in runs}
    assert check(read_unit, other).exit_code == 0
    assert job.analyse(read_unit, settings=other, workers=1, force=True).from_kept == 0
    for table, frame in findings(read_unit).items():
        pd.testing.assert_frame_equal(parts[table], frame, check_exact=True)


@pytest.mark.slow
def test_a_kept_stage_that_is_damaged_fails_its_tracing_alone(read_unit, tmp_path):
    with database.open_for_writing(read_unit) as con:
        con.execute("update stages set content = 'x'::blob where case_id = 'C1' and stage = 'reading'")
    change = tmp_path / "unit_settings.toml"
    change.write_text("[burden]\ntoco_usable_fraction = 0.6\n", encoding="utf-8")
    other = load_settings(change)
    summary = job.analyse(read_unit, settings=other, workers=1)
    assert [case_id for case_id, _, _ in summary.failed] == ["C1"]
    assert "analyse --force" in summary.failed[0][2]
    assert job.analyse(read_unit, settings=other, workers=1, force=True).failed == []


def test_only_a_changed_case_is_read_again(read_unit, tmp_path):
    events = tmp_path / "care_events.csv"
    events.write_text("case_id,at_s,event\nC1,1800,senior_called\n", encoding="utf-8")
    import_files(read_unit, events)
    summary = job.analyse(read_unit, settings=SETTINGS, workers=1)
    assert (summary.read, summary.current) == (1, 2)


@pytest.mark.slow
def test_two_workers_find_what_one_finds(unit, tmp_path):
    job.analyse(unit, settings=SETTINGS, workers=1)
    alone = findings(unit)
    job.analyse(unit, settings=SETTINGS, workers=2, force=True)
    together = findings(unit)
    for table, frame in alone.items():
        pd.testing.assert_frame_equal(frame, together[table], check_exact=True)


def break_one(monkeypatch):
    """Let the reading of C1 fail; gives the reading that does not."""
    real = guarded.read_case

    def broken(case, settings):
        if case.case_id == "C1":
            raise ValueError("a deliberate failure")
        return real(case, settings)

    monkeypatch.setattr(guarded, "read_case", broken)
    return real


def test_one_broken_tracing_does_not_stop_the_rest(unit, monkeypatch):
    break_one(monkeypatch)
    summary = job.analyse(unit, settings=SETTINGS, workers=1)
    assert summary.read == 2
    assert summary.failed == [("C1", "A", "ValueError: a deliberate failure")]
    assert summary.exit_code == 3
    states = ask(unit, "select case_id, state, reason from tracing_states order by case_id")
    assert states[1] == ("C1", "failed", "ValueError: a deliberate failure")
    assert [state for _, state, _ in states] == ["read", "failed", "read"]


@pytest.mark.slow
def test_a_reading_that_fails_keeps_the_former_findings_beside_its_reason(three_read, read_unit, tmp_path, monkeypatch):
    first = three_read[1]
    before = {name: frame[frame["case_id"] == "C1"] for name, frame in findings(read_unit).items()}
    assert len(before["minute_categories"]) > 0
    assert len(before["contractions"]) > 0
    real = break_one(monkeypatch)
    change = tmp_path / "unit_settings.toml"
    change.write_text("[burden]\ntoco_usable_fraction = 0.6\n", encoding="utf-8")
    other = load_settings(change)
    again = job.analyse(read_unit, settings=other, workers=1)
    assert (again.read, again.failed) == (2, [("C1", "A", "ValueError: a deliberate failure")])
    for name, frame in findings(read_unit).items():
        pd.testing.assert_frame_equal(
            frame[frame["case_id"] == "C1"].reset_index(drop=True), before[name].reset_index(drop=True)
        )
    with database.open_for_reading(read_unit) as con:
        state = con.execute(
            "select run_id, state, reason, settings_sha256 from tracing_states where case_id = 'C1'"
        ).fetchall()
        assert stale_tracings(con, other) == [("C1", "A", "the settings changed since it was read")]
        labour = con.execute("select tracing, failure from fetuses where case_id = 'C1'").fetchall()
    assert labour == [("read", "ValueError: a deliberate failure")]
    assert check(read_unit, other).failed == ["C1 A: ValueError: a deliberate failure"]
    # run and settings are those of the findings that stand
    assert state == [(first.run_id, "failed", "ValueError: a deliberate failure", SETTINGS.analysis_sha256)]
    monkeypatch.setattr(guarded, "read_case", real)
    mended = job.analyse(read_unit, settings=other, workers=1)
    assert (mended.read, mended.current, mended.failed) == (1, 2, [])
    with database.open_for_reading(read_unit) as con:
        assert con.execute("select distinct state, reason from tracing_states").fetchall() == [("read", None)]
        assert stale_tracings(con, other) == []


@pytest.mark.slow
def test_a_shifted_clock_changes_no_interval(tmp_path):
    """Moving every time of a case by a constant, not a whole number of minutes, moves every finding by as much."""
    results = []
    for shift in (0.0, 1234.5):
        db = tmp_path / f"unit{shift:.0f}.duckdb"
        file = write_case(tmp_path / f"files{shift:.0f}", "C1", seed=1, start_s=shift)
        events = tmp_path / f"events{shift:.0f}.csv"
        events.write_text(
            f"case_id,at_s,event\nC1,{2500 + shift},senior_called\nC1,{4100 + shift},birth\n", encoding="utf-8"
        )
        import_files(db, file, events)
        job.analyse(db, settings=SETTINGS, workers=1)
        found = findings(db)
        # an episode's name is made of its time
        found = {table: frame.drop(columns="episode_id", errors="ignore") for table, frame in found.items()}
        episodes = found["concern_episodes"]
        # a moment in words is on the case's clock too
        for said, at_s in zip(episodes["reasons"], episodes["recognisable_s"], strict=True):
            assert all(each.startswith(f"{RECOGNISABLE_AT}{hh_mm(at_s)},") for each in said if RECOGNISABLE_AT in each)
        clock = re.compile(r"\b\d\d:\d\d\b")
        episodes["reasons"] = [[clock.sub("a time", each) for each in said] for said in episodes["reasons"]]
        assert "a time" in str(episodes["reasons"].tolist())
        for frame in found.values():
            for name in frame.columns:
                # a moment on the case's clock; lengths and areas stay
                if name.endswith("_s") and not re.search("(_to_.*|bpm|longest|duration|fall|lag)_s$", name):
                    frame[name] = frame[name] - shift
        results.append(found)
    for table, frame in results[0].items():
        pd.testing.assert_frame_equal(frame, results[1][table], rtol=0, atol=1e-6, check_dtype=False)


@pytest.mark.slow
def test_a_tracing_in_two_files_is_one_tracing(tmp_path):
    frame = drawn_tracing(1)
    frame.insert(0, "case_id", "C1")
    whole, parts = tmp_path / "whole", tmp_path / "parts"
    whole.mkdir()
    parts.mkdir()
    frame.to_parquet(whole / "a.parquet", index=False)
    cut = 240 * 31 + 77
    frame.iloc[:cut].to_parquet(parts / "a.parquet", index=False)
    frame.iloc[cut:].to_parquet(parts / "b.parquet", index=False)
    results = []
    for folder in (whole, parts):
        db = tmp_path / f"{folder.name}.duckdb"
        import_files(db, folder)
        job.analyse(db, settings=SETTINGS, workers=1)
        results.append(findings(db))
    for table, found in results[0].items():
        pd.testing.assert_frame_equal(found, results[1][table], check_exact=True)


def test_a_missing_database_is_said_so(tmp_path):
    with pytest.raises(AuditError, match="import files first"):
        job.analyse(tmp_path / "none.duckdb", settings=SETTINGS)
    assert not (tmp_path / "none.duckdb").exists()


@pytest.mark.slow
def test_a_second_reading_is_stored_only_where_the_unit_switched_one_on(unit, tmp_path):
    """The model here is made by hand: it says pathological of everything, so its rows are told from the rules'."""
    reads = tmp_path / "reads.csv"
    reads.write_text(
        "case_id,reader,start_s,end_s,standard,category\nC1,R1,600,2400,figo-1986,normal\n", encoding="utf-8"
    )
    import_files(unit, reads)
    job.analyse(unit, settings=settings_for(unit), workers=1)
    with database.open_for_reading(unit) as con:
        assert con.execute("select count(*) from second_readings").fetchall() == [(0,)]
        read = con.execute("select standard, category from window_categories order by standard").fetchall()
    window_by_rules = read[0][1]
    assert [row[0] for row in read] == ["figo-1986", "figo-2015", "nice-ng229", "nichd-2008"]

    fitted_file.write(by_hand(reading(60)), {}, unit.parent / "fitted.zip")
    (unit.parent / "unit_settings.toml").write_text('[second_reading]\nfile = "fitted.zip"\n', encoding="utf-8")
    switched_on = settings_for(unit)
    assert switched_on.sha256 != SETTINGS.sha256
    assert job.analyse(unit, settings=switched_on, workers=1).read == 3
    with database.open_for_reading(unit) as con:
        rows = con.execute(
            "select case_id, start_s, end_s, category, normal_fraction + suspicious_fraction + pathological_fraction,"
            " fitted_on_windows, fitted_on_this from second_readings"
        ).fetchall()
        lane = con.execute(
            "select case_id, count(*), min(end_s - start_s), max(end_s - start_s), bool_and(category = 'pathological'),"
            " bool_and(start_s % 600 = 0) from second_reading_lane group by case_id order by case_id"
        ).fetchall()
        evidence = con.execute(
            "select place, recording, normal, suspicious, pathological from second_reading_evidence"
            " where case_id = 'C1' and start_s = 600 order by place"
        ).fetchall()
        by_rules = con.execute("select distinct rules_category from second_readings").fetchall()
    assert rows == [("C1", 600.0, 2400.0, "pathological", pytest.approx(1.0), 3, False)]
    assert {(low, high, severe, stepped) for _, _, low, high, severe, stepped in lane} == {(1800.0, 1800.0, True, True)}
    assert "C1" in [case_id for case_id, *_ in lane]
    assert evidence == [(1, "one", 1, 2, 6), (2, "two", 0, 0, 9)]
    assert by_rules == [(window_by_rules,)]
    (unit.parent / "unit_settings.toml").write_text('[second_reading]\nfile = "gone.zip"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match=r"gone\.zip"):
        settings_for(unit)
