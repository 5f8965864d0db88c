"""What import and analysis cost as a unit grows: processor time and memory for each hour of tracing, size on disk.

Run by hand: python -m tests.benchmarks.bench_size [--csv] [HOURS ...]. For each size (100 and 400 hours if none is
given) a unit is drawn: labours of 8 h at 4 Hz, a file of tracings for each month, cases, and five care events each. A
few labours are drawn and come again with other noise, so that no two are the same. Each command runs in processes of
its own; memory is what all of them hold together (what they share is counted once), asked ten times a second.
"""

import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import psutil
import pyarrow as pa

from synthetic_cases.write import write_rows, write_tracing_csv, write_tracing_parquet
from tests.simulate import simulate_labour

HOURS, RATE_HZ, MONTHS, DRAWN = 8, 4, 12, 24
MIB = 1024 * 1024


def main() -> None:
    words = sys.argv[1:]
    as_csv, sizes = "--csv" in words, [int(word) for word in words if word != "--csv"] or [100, 400]
    drawn = [simulate_labour(seed, artefact_level="mild", hours=HOURS)[0] for seed in range(DRAWN)]
    print(
        f"{'hours':>7} {'command':<9}{'s':>8}{'h/s':>7}{'ms of processor time an hour':>30}"
        f"{'peak MiB':>10}{'kB an hour':>12}"
    )
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder:
            labours = max(1, size // HOURS)
            make_unit(Path(folder) / "files", drawn, labours, as_csv=as_csv)
            for command in (["import", str(Path(folder) / "files"), "--quiet"], ["analyse"]):
                cost = measured(Path(folder) / "unit.duckdb", command)
                print(line(labours * HOURS, command[0], *cost), flush=True)


def line(hours: int, command: str, wall_s: float, cpu_s: float, peak_mib: float, size: int) -> str:
    each = f"{1000 * cpu_s / hours:>30.2f}{peak_mib:>10.0f}{size / 1000 / hours:>12.1f}"
    return f"{hours:>7} {command:<9}{wall_s:>8.1f}{hours / wall_s:>7.0f}{each}"


def make_unit(files: Path, drawn: list[dict[str, Any]], labours: int, *, as_csv: bool = False) -> None:
    """The files of a unit of so many labours of 8 h, spread over twelve months."""
    files.mkdir()
    cases, events = [], []
    for month in range(MONTHS):
        tables = []
        for k in range(month, labours, MONTHS):
            case_id, rng = f"K{k:05d}", np.random.default_rng(k)
            period = f"2031-{month + 1:02d}"
            cases.append({"case_id": case_id, "period": period, "birth_s": HOURS * 3600, "gestation_weeks": 39})
            for at_s in np.sort(rng.integers(3600, HOURS * 3600, 5)).tolist():
                events.append({"case_id": case_id, "at_s": at_s, "event": "position_change"})
            tables.append(tracing_table(case_id, drawn[k % len(drawn)], rng))
            if as_csv:
                write_tracing_csv(files / f"{case_id}.csv", tables.pop())
        if tables:
            write_tracing_parquet(files / f"tracings_{period}.parquet", tables)
    write_rows(files / "cases.csv", cases)
    write_rows(files / "care_events.csv", events)


def tracing_table(case_id: str, samples: dict[str, Any], rng: np.random.Generator) -> pa.Table:
    """A drawn labour with noise of its own, of half a bpm at most, under another name."""
    n = samples["fhr_bpm"].size
    fhr = np.round((samples["fhr_bpm"] + rng.uniform(-0.5, 0.5, n)) * 4) / 4
    columns = {"fhr_bpm": fhr, "toco": np.round(samples["toco"])}
    names = pa.DictionaryArray.from_arrays(pa.array(np.zeros(n, np.int32)), pa.array([case_id]))
    fetus = pa.DictionaryArray.from_arrays(pa.array(np.zeros(n, np.int32)), pa.array(["A"]))
    numbers = {k: pa.array(v.astype(np.float32), mask=np.isnan(v)) for k, v in columns.items()}
    nobody = pa.nulls(n, pa.float32())
    return pa.table({"case_id": names, "fetus": fetus, "t_s": np.arange(n) / RATE_HZ, **numbers, "mhr_bpm": nobody})


def measured(db: Path, command: list[str]) -> tuple[float, float, float, int]:
    """Seconds by the clock, seconds of processor time, peak of memory in MiB, bytes of the database."""
    begun, before = time.perf_counter(), os.times()
    with subprocess.Popen(
        [sys.executable, "-m", "audit", "--db", str(db), *command], stdout=subprocess.DEVNULL
    ) as done:
        peak = [0.0]
        watch = threading.Thread(target=_watch, args=(psutil.Process(done.pid), peak))
        watch.start()
        done.wait()
        watch.join()
    after = os.times()
    cpu_s = after.children_user + after.children_system - before.children_user - before.children_system
    return time.perf_counter() - begun, cpu_s, peak[0] / MIB, db.stat().st_size


def _watch(process: psutil.Process, peak: list[float]) -> None:
    while True:
        try:
            family = [process, *process.children(recursive=True)]
        except psutil.Error:
            return
        held = 0
        for one in family:
            try:
                held += one.memory_full_info().pss
            except (psutil.Error, AttributeError):
                continue
        if not held:
            return
        peak[0] = max(peak[0], held)
        time.sleep(0.1)


if __name__ == "__main__":
    main()
