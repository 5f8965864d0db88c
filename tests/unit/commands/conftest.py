"""Commands as their entry point runs them, and the committed sample imported and analysed by them."""

import contextlib
import io
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import pytest

from audit.cli import main

ROOT = Path(__file__).resolve().parents[3]
SAMPLE = ROOT / "synthetic_cases" / "sample" / "files"


@dataclass(frozen=True)
class Done:
    """What a command left: its exit code and what it printed."""

    returncode: int
    stdout: str
    stderr: str


def run(*arguments: str, cwd: Path, expect: int = 0) -> Done:
    """The program as its entry point runs it, in this process; never a stack trace."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("INTRAPARTUM_AUDIT_")}
    out, err = io.StringIO(), io.StringIO()
    with (
        mock.patch.dict(os.environ, environment, clear=True),
        contextlib.chdir(cwd),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.raises(SystemExit) as leaving,
    ):
        main(list(arguments))
    code = leaving.value.code
    assert isinstance(code, int)
    return _checked(Done(code, out.getvalue(), err.getvalue()), arguments, expect)


def run_alone(*arguments: str, cwd: Path, expect: int = 0, **environment: str) -> Done:
    """The same in a process of its own, as a user starts it."""
    inherited = {k: v for k, v in os.environ.items() if not k.startswith("INTRAPARTUM_AUDIT_")}
    done = subprocess.run(
        [sys.executable, "-m", "audit", *arguments],
        cwd=cwd,
        env=inherited | {"PYTHONPATH": str(ROOT)} | environment,
        capture_output=True,
        text=True,
        check=False,
    )
    return _checked(Done(done.returncode, done.stdout, done.stderr), arguments, expect)


def _checked(done: Done, arguments: tuple[str, ...], expect: int) -> Done:
    assert done.returncode == expect, f"{arguments}: {done.returncode}\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
    assert "Traceback" not in done.stdout + done.stderr
    return done


@pytest.fixture(scope="session")
def sample_unit(tmp_path_factory) -> Path:
    """A folder with the committed sample imported and analysed into unit.duckdb."""
    folder = tmp_path_factory.mktemp("unit")
    run("import", str(SAMPLE), cwd=folder)
    run("analyse", "--workers", "1", cwd=folder)
    return folder
