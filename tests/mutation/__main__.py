"""How many small faults in the pure rooms do the tests notice? A seeded sample, the same in every run.

    python -m tests.mutation                                 # the sample of CI
    python -m tests.mutation --per-room 40 --seed 7 --rooms standards response
    python -m tests.mutation --fail-under 0.85

Each fault runs in a child of its own that finds the changed text in place of the module's file; the files themselves
are never touched. A fault is noticed when a test fails, or when the tests take far longer than without it. What no test
notices is listed: either a test is missing, or the change makes no difference (that is for a reader to tell).
"""

import argparse
import contextlib
import importlib.abc
import importlib.machinery
import io
import os
import resource
import sys
from collections.abc import Sequence
from importlib.util import spec_from_loader
from pathlib import Path
from types import CodeType

import pytest
import scipy.stats  # noqa: F401  imported once, before the children are made

from tests.mutation.mutants import Mutant, sample

ROOT = Path(__file__).resolve().parent.parent.parent
# for each room the tests that answer for it, the likeliest first
TESTS: dict[str, tuple[str, ...]] = {
    "tracing": ("tests/unit/tracing", "tests/unit/measures"),
    "standards": ("tests/unit/standards",),
    "response": ("tests/unit/response",),
    "agreement": ("tests/unit/agreement",),
    "measures": ("tests/unit/measures",),
}
REFERENCE: dict[str, tuple[str, ...]] = {
    "tracing": ("tests/reference/test_tracing_check_values.py", "tests/reference/test_check_values_events.py"),
    "standards": (
        "tests/reference/test_check_values_tracings.py",
        "tests/reference/test_check_values_events.py",
        "tests/reference/test_standards_rules_of_thumb.py",
        "tests/reference/test_textbook_strips.py",
    ),
    "response": ("tests/reference/test_response_story.py", "tests/reference/test_response_times_published.py"),
    "agreement": ("tests/reference/test_worked_agreement.py", "tests/unit/agreement/test_oracles.py"),
    "measures": (
        "tests/reference/test_standards_base_deficit.py",
        "tests/reference/test_worked_control_charts.py",
        "tests/unit/measures/test_proportions.py",
        "tests/unit/measures/test_standardised.py",
    ),
}
_OUTSIDE = "reference or slow"
TOO_LONG_S = 120  # of processor time


class _Changed(importlib.abc.MetaPathFinder, importlib.machinery.SourceFileLoader):
    """Gives one module the changed text."""

    def __init__(self, mutant: Mutant) -> None:
        self.mutant = mutant
        file = str(ROOT.joinpath(*mutant.module.split(".")).with_suffix(".py"))
        importlib.machinery.SourceFileLoader.__init__(self, mutant.module, file)

    def find_spec(self, fullname, path=None, target=None):  # type: ignore[no-untyped-def]
        if fullname != self.mutant.module:
            return None
        return spec_from_loader(fullname, self, origin=self.path)

    def get_code(self, fullname: str) -> CodeType:
        return compile(self.mutant.source, self.path, "exec")


def passed(paths: Sequence[str], marks: str, mutants: Sequence[Mutant | None], processes: int) -> list[bool]:
    """For each fault (None = the code as it is) whether all of the tests pass in time, each in a child of its own."""
    results = [False] * len(mutants)
    waiting, running = list(range(len(mutants)))[::-1], dict[int, int]()
    while waiting or running:
        while waiting and len(running) < processes:
            k = waiting.pop()
            running[_child(paths, marks, mutants[k])] = k
        pid, status = os.wait()
        results[running.pop(pid)] = os.waitstatus_to_exitcode(status) == 0
    return results


def _child(paths: Sequence[str], marks: str, mutant: Mutant | None) -> int:
    pid = os.fork()
    if pid:
        return pid
    status = 1
    try:
        # a fault may make an endless loop: processor time ends it, however busy the machine is
        resource.setrlimit(resource.RLIMIT_CPU, (TOO_LONG_S, TOO_LONG_S))
        if mutant is not None:
            sys.meta_path.insert(0, _Changed(mutant))
        told = io.StringIO()
        with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
            arguments = ["-x", "-q", "-n0", "-p", "no:cacheprovider", "-m", marks, *paths]
            status = int(pytest.main(arguments))
    finally:
        os._exit(min(status, 255))


def noticed(room: str, mutants: Sequence[Mutant | None], processes: int) -> list[bool]:
    """For each fault whether a test of the room fails with it; the unit tests are asked first."""
    seen = [not ok for ok in passed(TESTS[room], "quick", mutants, processes)]
    left = [k for k, was in enumerate(seen) if not was]
    for k, ok in zip(left, passed(REFERENCE[room], _OUTSIDE, [mutants[k] for k in left], processes), strict=True):
        seen[k] = not ok
    return seen


def main() -> int:
    """Print each room's score and what nobody noticed; 1 when a room lies under the wanted share."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--per-room", type=int, default=6, help="faults in each room")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rooms", nargs="+", choices=sorted(TESTS), default=list(TESTS))
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--fail-under", type=float, default=0.0, help="least share noticed in every room, 0 to 1")
    asked = parser.parse_args()
    short = False
    for room in asked.rooms:
        files = [file for file in (ROOT / "audit" / room).rglob("*.py") if file.name != "__init__.py"]
        mutants = sample(files, ROOT, asked.per_room, asked.seed)
        same = [mutant for mutant in mutants if mutant.no_difference]
        mutants = [mutant for mutant in mutants if not mutant.no_difference]
        without, *seen = noticed(room, [None, *mutants], asked.processes)
        if without:
            print(f"{room}: its tests fail without any fault")
            return 1
        share = sum(seen) / max(1, len(seen))
        short |= share < asked.fail_under
        print(f"{room}: {sum(seen)} of {len(seen)} noticed ({share:.0%})", flush=True)
        for mutant in same:
            print(f"    left out: {mutant.module}:{mutant.line}  {mutant.change}: {mutant.no_difference}", flush=True)
        for mutant, was in zip(mutants, seen, strict=True):
            if not was:
                print(f"    {mutant.module}:{mutant.line}  {mutant.change}", flush=True)
    return int(short)


if __name__ == "__main__":
    sys.exit(main())
