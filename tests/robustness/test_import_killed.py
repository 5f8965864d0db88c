"""An import that is killed at any moment: what was committed stays, nothing half-written is seen, a rerun completes.

20 kills by default; IMPORT_KILLS sets another number. A kill is SIGKILL of the process: a power cut is not tested.
"""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

pytestmark = pytest.mark.robustness

KILLS = int(os.environ.get("IMPORT_KILLS", "20"))
FILES, SECONDS = 40, 1200
IMPORT = (
    "import sys; from pathlib import Path; from audit.intake.importer import import_paths;"
    " from audit.settings import load_settings;"
    " import_paths(Path(sys.argv[1]), [Path(sys.argv[2])], settings=load_settings(),"
    " progress=lambda done, total: print(done, flush=True))"
)


def made(folder: Path) -> Path:
    folder.mkdir()
    rng = np.random.default_rng(1)
    for k in range(FILES):
        rows = [f"C-{k},{i / 4},{v},{v % 50}" for i, v in enumerate(rng.integers(110, 160, SECONDS * 4))]
        rows.insert(7, f"C-{k},x,140,1")  # one reject, so that a transaction writes to every table
        (folder / f"{k:02d}.csv").write_text("case_id,t_s,fhr_bpm,toco\n" + "\n".join(rows) + "\n")
    return folder


def whole_files(db: Path) -> set[str]:
    """The files that are in, after checking that each is in whole: samples, minutes, import, reject."""
    with database.open_for_reading(db) as con:
        rows = con.execute(
            "select i.source, i.rows_accepted, t.samples, m.samples, r.rejects from imports as i"
            " full join (select import_id, sum(samples) as samples from tracings group by 1) as t using (import_id)"
            " full join (select t.import_id, sum(len(m.fhr_cbpm)) as samples from tracing_minutes as m"
            " join tracings as t using (case_id, fetus, start_s) group by 1) as m using (import_id)"
            " full join (select import_id, count(*) as rejects from import_rejects group by 1) as r using (import_id)"
        ).fetchall()
        minutes = con.execute("select count(*) from tracing_minutes").fetchall()[0][0]
    assert all(tuple(row[1:]) == (SECONDS * 4, SECONDS * 4, SECONDS * 4, 1) for row in rows), rows
    assert minutes == len(rows) * SECONDS // 60
    return {row[0] for row in rows}


def test_a_killed_import_loses_nothing_and_shows_nothing_half_written(tmp_path: Path):
    folder, db = made(tmp_path / "in"), tmp_path / "unit.duckdb"
    with database.open_for_writing(db):
        pass
    rng = random.Random(7)
    seen: set[str] = set()
    killed_at_work = 0
    for _ in range(KILLS):
        process = subprocess.Popen(
            [sys.executable, "-c", IMPORT, str(db), str(folder)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        told = 0
        for line in process.stdout:
            told = int(line)
            if told > len(seen) + rng.randrange(3):
                break
        time.sleep(rng.uniform(0, 0.03))
        if process.poll() is None:
            killed_at_work += 1
            process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        now = whole_files(db)
        assert seen <= now, "a committed file was lost"
        assert len(now) >= min(told, FILES), "a file that was told as done was lost"
        seen = now
        if len(seen) == FILES:  # all in: begin again with an empty database
            db.unlink()
            db.with_name(f"{db.name}.wal").unlink(missing_ok=True)
            with database.open_for_writing(db):
                pass
            seen = set()
    assert killed_at_work >= KILLS // 2
    report = import_paths(db, [folder], settings=load_settings())
    assert report.count("refused") == 0
    assert len(whole_files(db)) == FILES
