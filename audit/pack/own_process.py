"""Make a pack in a process of its own: a page stays free meanwhile, and worker processes start from a clean one."""

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import audit
from audit import paths
from audit.errors import AuditError

LONGEST_S = 600.0


def folder_of(db: Path) -> Path:
    """Where a database's packs go when nobody names another folder."""
    return paths.beside(db, "packs")


def write_pack_apart(db: Path, *, period: str, out: Path, choices: Sequence[str] = ()) -> list[Path]:
    """Run the `pack` command and return the files it wrote.

    `choices` are further options of that command. Raises AuditError with the command's own sentence.
    """
    command = [sys.executable, "-m", "audit", "--db", str(db), "pack", "--period", period, "--out", str(out), *choices]
    above = str(Path(audit.__file__).resolve().parent.parent)
    paths = os.pathsep.join(filter(None, [above, os.environ.get("PYTHONPATH", "")]))
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=LONGEST_S, env={**os.environ, "PYTHONPATH": paths}
        )
    except subprocess.TimeoutExpired as error:
        raise AuditError(
            f"the pack was not ready after {LONGEST_S / 60:.0f} minutes; make it with the command"
        ) from error
    if done.returncode:
        sentence = done.stderr.strip().splitlines()[-1] if done.stderr.strip() else f"exit code {done.returncode}"
        raise AuditError(f"the pack was not made: {sentence.removeprefix('Error: ')}")
    return [Path(line) for line in done.stdout.splitlines() if line.strip()]
