"""Worker processes: the same work on many jobs, on every core, with the results in order.

A worker that is killed takes down nobody else's job, and workers end when the process that started them is gone.
"""

import contextlib
import multiprocessing
import os
import queue
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from enum import Enum
from multiprocessing.connection import Connection, wait
from types import ModuleType
from typing import Generic, NoReturn, TypeVar

from audit.errors import AuditError

Job = TypeVar("Job")
Result = TypeVar("Result")
Part = TypeVar("Part")

LOWER_PRIORITY = 10  # steps of nice: about a tenth of the processor beside a process that also wants it


def cores(workers: int | None, jobs: int) -> int:
    """How many workers to start: as many as asked for, else one per core, and never more than jobs."""
    return max(1, min(workers or os.cpu_count() or 1, jobs))


def refuse(job: object) -> NoReturn:
    """Give up because of a job that ended its worker; its content is not said."""
    raise AuditError("a worker process was ended from outside (out of memory, or killed)")


def in_order(
    work: Callable[[Job], Result],
    jobs: Iterable[Job],
    *,
    workers: int,
    ahead: int = 64,
    lost: Callable[[Job], Result] = refuse,
) -> Iterator[Result]:
    """The result of each job, in the order of the jobs, while others are being worked on.

    `work`: a function of a module, or a `partial` of one. What it raises comes out here. `jobs`: taken one by one, at
    most `ahead` of the result that is waited for. `workers`: processes; 1 = work in this process. `lost`: the result of
    a job whose worker was killed, twice: beside others, and in a process of its own.
    """
    if workers <= 1:
        yield from map(work, jobs)
        return
    pool, single = _Pool(workers), _Pool(1)
    under_way: deque[tuple[Job, Future[Result]]] = deque()

    def first() -> Result:
        job, future = under_way.popleft()
        try:
            return future.result()
        except BrokenProcessPool:
            # alone, so that the job that kills its worker is told from its neighbours
            try:
                return single.submit(work, job).result()
            except BrokenProcessPool:
                return lost(job)

    try:
        for job in jobs:
            under_way.append((job, pool.submit(work, job)))
            if len(under_way) >= ahead:
                yield first()
        while under_way:
            yield first()
    finally:
        pool.close()
        single.close()


class _Pool:
    """Processes that are started when there is work, and again after one of them was killed."""

    def __init__(self, count: int) -> None:
        self._count = count
        self._executor: ProcessPoolExecutor | None = None

    def submit(self, work: Callable[[Job], Result], job: Job) -> Future[Result]:
        # this is where workers start
        with _interrupts_held(), _main_module_left_alone():
            if self._executor is not None:
                try:
                    return self._executor.submit(work, job)
                except BrokenProcessPool:
                    self.close()
            self._executor = _started(self._count)
            return self._executor.submit(work, job)

    def close(self) -> None:
        if self._executor is not None:
            self._executor.shutdown(wait=True, cancel_futures=True)


def _started(count: int) -> ProcessPoolExecutor:
    # each worker is one core's work; a linear algebra library that starts threads of its own only gets in the way
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    # not fork: a forked child would inherit DuckDB's threads half alive
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(count, mp_context=context, initializer=_begin)


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Processes that start meanwhile never see the terminal's Ctrl+C: the one that started them ends them in order."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _main_module_left_alone() -> Iterator[None]:
    """Processes that start meanwhile do not run the caller's main module again.

    A new process would run it first of all: a script without `if __name__ == "__main__"` would start its analysis in
    every worker, and a page of the dashboard stands where the main module is looked for. Work is never defined there.
    """
    main = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = main


class HelperGone(Exception):
    """The helper was killed, or failed at a job in a way of its own: not all that it had to tell of the job came."""


class _Word(Enum):
    """What a helper says beside the parts of its jobs."""

    DONE = 1
    FAILED = 2
    ASKS = 3


class Helper(Generic[Job, Part]):
    """One more process that works on jobs in their order, a little ahead, while this one uses what came of them.

    The parts of a job come one by one, and the helper waits when a few of them are not taken yet, so that neither
    process holds much. It ends with the process that started it.
    """

    def __init__(
        self, work: Callable[[Job, Callable[[], object]], Iterator[Part]], answer: Callable[[], object]
    ) -> None:
        """Start it.

        `work`: a function of a module, or a `partial` of one: a job's parts. It is given what asks `answer` of this
        process, which does so when it takes the parts that came before.
        """
        self._answer = answer
        # not fork: a forked child would inherit DuckDB's threads half alive
        context = multiprocessing.get_context("spawn")
        self._results, theirs = context.Pipe(duplex=False)
        jobs, self._jobs = context.Pipe(duplex=False)
        answers, self._answers = context.Pipe(duplex=False)
        self._process = context.Process(target=_help, args=(work, jobs, answers, theirs), daemon=True)
        with _interrupts_held(), _main_module_left_alone():
            self._process.start()
        for end in (theirs, jobs, answers):  # the other process's: a read here ends when it is gone
            end.close()

    def give(self, job: Job) -> None:
        """Hand over a job; few enough to lie in a pipe may wait. One that is given in vain is told by `parts`."""
        with contextlib.suppress(OSError):
            self._jobs.send(job)

    def parts(self) -> Iterator[Part]:
        """The parts of the first job whose parts were not taken. Raises HelperGone, also between two of them."""
        while True:
            try:
                said = self._results.recv()
                if said is _Word.ASKS:
                    self._answers.send(self._answer())
                    continue
            except (EOFError, OSError) as error:
                raise HelperGone("a process was ended from outside") from error
            if said is _Word.FAILED:
                raise HelperGone("a process could not do its part")
            if said is _Word.DONE:
                return
            yield said

    def close(self) -> None:
        """End it, whatever it is at."""
        self._process.kill()
        self._process.join()
        for end in (self._jobs, self._answers, self._results):
            end.close()


_PARTS_AHEAD = 4  # of a helper's job that wait to be taken; our choice


def _help(
    work: Callable[[Job, Callable[[], object]], Iterator[Part]],
    jobs: Connection,
    answers: Connection,
    results: Connection,
) -> None:
    """What a helper does until the other side is gone."""
    _begin()
    waiting: queue.Queue[object] = queue.Queue(_PARTS_AHEAD)

    def send() -> None:
        while True:
            results.send(waiting.get())

    def ask() -> object:
        waiting.put(_Word.ASKS)
        return answers.recv()

    threading.Thread(target=send, daemon=True, name="send").start()
    while True:
        try:
            job = jobs.recv()
        except EOFError:
            return
        try:
            for part in work(job, ask):
                waiting.put(part)
        except Exception:  # the other process does the job itself, and so says what is wrong
            waiting.put(_Word.FAILED)
        else:
            waiting.put(_Word.DONE)


def _begin() -> None:
    """What every process of these does first."""
    _end_with_parent()
    # whoever waits for a page comes first: on a machine with nothing else to do it costs the work nothing
    if hasattr(os, "nice"):
        os.nice(LOWER_PRIORITY)


def _end_with_parent() -> None:
    """Let this worker end when the process that started it is gone, however it went."""
    parent = multiprocessing.parent_process()
    assert parent is not None

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True, name="end with parent").start()
