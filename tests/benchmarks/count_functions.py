"""How many of the package's functions does a sample pass on its way in? Run by hand.

    python -m tests.benchmarks.count_functions [FOLDER OF A CHECKOUT]

Counts the distinct functions and modules of `audit` that are called while one CSV tracing of an hour is imported, while
it is analysed, and while the Response times page is made. With a folder, that checkout's package is counted.
"""

import contextlib
import io
import os
import sys
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

from streamlit import config
from streamlit.testing.v1 import AppTest

RATE_HZ = 4
MINUTES = 60


def counted(package: Path, run: Callable[[], Any]) -> tuple[int, int]:
    """Distinct functions of the package that a call runs, in every thread, and the modules they stand in."""
    found: set[tuple[str, str, int]] = set()

    def profile(frame: FrameType, event: str, _arg: object) -> None:
        code = frame.f_code
        # lambdas and comprehensions belong to the function around them, a module's own frame to nobody
        if event == "call" and code.co_filename.startswith(str(package)) and not code.co_name.startswith("<"):
            found.add((code.co_filename, code.co_name, code.co_firstlineno))

    threading.setprofile(profile)
    sys.setprofile(profile)
    try:
        run()
    finally:
        sys.setprofile(None)
        threading.setprofile(None)  # type: ignore[arg-type]
    return len(found), len({file for file, _, _ in found})


def write_files(folder: Path) -> None:
    """One invented labour of an hour with three decelerations, its case and one act."""
    rows = []
    for k in range(MINUTES * 60 * RATE_HZ):
        t_s = k / RATE_HZ
        minute = t_s / 60 % 20
        fhr = 140 + 5 * ((k * 7919) % 11 - 5) / 5 - (40 if 8 < minute < 13 else 0)
        rows.append(f"C-1,{t_s:g},{fhr:.1f},{60 if minute % 4 < 1 else 12}")
    (folder / "tracing.csv").write_text("case_id,t_s,fhr_bpm,toco\n" + "\n".join(rows) + "\n")
    (folder / "cases.csv").write_text("case_id,period,birth_s,second_stage_s\nC-1,2031-03,3600,3000\n")
    (folder / "care_events.csv").write_text("case_id,at_s,event\nC-1,900,position_change\nC-1,3600,birth\n")


def ways_in(folder: Path, checkout: Path) -> dict[str, Callable[[], Any]]:
    """The three ways, to be called one after the other, on a database of their own in the folder."""
    from audit.cli import main as command
    from audit.people import access

    write_files(folder)
    db = folder / "unit.duckdb"
    os.environ["INTRAPARTUM_AUDIT_DB"] = str(db)
    dashboards = checkout / "dashboards"
    page = str(next(dashboards.rglob("response_times.py")).relative_to(dashboards))

    def run(*arguments: str) -> None:
        said = io.StringIO()
        try:
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
                command(["--db", str(db), *arguments])
        except SystemExit as left:
            if left.code:
                raise SystemExit(f"{' '.join(arguments)}: exit code {left.code}\n{said.getvalue()}") from left

    def page_made() -> None:
        made = AppTest.from_file(str(dashboards / "app.py"), default_timeout=60).switch_page(page).run()
        if made.exception or not any(title.value == "Response times" for title in made.title):
            raise SystemExit(f"Response times page: {[each.message for each in made.exception] or 'another page came'}")

    # as the launcher's flag says, so that the unit can be one person's who need not sign in
    config.set_option("server.address", "127.0.0.1")
    run("import", str(folder / "cases.csv"), str(folder / "care_events.csv"))
    access.choose(db, single_user=True)
    return {
        "import": lambda: run("import", str(folder / "tracing.csv")),
        "analyse": lambda: run("analyse", "--workers", "1"),
        "Response times page": page_made,
    }


def main() -> None:
    """Count and print. Each way is gone once before: what runs only when a module is loaded does not count."""
    checkout = Path(sys.argv[1] if len(sys.argv) > 1 else ".").resolve()
    sys.path.insert(0, str(checkout))
    with tempfile.TemporaryDirectory() as first, tempfile.TemporaryDirectory() as second:
        for call in ways_in(Path(first), checkout).values():
            call()
        for way, call in ways_in(Path(second), checkout).items():
            functions, modules = counted(checkout / "audit", call)
            print(f"{way}: {functions} functions in {modules} modules")


if __name__ == "__main__":
    main()
