"""No room, no right to write, odd names of files: one true sentence, nothing lost and nothing left behind."""

import os
import resource
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.conftest import absent

ROOT = Path(__file__).resolve().parents[2]
T = np.arange(0, 7200, 0.5)


# the system's administrator may write everywhere; this starts a program of theirs without that right
DENIED = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-dac_override,-dac_read_search"]


def run(
    *args: object, most_bytes: int | None = None, cwd: Path | None = None, before: list[str] | None = None
) -> subprocess.CompletedProcess[str]:
    def limited() -> None:
        if most_bytes is not None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))

    return subprocess.run(
        [*(before or []), sys.executable, "-m", "audit", *map(str, args)],
        capture_output=True, text=True, preexec_fn=limited, cwd=cwd, timeout=300,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def tracings(folder: Path, count: int) -> list[Path]:
    rng = np.random.default_rng(1)
    files = []
    for k in range(count):
        rows = zip(T, 140 + rng.normal(0, 4, len(T)), 20 + 10 * np.sin(T / 60), strict=True)
        files.append(folder / f"t{k}.csv")
        files[-1].write_text(
            "case_id,t_s,fhr_bpm,toco\n" + "".join(f"C{k},{t:g},{f:.2f},{c:.2f}\n" for t, f, c in rows)
        )
    return files


@pytest.mark.parametrize("most_bytes", [300_000, 900_000, 1_300_000])
def test_a_full_disk_is_told_and_the_import_goes_on_where_it_stopped(tmp_path: Path, most_bytes: int) -> None:
    files, db = tracings(tmp_path, 6), tmp_path / "u.duckdb"
    full = run("--db", db, "import", *files, most_bytes=most_bytes)
    assert full.returncode == 1
    assert "the disk is full" in full.stderr
    assert "not your mistake" not in full.stderr
    assert "Traceback" not in full.stderr
    again = run("--db", db, "import", *files)
    assert again.returncode == 0, again.stderr
    assert "6 files" in again.stdout.splitlines()[-1]
    check = run("--db", db, "check")
    assert "Traceback" not in check.stderr
    assert not list(tmp_path.rglob("*.partial"))


def test_a_folder_that_may_only_be_read_is_told(tmp_path: Path) -> None:
    administrator = os.geteuid() == 0
    if administrator and shutil.which(DENIED[0]) is None:
        absent("The administrator may write everywhere, and setpriv (util-linux), which takes that right, is not here.")
    files = tracings(tmp_path, 1)
    (tmp_path / "closed").mkdir(mode=0o500)
    refused = run("--db", tmp_path / "closed" / "u.duckdb", "import", *files, before=DENIED if administrator else None)
    assert refused.returncode == 1
    assert "may not be" in refused.stderr
    assert "Traceback" not in refused.stderr


ODD = ["-x.csv", "é🙂.csv", "new\nline.csv", "'; drop table.csv", "%s%n.csv"]


def test_odd_names_of_files_are_no_matter_and_not_told(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    for k, name in enumerate(ODD):
        (tmp_path / "in" / name).write_text(f"case_id,period\nC{k},2031-04\n")
    db = tmp_path / 'unit\'s "own" é.duckdb'
    done = run("--db", db, "import", tmp_path / "in")
    assert done.returncode == 0, done.stderr
    assert f"{len(ODD)} files" in done.stdout.splitlines()[-1]
    log = db.with_suffix(".log")
    said = done.stdout + done.stderr + (log.read_text() if log.exists() else "")
    assert [name for name in ODD if name in said] == []
    assert run("--db", db, "check").returncode == 0


def test_links_in_a_circle_and_names_that_are_no_text_are_passed_over(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "round.csv").symlink_to(tmp_path / "in" / "round.csv")
    with open(os.fsencode(str(tmp_path / "in")) + b"/\xff\xfe.csv", "wb") as file:
        file.write(b"case_id,period\nC1,2031-04\n")
    done = run("--db", tmp_path / "u.duckdb", "import", tmp_path / "in")
    assert "Traceback" not in done.stderr
    assert "1 row accepted" in done.stdout
