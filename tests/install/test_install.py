"""The README's first line makes an environment whose program does the whole job from any folder, to the dashboard."""

import os
import re
import shutil
import signal
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests import pictures
from tests.conftest import absent

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.timeout(1500)


def _run(*command: str, cwd: Path, env: dict[str, str] | None = None) -> subprocess.CompletedProcess:
    done = subprocess.run(command, cwd=cwd, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{command}\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}"
    return done


def _outside_environment() -> dict[str, str]:
    """The environment without what would let an installed program find this checkout."""
    return {key: value for key, value in os.environ.items() if key not in ("PYTHONPATH", "INTRAPARTUM_AUDIT_DB")}


@pytest.fixture(scope="module")
def clean_checkout(tmp_path_factory) -> Iterator[Path]:
    """The committed and the changed files, without anything git ignores; gone with what was installed there."""
    target = tmp_path_factory.mktemp("checkout") / "intrapartum-audit"
    listed = _run("git", "ls-files", "--cached", "--others", "--exclude-standard", cwd=ROOT).stdout.splitlines()
    for name in listed:
        source = ROOT / name
        if source.is_file():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            (target / name).write_bytes(source.read_bytes())
    yield target
    shutil.rmtree(target)


def test_the_readmes_first_line_ends_in_a_dashboard_and_its_program_needs_no_checkout(clean_checkout, tmp_path):
    """The line's last command is run from another folder, where nothing of the checkout lies beside it."""
    text = (clean_checkout / "README.md").read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("python3 -m venv") and line.endswith("demo"))
    install, _, demo = line.rpartition(" && ")
    # what is never imported need not be compiled, which was half of the time
    environment = _outside_environment() | {"BROWSER": "true", "PIP_COMPILE": "0"}
    _run("bash", "-euo", "pipefail", "-c", install, cwd=clean_checkout, env=environment)
    installed = clean_checkout / ".venv"
    (record,) = installed.glob("lib/python3*/site-packages/intrapartum_audit-*.dist-info/RECORD")
    top = {name.split("/")[0] for name in record.read_text(encoding="utf-8").splitlines()}
    # one package beside its own record; the program itself stands in another folder
    assert {name for name in top if not name.endswith(".dist-info")} == {"audit", ".."}

    said = _said_until_it_serves(f"{clean_checkout}/{demo}", tmp_path, environment)
    assert "tracings read" in said
    assert re.search(r"this moved [1-9]\d* clocks?\)", said)  # what the meetings struck out was a concern's only ground
    db = tmp_path / "demo" / "unit.duckdb"
    assert list((db.parent / "pack").rglob("*.pdf"))
    _run(str(installed / "bin" / "intrapartum-audit"), "--db", str(db), "check", cwd=tmp_path, env=environment)

    # the pictures of the README show this unit: the pages, opened on it, still say what stands in them
    pytest.importorskip("playwright.sync_api")
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        absent("No chromium on the path; install one to look at the pages.")
    # in a thread of its own: in this one the browser of other tests may hold a loop
    with ThreadPoolExecutor(1) as thread:
        assert thread.submit(pictures.differences, db, chromium).result() == []


def _said_until_it_serves(command: str, folder: Path, environment: dict[str, str]) -> str:
    """Run a command until the dashboard that it names answers, then end it: what it said until then."""
    process = subprocess.Popen(
        ["bash", "-euo", "pipefail", "-c", command],
        cwd=folder,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    seen: list[str] = []
    try:
        address = None
        for output in process.stdout:
            seen.append(output)
            found = re.search(r"http://127\.0\.0\.1:\d+", output)
            if found:
                address = found.group()
                break
        assert address, "".join(seen)[-3000:]
        assert _answers(process, f"{address}/_stcore/health"), "".join(seen)[-3000:]
        with urllib.request.urlopen(address) as page:
            assert page.status == 200
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait()
        process.stdout.close()
    return "".join(seen)


def _answers(process: subprocess.Popen, address: str) -> bool:
    """Ask until there is an answer; the process that should give it must be running."""
    while process.poll() is None:
        try:
            with urllib.request.urlopen(address) as answer:
                return answer.status == 200
        except OSError:
            time.sleep(0.3)
    return False
