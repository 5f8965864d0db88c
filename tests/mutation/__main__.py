"""How many small faults in the pure rooms do the tests notice? A seeded sample, the same in every run.

    python -m tests.mutation                                 # the sample of CI
    python -m tests.mutation --per-room 40 --seed 7 --rooms standards response
    python -m tests.mutation --fail-under 0.85 --fail-under-all 0.9

Each fault runs in a child of its own that finds the changed text in place of the module's file; the files themselves
are never touched. A first run without a fault tells which functions each file of tests calls and how long it takes: a
fault is offered to the files that call its function, the quickest first (the others cannot tell). It is noticed when a
test fails, or when the tests take far longer than without it. What no test notices is listed: either a test is missing,
or the change makes no difference (that is for a reader to tell).
"""

import argparse
import contextlib
import gc
import importlib.abc
import importlib.machinery
import io
import os
import pickle
import resource
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import _lru_cache_wrapper, partial
from importlib.util import spec_from_loader
from pathlib import Path
from types import CodeType, FrameType

import duckdb  # noqa: F401  others' code is imported once, before the children are made
import numpy.random  # noqa: F401
import pyarrow.parquet  # noqa: F401
import pytest
import scipy.optimize
import scipy.signal
import scipy.stats  # noqa: F401

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
        "tests/reference/test_textbook_strips_more.py",
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


@dataclass
class Part:
    """A file of tests: the processor time it takes, and which functions of the room it calls."""

    cpu_s: float = 0.0
    called: set[tuple[str, str]] = field(default_factory=set)


class _Watch:
    """Writes down what the tests of each file call; what is called while they are read in counts for every file."""

    def __init__(self, room: str) -> None:
        self.within = str(ROOT / "audit" / room)
        self.parts: dict[str, Part] = {}
        self.read_in = set[tuple[str, str]]()
        self.called = self.read_in

    def __call__(self, frame: FrameType, event: str, _: object) -> None:
        code = frame.f_code
        if event == "call" and code.co_filename.startswith(self.within):
            self.called.add((code.co_filename, code.co_name))

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        path = item.path.relative_to(ROOT).as_posix()
        if path not in self.parts:
            self.parts[path] = Part()
            for kept in gc.get_objects():  # what was worked out for another file is worked out anew
                if isinstance(kept, _lru_cache_wrapper) and str(kept.__module__).startswith("audit"):
                    kept.cache_clear()
        part = self.parts[path]
        self.called, before = part.called, time.process_time()
        done = yield
        part.cpu_s += time.process_time() - before
        return done


def _watched(room: str, paths: Sequence[str], marks: str, note: Path) -> int:
    """Run tests without a fault, and write down what each of their files calls if all of them pass."""
    watch = _Watch(room)
    threading.setprofile(watch)
    sys.setprofile(watch)
    status = _tests(paths, marks, watch)
    sys.setprofile(None)
    for part in watch.parts.values():
        part.called |= watch.read_in
    if status == 0:
        note.write_bytes(pickle.dumps(watch.parts))
    return status


def parts_of(rooms: Sequence[str], processes: int) -> dict[str, dict[str, dict[str, Part]]]:
    """For each room and each mark asked, the files of its tests; a room whose tests fail is missing."""
    asked = [(room, marks, paths[room]) for room in rooms for marks, paths in (("quick", TESTS), (_OUTSIDE, REFERENCE))]
    with tempfile.TemporaryDirectory() as kept:
        notes = [Path(kept) / str(k) for k in range(len(asked))]
        _each(
            [partial(_watched, room, paths, marks, note) for (room, marks, paths), note in zip(asked, notes)], processes
        )
        parts: dict[str, dict[str, dict[str, Part]]] = {}
        for (room, marks, _), note in zip(asked, notes):
            if note.exists():
                parts.setdefault(room, {})[marks] = pickle.loads(note.read_bytes())
    return {room: found for room, found in parts.items() if len(found) == 2}


