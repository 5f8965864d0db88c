"""What a country would need: workers of a scheduler and the one writer of a database, simulated from measured costs.

Run by hand: python -m tests.benchmarks.bench_sizing DATABASE [FOLDER]. The database is copied and all of it is analysed
by way of a shared folder in this one process (FOLDER, else a temporary one), so that processor time is told apart: what
the writer spends on taking partitions out and on storing what was found, and what a worker spends on reading. Then
partitions of labours of drawn lengths go through the order of `analysis/on_scheduler.py`: the writer puts partitions
out until so many lie ahead, waits for the first of them and stores it. Printed: hours of the year's analysis, how busy
writer and workers are, storage.

Assumed, our choice: every birth has a tracing, 8 h in the mean and log-normal with a sigma of 0.6; a worker is as fast
as this machine's core, and the shared folder no slower than the work. Not in it: workers' start, and workers lost.
"""

import heapq
import shutil
import sys
import tempfile
import time
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from audit.analysis import job, made_by, on_scheduler
from audit.analysis.guarded import Result
from audit.analysis.one_tracing import CaseInput
from audit.analysis.partitions import SharedFolder, get_results, put_given, read_partition
from audit.settings import load_settings
from audit.store import database

A_YEAR = {"700,000 births": 700_000, "4 million births": 4_000_000}
HOURS_A_BIRTH, SIGMA = 8.0, 0.6
# databases, and workers of each
PLANS = ((1, 1), (1, 2), (1, 4), (1, 8), (10, 2), (10, 4), (50, 4))


@dataclass
class Costs:
    """Seconds of processor time; of reading by partition, with its hours of tracing."""

    out_s: float = 0.0
    stored_s: float = 0.0
    hours: list[float] = field(default_factory=list)
    read_s: list[float] = field(default_factory=list)


def simulated(workers: int, out_s: Iterable[float], read_s: Iterable[float], stored_s: Iterable[float]) -> float:
    """Seconds until the last partition is stored; each takes so long to put out, to read and to store."""
    ahead, now, free = on_scheduler._AHEAD * workers, 0.0, [0.0] * workers
    under_way: deque[tuple[float, float]] = deque()
    for out, read, stored in zip(out_s, read_s, stored_s, strict=True):
        now += out
        done = max(now, heapq.heappop(free)) + read
        heapq.heappush(free, done)
        under_way.append((done, stored))
        if len(under_way) >= ahead:
            done, stored = under_way.popleft()
            now = max(now, done) + stored
    for done, stored in under_way:
        now = max(now, done) + stored
    return now


def measured(db: Path, folder: Path) -> Costs:
    """What an analysis of the whole database costs by way of a shared folder, all in this process."""
    costs = Costs()

    def in_order(
        _address: str, shared_folder: str, run: str, batches: Iterable[Sequence[Any]], *how: Any
    ) -> Iterator[list[Result]]:
        shared, waiting, number = SharedFolder(shared_folder), iter(batches), 0
        while True:
            begun = time.process_time()
            batch = next(waiting, None)
            if batch is None:
                return
            part, number = f"{number:06d}", number + 1
            cases = [case for case in batch if isinstance(case, CaseInput)]
            put_given(shared, run, part, cases)
            put = time.process_time()
            read_partition(shared_folder, run, part, made_by.version(), *how)
            read = time.process_time()
            results = get_results(shared, run, part)
            costs.stored_s += time.process_time() - read
            costs.out_s += put - begun
            costs.read_s.append(read - put)
            costs.hours.append(sum(map(_hours, cases)))
            begun = time.process_time()
            yield results
            costs.stored_s += time.process_time() - begun

    job.on_scheduler.in_order = in_order  # type: ignore[assignment]
    job.on_scheduler.required = lambda address: None  # nobody needs to listen
    job.analyse(db, settings=load_settings(), force=True, cluster=job.Cluster("here", str(folder)))
    return costs


def _hours(case: CaseInput) -> float:
    """How long the tracing is, with what lies between its pieces."""
    tracing = case.whole()
    return 0.0 if tracing is None else tracing.fhr_bpm.size / tracing.sample_rate_hz / 3600.0


def main() -> None:
    with tempfile.TemporaryDirectory() as made:
        db = Path(shutil.copy(sys.argv[1], Path(made, "unit.duckdb")))
        folder = Path(sys.argv[2] if len(sys.argv) > 2 else made, "shared")
        costs = measured(db, folder)
        hours = sum(costs.hours)
        kept = {name: sum(f.stat().st_size for f in folder.glob(f"*/{name}/**/*.parquet")) for name in _FOLDERS}
        with database.open_for_reading(db) as con:
            [(block, used)] = con.execute("select block_size, used_blocks from pragma_database_size()").fetchall()
        shutil.rmtree(folder)
    out, read, stored = (each / hours for each in (costs.out_s, sum(costs.read_s), costs.stored_s))
    print(
        f"{len(costs.hours)} partitions, {hours:.0f} h; processor time an hour of tracing: taken out {1000 * out:.2f},"
    )
    print(
        f"read {1000 * read:.2f}, fetched and stored {1000 * stored:.2f} ms: the writer keeps"
        f" {read / (out + stored):.1f} cores busy"
    )
    told = ", ".join(f"{name} {size / 1000 / hours:.1f}" for name, size in kept.items())
    print(f"kB an hour in the shared folder: {told}; in the database {block * used / 1000 / hours:.1f}")
    parts = np.array(costs.hours)
    alone, both = (simulated(n, parts * out, costs.read_s, parts * stored) for n in (1, 2))
    print(f"this unit on one worker {alone:.1f} s, on two {both:.1f} s: {alone / both / 2:.2f} of twice the speed")
    print(f"{'':<18}{'databases':>10}{'workers each':>14}{'hours':>8}{'writer busy':>13}{'workers busy':>14}{'TB':>6}")
    rng, ratio = np.random.default_rng(1), np.array(costs.read_s) / parts / read
    for words, births in A_YEAR.items():
        for databases, workers in PLANS:
            each = births // databases // job.LOADED
            lengths = rng.lognormal(np.log(HOURS_A_BIRTH) - SIGMA**2 / 2, SIGMA, (each, job.LOADED)).sum(1)
            took = lengths * read * rng.choice(ratio, each)
            passed = simulated(workers, lengths * out, took, lengths * stored)
            busy, worked = lengths.sum() * (out + stored) / passed, took.sum() / passed / workers
            storage = births * HOURS_A_BIRTH * block * used / hours / 1e12
            print(
                f"{words:<18}{databases:>10}{workers:>14}{passed / 3600:>8.1f}{busy:>13.0%}{worked:>14.0%}"
                f"{storage:>6.2f}"
            )


_FOLDERS = ("tracings", "given", "findings", "results")

if __name__ == "__main__":
    main()
