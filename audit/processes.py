"""Worker processes: the same work on many jobs, on every core, with the results in order.

A worker that is killed takes down nobody else's job, and workers end when the process that started them is gone.
"""

import multiprocessing
import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.connection import wait
from types import ModuleType
from typing import NoReturn, TypeVar

from audit.errors import AuditError

Job = TypeVar("Job")
Result = TypeVar("Result")


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

    Parameters
    ----------
    work : a function of a module, or a `partial` of one. What it raises comes out here.
    jobs : taken one by one, at most `ahead` of the result that is waited for.
    workers : processes; 1 = work in this process.
    lost : the result of a job whose worker was killed, twice: beside others, and in a process of its own.
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
    return ProcessPoolExecutor(count, mp_context=context, initializer=_end_with_parent)


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


def _end_with_parent() -> None:
    """Let this worker end when the process that started it is gone, however it went."""
    parent = multiprocessing.parent_process()
    assert parent is not None

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True, name="end with parent").start()
