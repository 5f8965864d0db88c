"""What is written is its owner's alone (our own rule; POSIX modes 0600 and 0700), whatever the shell allows."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.slow
def test_no_file_of_a_unit_can_be_read_by_others(tmp_path):
    (tmp_path / "in").mkdir(mode=0o755)
    (tmp_path / "in" / "cases.csv").write_text("case_id,period\n2031-000417,2031-03\nK1,2031-03\n")
    db = tmp_path / "unit" / "unit.duckdb"
    db.parent.mkdir(mode=0o755)

    def run(*arguments: str) -> None:
        command = [sys.executable, "-m", "audit", "--db", str(db), *arguments]
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        done = subprocess.run(command, env=environment, preexec_fn=lambda: os.umask(0), capture_output=True, text=True)
        assert done.returncode == 0, done.stderr

    run("import", str(tmp_path / "in"))
    os.chmod(db, 0o644)  # as an earlier version left it
    run("analyse")
    run("pack", "--period", "2031-03", "--out", str(db.parent / "packs"))
    written = [path for path in db.parent.rglob("*")]
    assert {"unit.duckdb", "unit.key", "unit.log"} <= {path.name for path in written}
    assert any(path.suffix == ".pdf" for path in written)
    open_to_others = [path.name for path in written if stat.S_IMODE(path.stat().st_mode) & 0o077]
    assert open_to_others == []
