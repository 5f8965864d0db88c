"""README's walk from an export to a pack runs as it stands there, and its table of messages quotes what is said."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
README = (ROOT / "README.md").read_text(encoding="utf-8")
WALK = README.split("## From an export to a printed pack", 1)[1].split("```sh\n", 1)[1].split("```", 1)[0]
TABLE = README.split("### When something is said", 1)[1].split("\n## ", 1)[0]
MESSAGES = re.findall(r"^\| `([^`]+)` \|", TABLE, flags=re.MULTILINE)


@pytest.mark.slow
def test_every_line_of_the_walk_runs(tmp_path):
    command = tmp_path / "bin" / "intrapartum-audit"
    command.parent.mkdir()
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m audit "$@"\n', encoding="utf-8")
    command.chmod(0o755)
    room = tmp_path / "room"
    room.mkdir()
    env = {**os.environ, "PATH": f"{command.parent}{os.pathsep}{os.environ['PATH']}", "PYTHONPATH": str(ROOT)}
    lines = [line for line in WALK.splitlines() if line]
    assert len(lines) >= 10
    for line in lines:
        done = subprocess.run(line, shell=True, cwd=room, env=env, capture_output=True, text=True, check=False)
        assert done.returncode == 0, (line, done.stdout, done.stderr)
        assert "Traceback" not in done.stderr
    assert list((room / "my_unit" / "pack").glob("*.pdf"))
    cases = (room / "my_unit" / "pack" / "tables_2031-03" / "cases_of_the_month.csv").read_text(encoding="utf-8-sig")
    assert ";" in cases.splitlines()[0]  # as the unit's settings write it
    assert (room / "my_unit" / "for_the_analyst" / "export.xlsx").is_file()


@pytest.mark.parametrize("words", MESSAGES)
def test_a_message_of_the_table_is_one_that_the_program_says(words):
    sources = "".join(file.read_text(encoding="utf-8") for file in (ROOT / "audit").rglob("*.py"))
    # sentences are broken over lines in the code
    assert words in re.sub(r'"\s*\n\s*f?"', "", sources)


def test_the_table_of_messages_is_not_empty():
    assert len(MESSAGES) >= 10