def noticed(parts: dict[str, dict[str, Part]], mutants: Sequence[Mutant], processes: int) -> list[bool]:
    """For each fault whether a test fails with it, each in a child of its own."""
    return [status != 0 for status in _each([partial(_faulty, parts, mutant) for mutant in mutants], processes)]


def _faulty(parts: dict[str, dict[str, Part]], mutant: Mutant) -> int:
    # a fault may make an endless loop: processor time ends it, however busy the machine is
    resource.setrlimit(resource.RLIMIT_CPU, (TOO_LONG_S, TOO_LONG_S))
    sys.meta_path.insert(0, _Changed(mutant))
    for marks, files in parts.items():
        calling = [path for path, part in files.items() if mutant.function in part.called]
        if calling and (status := _tests(sorted(calling, key=lambda path: files[path].cpu_s), marks)):
            return status
    return 0


def _tests(paths: Sequence[str], marks: str, *plugins: object) -> int:
    told = io.StringIO()
    with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
        return int(pytest.main(["-x", "-q", "-n0", "-p", "no:cacheprovider", "-m", marks, *paths], list(plugins)))


def _each(tasks: Sequence[Callable[[], int]], processes: int) -> list[int]:
    """How each task ended, each in a child of its own; what its tests left goes with it."""
    ended = [1] * len(tasks)
    waiting, running = list(range(len(tasks)))[::-1], dict[int, tuple[int, str]]()
    while waiting or running:
        while waiting and len(running) < processes:
            k, room = waiting.pop(), tempfile.mkdtemp()
            running[_child(tasks[k], room)] = (k, room)
        pid, status = os.wait()
        k, room = running.pop(pid)
        ended[k] = os.waitstatus_to_exitcode(status)
        shutil.rmtree(room, ignore_errors=True)
    return ended


def _child(task: Callable[[], int], room: str) -> int:
    pid = os.fork()
    if pid:
        return pid
    status = 1
    os.environ["TMPDIR"] = tempfile.tempdir = room
    try:
        status = task()
    finally:
        os._exit(min(status, 255))


def main(arguments: Sequence[str] | None = None) -> int:
    """Print each room's score and what nobody noticed; 1 when a room, or all of them, lie under the wanted share."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--per-room", type=int, default=6, help="faults in each room")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rooms", nargs="+", choices=sorted(TESTS), default=list(TESTS))
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--fail-under", type=float, default=0.0, help="least share noticed in every room, 0 to 1")
    parser.add_argument("--fail-under-all", type=float, default=0.0, help="least share noticed in all rooms together")
    asked = parser.parse_args(arguments)
    short, tried, parts = False, list[bool](), parts_of(asked.rooms, asked.processes)
    for room in asked.rooms:
        if room not in parts:
            print(f"{room}: its tests fail without any fault")
            return 1
        files = [file for file in (ROOT / "audit" / room).rglob("*.py") if file.name != "__init__.py"]
        mutants = sample(files, ROOT, asked.per_room, asked.seed)
        same = [mutant for mutant in mutants if mutant.no_difference]
        mutants = [mutant for mutant in mutants if not mutant.no_difference]
        seen = noticed(parts[room], mutants, asked.processes)
        tried += seen
        short |= _said_as_short(room, seen, asked.fail_under)
        for mutant in same:
            print(f"    left out: {mutant.module}:{mutant.line}  {mutant.change}: {mutant.no_difference}", flush=True)
        for mutant, was in zip(mutants, seen, strict=True):
            if not was:
                print(f"    {mutant.module}:{mutant.line}  {mutant.change}", flush=True)
    short |= _said_as_short("all", tried, asked.fail_under_all)
    return int(short)


def _said_as_short(name: str, seen: Sequence[bool], wanted: float) -> bool:
    """Print a score; whether it lies under the wanted share."""
    share = sum(seen) / max(1, len(seen))
    short = share < wanted
    said = f", and at least {wanted:.0%} is wanted" if short else ""
    print(f"{name}: {sum(seen)} of {len(seen)} noticed ({share:.0%}){said}", flush=True)
    return short


if __name__ == "__main__":
    sys.exit(main())
