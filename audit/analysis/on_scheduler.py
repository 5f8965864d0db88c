"""The same readings on the workers of a dask.distributed scheduler: which partition is where, and what becomes of one.

The tracings of a batch are one task. A task whose worker is lost is begun again elsewhere; one that takes its workers
down again and again is parted, so that the tracing that does it is told from its neighbours, as on one machine.
"""

import logging
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from typing import Any

from audit.analysis import made_by
from audit.analysis.guarded import Failed, Fitted, Given, Result, lost
from audit.analysis.one_tracing import CaseInput
from audit.analysis.partitions import SharedFolder, get_results, get_told, put_given, read_partition
from audit.errors import UsageError
from audit.settings import AnalysisSettings

_log = logging.getLogger(__name__)
_AHEAD = 3  # partitions for each thread of a worker that lie ready or are being read; our choice
_RETRIES = 3
_WAIT_S = 30


def in_order(
    address: str,
    folder: str,
    run: str,
    batches: Iterable[Sequence[Given]],
    settings: AnalysisSettings,
    second: Fitted | None,
    keeps: list[str] | None = None,
) -> Iterator[list[Result]]:
    """The results of each batch, in the order of the batches, while others are being read.

    `address`: of the scheduler, such as tcp://10.0.0.5:8786. `folder`: path or address that all workers reach. `run`:
    names the run in that folder; what lies there of it is taken away at the end. `keeps`: it stays, the names of its
    partitions are put here, and of results comes back how they ended and not what was found. Raises UsageError when
    there is no such scheduler, no worker, or the extra is not installed.
    """
    client = _client(address)
    shared, under_way = SharedFolder(folder), deque[tuple[str, Sequence[Given], Any]]()
    asked = client, (shared.address, run), (made_by.version(), settings, second), keeps
    try:
        ahead = _AHEAD * max(1, sum(client.nthreads().values()))
        for number, batch in enumerate(batches):
            part = f"{number:06d}"
            under_way.append((part, batch, _submit(asked, shared, run, part, batch)))
            if len(under_way) >= ahead:
                yield _taken(asked, shared, run, *under_way.popleft())
        while under_way:
            yield _taken(asked, shared, run, *under_way.popleft())
    finally:
        for _, _, future in under_way:
            future.cancel()
        client.close()
        if keeps is None:
            with suppress(OSError):
                shared.forget(run)


def required(address: str) -> None:
    """Raises UsageError as `in_order` does, before anything is opened or written."""
    _client(address).close()


def _client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError:
        raise UsageError(
            "--scheduler: dask.distributed is not installed; install intrapartum-audit[cluster] here and on each worker"
        ) from None
    try:
        client = Client(address, timeout=_WAIT_S, set_as_default=False)
        client.wait_for_workers(1, timeout=_WAIT_S)
    except (OSError, ValueError) as error:
        raise UsageError(
            f"--scheduler {address}: found no scheduler with a worker ({type(error).__name__}), expected the address"
            " that `dask scheduler` prints, such as tcp://10.0.0.5:8786"
        ) from error
    return client


def _submit(asked: tuple[Any, ...], shared: SharedFolder, run: str, part: str, batch: Sequence[Given]) -> Any:
    client, where, how, _ = asked
    put_given(shared, run, part, [case for case in batch if isinstance(case, CaseInput)])
    return client.submit(read_partition, *where, part, *how, key=f"{run}/{part}", pure=False, retries=_RETRIES)


def _taken(
    asked: tuple[Any, ...], shared: SharedFolder, run: str, part: str, batch: Sequence[Given], future: Any
) -> list[Result]:
    from distributed import KilledWorker

    try:
        keeps: list[str] | None = asked[-1]
        future.result()
        found = iter(get_results(shared, run, part) if keeps is None else get_told(shared, run, part))
    except KilledWorker:
        _log.warning("a partition of %d tracings ended its workers", len(batch))
        if len(batch) == 1:
            if keeps is not None:
                keeps.append(part)
            return [lost(batch[0])]
        alone = [(f"{part}-{k:03d}", [case]) for k, case in enumerate(batch)]
        sent = [(name, one, _submit(asked, shared, run, name, one)) for name, one in alone]
        return [_taken(asked, shared, run, *one)[0] for one in sent]
    if keeps is not None:
        keeps.append(part)
    return [case if isinstance(case, Failed) else next(found) for case in batch]
