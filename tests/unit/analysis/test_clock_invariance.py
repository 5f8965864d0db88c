"""Through files, import and analysis: neither a shift of all times nor a split of the file changes an interval."""

import csv
from pathlib import Path

import numpy as np
import pytest

from audit.analysis.job import analyse
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from audit.store.database import records
from tests.simulate_response import simulate_response_labours

SETTINGS = load_settings()
# not a multiple of a minute
SHIFT_S = 4321.75
INTERVALS = ("minutes_to_response", "minutes_to_birth", "minutes_to_escalation", "target_minutes")
LABELS = ("standard", "trigger", "status", "response_event", "open_end")


@pytest.fixture(scope="module")
def labour():
    """One whose pattern is answered late: its wait is longer than any target."""
    return next(one for one in simulate_response_labours(8) if one.status == "late")


def write(folder: Path, labour, *, shift_s: float = 0.0, split_at_s: float | None = None) -> Path:
    folder.mkdir()
    fhr, toco = labour.samples["fhr_bpm"], labour.samples["toco"]
    t_s = np.arange(fhr.size) / 4.0
    parts = [("whole", slice(None))]
    if split_at_s is not None:
        cut = int(split_at_s * 4)
        parts = [("first", slice(None, cut)), ("second", slice(cut, None))]
    for name, here in parts:
        with (folder / f"tracing_{name}.csv").open("w", newline="") as file:
            rows = csv.writer(file)
            rows.writerow(["case_id", "t_s", "fhr_bpm", "toco"])
            for at, rate, pressure in zip(t_s[here] + shift_s, fhr[here], toco[here]):
                rows.writerow(
                    [
                        "c1",
                        at,
                        "" if np.isnan(rate) else round(rate, 2),
                        "" if np.isnan(pressure) else round(pressure, 2),
                    ]
                )
    with (folder / "cases.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["case_id", "period", "birth_s", "mode_of_birth"])
        rows.writerow(["c1", "2031-03", labour.birth_s + shift_s, labour.mode_of_birth])
    with (folder / "care_events.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["case_id", "at_s", "event"])
        rows.writerows(["c1", at_s + shift_s, event] for at_s, event in labour.events)
    with (folder / "reads.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["case_id", "reader", "start_s", "end_s", "standard", "category"])
        end_s = labour.pattern_start_s + 1800.0 + shift_s
        rows.writerow(["c1", "R1", end_s - 1800.0, end_s, "figo-2015", "pathological"])
    return folder


def clock(tmp_path: Path, folder: Path) -> tuple[list[dict], list[tuple]]:
    db = tmp_path / f"{folder.name}.duckdb"
    imported = import_paths(db, [folder], settings=SETTINGS)
    assert imported.exit_code == 0, imported.lines()
    analyse(db, settings=SETTINGS, workers=1)
    with database.open_for_reading(db) as con:
        episodes = records(con, "response/delays", {"period": None, "standard": None, "case_id": None})
        votes = "select r.standard, r.trigger, v.clock, v.late from votes v join responses r using (episode_id)"
        clocks = con.sql(f"{votes} order by r.standard, r.trigger, r.recognisable_s, v.clock").fetchall()
    return episodes, clocks


def assert_same(here, there, *, shift_s: float) -> None:
    (episodes, clocks), (moved, moved_clocks) = here, there
    assert len(episodes) >= 1
    for a, b in zip(episodes, moved, strict=True):
        assert [b[name] for name in LABELS] == [a[name] for name in LABELS]
        for name in INTERVALS:
            assert (b[name] is None) == (a[name] is None), name
            assert a[name] is None or b[name] == pytest.approx(a[name], abs=1e-6), name
        for name in ("pattern_start_s", "recognisable_s", "end_s"):
            assert b[name] - shift_s == pytest.approx(a[name], abs=1e-6), name
        assert (b["late_under"], b["clocks"]) == (a["late_under"], a["clocks"])
    assert moved_clocks == clocks


@pytest.mark.slow
def test_a_shift_of_all_times_changes_no_interval(tmp_path, labour):
    here = clock(tmp_path, write(tmp_path / "here", labour))
    there = clock(tmp_path, write(tmp_path / "there", labour, shift_s=SHIFT_S))
    assert any(row["status"] == "late" for row in here[0])
    assert {who for _, _, who, _ in here[1]} >= {"reader R1"}
    assert_same(here, there, shift_s=SHIFT_S)


@pytest.mark.slow
def test_a_tracing_in_two_files_changes_no_interval(tmp_path, labour):
    here = clock(tmp_path, write(tmp_path / "whole", labour))
    # within the pattern, where it would hurt most
    split_at_s = labour.pattern_start_s + 700.25
    there = clock(tmp_path, write(tmp_path / "split", labour, split_at_s=split_at_s))
    assert_same(here, there, shift_s=0.0)
