"""One tracing whose stored samples are damaged fails alone; the others are read."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from audit.analysis.job import analyse
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

T = np.arange(0, 1800, 0.5)


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("whole")
    rng = np.random.default_rng(2)
    rows = ["case_id,t_s,fhr_bpm,toco"]
    for case in range(3):
        fhr = 140 + rng.normal(0, 3, len(T))
        rows += [f"C{case},{t:g},{f:.1f},{20 + 5 * np.sin(t / 30):.1f}" for t, f in zip(T, fhr, strict=True)]
    (folder / "t.csv").write_text("\n".join(rows) + "\n")
    import_paths(folder / "unit.duckdb", [folder / "t.csv"], settings=load_settings())
    return folder / "unit.duckdb"


@pytest.mark.parametrize(
    "damage",
    [
        "delete from tracing_minutes where case_id = 'C1' and minute = 3",
        "delete from tracing_minutes where case_id = 'C1'",
        "update tracing_minutes set fhr_cbpm = fhr_cbpm[1:50] where case_id = 'C1' and minute = 3",
        "update tracing_minutes set toco_hundredths = null where case_id = 'C1' and minute = 3",
        "insert into tracing_minutes select * replace (99 as minute) from tracing_minutes"
        " where case_id = 'C1' and minute = 3",
        "update tracings set samples = samples + 7 where case_id = 'C1'",
        "update tracings set has_mhr = true where case_id = 'C1'",
    ],
)
def test_a_damaged_tracing_fails_alone(whole: Path, tmp_path: Path, damage: str) -> None:
    db = Path(shutil.copyfile(whole, tmp_path / "unit.duckdb"))
    with database.open_for_writing(db) as con:
        con.execute(damage)
    summary = analyse(db, settings=load_settings(), workers=1)
    assert (summary.read, [case_id for case_id, _, _ in summary.failed]) == (2, ["C1"])
    assert summary.exit_code == 3
    assert "the stored samples are damaged" in summary.lines()[0]
    with database.open_for_reading(db) as con:
        assert con.execute("select case_id, state from tracing_states order by case_id").fetchall() == [
            ("C0", "read"),
            ("C1", "failed"),
            ("C2", "read"),
        ]
    # the file offered again says so too, in place of a stack trace
    rows = "case_id,t_s,fhr_bpm,toco\n" + "".join(f"C1,{t:g},150,20\n" for t in T[:600])
    (tmp_path / "again.csv").write_text(rows)
    report = import_paths(db, [tmp_path / "again.csv"], settings=load_settings())
    assert report.exit_code == 3
    reasons = [remark.reason for remark in report.files[0].remarks if remark.severity == "rejected"]
    assert any("damaged" in reason or "other samples" in reason for reason in reasons)
