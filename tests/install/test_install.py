"""A wheel in an empty environment does the whole job from any folder; the README's first line ends in a dashboard."""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
import urllib.request
import venv
import zipfile
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
def clean_checkout(tmp_path_factory) -> Path:
    """The committed and the changed files, without anything git ignores."""
    target = tmp_path_factory.mktemp("checkout") / "intrapartum-audit"
    listed = _run("git", "ls-files", "--cached", "--others", "--exclude-standard", cwd=ROOT).stdout.splitlines()
    for name in listed:
        source = ROOT / name
        if source.is_file():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            (target / name).write_bytes(source.read_bytes())
    return target


def test_a_wheel_in_an_empty_environment_runs_the_demo_from_another_folder(clean_checkout, tmp_path):
    _run(sys.executable, "-m", "build", "--wheel", "--outdir", str(tmp_path), str(clean_checkout), cwd=tmp_path)
    wheel = next(tmp_path.glob("*.whl"))
    top = {name.split("/")[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert {name for name in top if not name.endswith(".dist-info")} == {"audit"}

    venv.create(tmp_path / "env", with_pip=True)
    scripts = tmp_path / "env" / "bin"
    constraints = str(clean_checkout / ".ci" / "constraints.txt")
    _run(str(scripts / "pip"), "install", "-q", "-c", constraints, str(wheel), cwd=tmp_path)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    program = str(scripts / "intrapartum-audit")
    environment = _outside_environment()
    done = _run(program, "demo", "--folder", "invented", "--no-dashboard", cwd=elsewhere, env=environment)
    assert "tracings read" in done.stdout
    assert list((elsewhere / "invented" / "pack").rglob("*.pdf"))
    _run(program, "--db", "invented/unit.duckdb", "check", cwd=elsewhere, env=environment)

    # the pictures of the README show this unit: the pages, opened on it, still say what stands in them
    pytest.importorskip("playwright.sync_api")
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        absent("No chromium on the path; install one to look at the pages.")
    assert pictures.differences(elsewhere / "invented" / "unit.duckdb", chromium) == []


def test_the_readmes_first_line_ends_in_a_dashboard(clean_checkout):
    text = (clean_checkout / "README.md").read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("python3 -m venv") and line.endswith("demo"))
    environment = _outside_environment() | {"BROWSER": "true"}
    process = subprocess.Popen(
        ["bash", "-euo", "pipefail", "-c", line],
        cwd=clean_checkout,
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


def _answers(process: subprocess.Popen, address: str) -> bool:
    """Ask until there is an answer; the process that should give it must be running."""
    while process.poll() is None:
        try:
            with urllib.request.urlopen(address) as answer:
                return answer.status == 200
        except OSError:
            time.sleep(0.3)
    return False
