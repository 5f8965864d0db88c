"""End a process with SIGKILL at a mark in its work, so that no test depends on how fast the machine is.

A mark is a call of a function, counted from 1, and a moment of it; or a length that no file may grow beyond, which
ends the process in the middle of writing. A child process arms itself with `arm`; without a mark it counts the calls
and says how many there were, so that a test kills at each, or at some drawn with a seed.
"""

import atexit
import functools
import importlib
import json
import os
import resource
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil

ROOT = Path(__file__).resolve().parents[2]
CALL_MOMENTS = ("before", "after")
# of a context manager: before it is entered, when it has begun, when its block is done, and when it has ended
BLOCK_MOMENTS = ("before", "begun", "done", "after")
_COUNTED = "calls: "


@dataclass(frozen=True)
class Mark:
    """Where to end: the n-th call of `module:function` at a moment; or when a file would grow beyond a length."""

    function: str = ""
    call: int = 0
    moment: str = "before"
    longest_file: int | None = None
    signal: int = signal.SIGKILL  # sent by the process to itself; any other than this one may be caught

    def is_at(self, function: str, call: int, moment: str) -> bool:
        """Whether this is the place."""
        return (self.function, self.call, self.moment) == (function, call, moment)

    def __str__(self) -> str:
        if self.longest_file is not None:
            return f"a file of {self.longest_file} bytes"
        return f"{self.moment} call {self.call} of {self.function}"


def arm(told: str) -> None:
    """Called by the child: wrap the functions named in `told`, and end at its mark."""
    # whoever runs the tests in the background or without a terminal has these ignored, and so would the child
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    order = json.loads(told)
    mark = Mark(**order["mark"]) if order["mark"] else None
    counts: Counter[str] = Counter()
    for name in order["calls"]:
        _replace(name, _counted(name, counts, mark))
    for name in order["blocks"]:
        _replace(name, _counted_block(name, counts, mark))
    if mark is None:
        atexit.register(lambda: sys.stdout.write(f"{_COUNTED}{json.dumps(counts)}\n"))
    elif mark.longest_file is not None:
        # Python ignores the signal by default and gets an error instead; here the process ends like one killed
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_FSIZE, (mark.longest_file, mark.longest_file))


def start(
    code: str, *arguments: object, calls: Sequence[str] = (), blocks: Sequence[str] = (), mark: Mark | None = None
) -> "subprocess.Popen[str]":
    """Start a child whose code begins by arming itself with its first argument."""
    told = json.dumps({"mark": mark and vars(mark), "calls": list(calls), "blocks": list(blocks)})
    return subprocess.Popen(
        [sys.executable, "-c", code, told, *map(str, arguments)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        # what a killed process has counted is lost, so it need not count
        env={name: value for name, value in os.environ.items() if not name.startswith("COV")}
        | {"PYTHONPATH": str(ROOT)},
    )


def killed(
    code: str, *arguments: object, calls: Sequence[str] = (), blocks: Sequence[str] = (), mark: Mark
) -> list[str]:
    """Run a child to its mark and give the lines it printed; it must have ended there and nowhere else."""
    with start(code, *arguments, calls=calls, blocks=blocks, mark=mark) as process:
        said = process.communicate()[0].splitlines()
    expected = signal.SIGKILL if mark.longest_file is None else signal.SIGXFSZ
    assert process.returncode == -expected, f"ended with {process.returncode}, not at the mark: {mark}"
    return said


def ended_with_workers(process: "subprocess.Popen[str]", stop: int) -> None:
    """A child that a signal ends, and the two workers whose numbers are in its first line: none of them is left."""
    said = process.communicate()[0].splitlines()
    assert process.returncode == (-stop if stop == signal.SIGKILL else 1)
    workers = [int(number) for number in said[0].split()]
    assert len(workers) == 2
    # those that are gone already are no process any more
    found = [psutil.Process(number) for number in workers if psutil.pid_exists(number)]
    _, alive = psutil.wait_procs(found, timeout=120)
    for left in alive:
        left.kill()
    assert alive == []


def counted(
    code: str, *arguments: object, calls: Sequence[str] = (), blocks: Sequence[str] = ()
) -> tuple[dict[str, int], list[str]]:
    """Run a child to its end; how often it called each function, and the lines it printed."""
    with start(code, *arguments, calls=calls, blocks=blocks) as process:
        said = process.communicate()[0].splitlines()
    assert process.returncode == 0
    counts = json.loads(said[-1].removeprefix(_COUNTED))
    assert all(counts.get(name) for name in [*calls, *blocks]), counts
    return counts, said[:-1]


def every_mark(counts: dict[str, int], *, calls: Sequence[str] = (), blocks: Sequence[str] = ()) -> list[Mark]:
    """Each moment of each counted call."""
    moments = [(name, CALL_MOMENTS) for name in calls] + [(name, BLOCK_MOMENTS) for name in blocks]
    return [
        Mark(name, call, moment) for name, those in moments for call in range(1, counts[name] + 1) for moment in those
    ]


def _die(mark: Mark) -> None:
    os.kill(os.getpid(), mark.signal)


def _replace(name: str, wrapped: Callable[[Any], Any]) -> None:
    module, _, attribute = name.partition(":")
    owner = importlib.import_module(module)
    setattr(owner, attribute, wrapped(getattr(owner, attribute)))


def _counted(name: str, counts: Counter[str], mark: Mark | None) -> Callable[[Any], Any]:
    def wrapping(function: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(function)
        def wrapped(*arguments: Any, **named: Any) -> Any:
            counts[name] += 1
            if mark is not None and mark.is_at(name, counts[name], "before"):
                _die(mark)
            answer = function(*arguments, **named)
            if mark is not None and mark.is_at(name, counts[name], "after"):
                _die(mark)
            return answer

        return wrapped

    return wrapping


def _counted_block(name: str, counts: Counter[str], mark: Mark | None) -> Callable[[Any], Any]:
    def wrapping(function: Callable[..., Any]) -> Callable[..., Any]:
        @contextmanager
        def wrapped(*arguments: Any, **named: Any) -> Iterator[Any]:
            counts[name] += 1
            call = counts[name]

            def reached(moment: str) -> None:
                if mark is not None and mark.is_at(name, call, moment):
                    _die(mark)

            reached("before")
            with function(*arguments, **named) as made:
                reached("begun")
                yield made
                reached("done")
            reached("after")

        return wrapped

    return wrapping
