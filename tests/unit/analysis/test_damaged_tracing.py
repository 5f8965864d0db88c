"""Tracings whose stored samples are damaged fail, each in its way, and no other with them."""

from pathlib import Path

import numpy as np
import pytest

from audit.analysis.job import analyse
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database
from tests.asking import ask

pytestmark = pytest.mark.slow

T = np.arange(0, 1800, 0.5)
WHOLE = ["C0", "C8"]
DAMAGES = {
    "C1": "delete from tracing_minutes where case_id = 'C1' and minute = 3",
    "C2": "delete from tracing_minutes where case_id = 'C2'",
    "C3": "update tracing_minutes set fhr_cbpm = fhr_cbpm[1:50] where case_id = 'C3' and minute = 3",
    "C4": "update tracing_minutes set toco_hundredths = null where case_id = 'C4' and minute = 3",
    "C5": "insert into tracing_minutes select * replace (99 as minute) from tracing_minutes"
    " where case_id = 'C5' and minute = 3",
    "C6": "update tracings set samples = samples + 7 where case_id = 'C6'",
    "C7": "update tracings set has_mhr = true where case_id = 'C7'",
}


def test_damaged_tracings_fail_and_no_other(tmp_path: Path) -> None:
    db, rng = tmp_path / "unit.duckdb", np.random.default_rng(2)
    rows = ["case_id,t_s,fhr_bpm,toco"]
    for case_id in sorted([*WHOLE, *DAMAGES]):
        fhr = 140 + rng.normal(0, 3, len(T))
        rows += [f"{case_id},{t:g},{f:.1f},{20 + 5 * np.sin(t / 30):.1f}" for t, f in zip(T, fhr, strict=True)]
    (tmp_path / "t.csv").write_text("\n".join(rows) + "\n")
    import_paths(db, [tmp_path / "t.csv"], settings=load_settings())
    with database.open_for_writing(db) as con:
        for damage in DAMAGES.values():
            con.execute(damage)
    summary = analyse(db, settings=load_settings(), workers=1)
    assert (summary.read, [case_id for case_id, _, _ in summary.failed]) == (len(WHOLE), list(DAMAGES))
    assert summary.exit_code == 3
    assert all("the stored samples are damaged" in why for _, _, why in summary.failed)
    states = dict(ask(db, "select case_id, state from tracing_states"))
    assert states == dict.fromkeys(WHOLE, "read") | dict.fromkeys(DAMAGES, "failed")
    # the file offered again says so too, in place of a stack trace
    again = [tmp_path / f"{case_id}.csv" for case_id in DAMAGES]
    for file in again:
        file.write_text("case_id,t_s,fhr_bpm,toco\n" + "".join(f"{file.stem},{t:g},150,20\n" for t in T[:600]))
    report = import_paths(db, again, settings=load_settings())
    assert report.exit_code == 3
    for outcome in report.files:
        reasons = [remark.reason for remark in outcome.remarks if remark.severity == "rejected"]
        assert any("damaged" in reason or "other samples" in reason for reason in reasons), outcome.path
