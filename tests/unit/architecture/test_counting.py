"""Lines are counted in servers with several threads: what one of them loads stays loaded."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
# what the counter does wherever it looks where modules come from, and a module that comes in meanwhile
LOADED_WHILE_IT_LOOKS = """
import sys
from coverage import inorout
with inorout.sys_modules_saved():
    import colorsys
print("colorsys" in sys.modules)
"""


def test_what_is_loaded_while_the_counter_looks_stays_loaded(tmp_path):
    counted = {"COVERED": str(ROOT), "COVERAGE_FILE": str(tmp_path / "count"), "PYTHONPATH": str(ROOT)}
    counted["COVERAGE_PROCESS_START"] = str(ROOT / "pyproject.toml")
    line = [sys.executable, "-c", LOADED_WHILE_IT_LOOKS]
    ended = subprocess.run(line, env={**os.environ, **counted}, cwd=tmp_path, capture_output=True, text=True)
    assert (ended.stdout, ended.stderr) == ("True\n", "")
