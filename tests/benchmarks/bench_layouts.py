"""Layouts for stored tracings, measured on the open database: size, time to insert, time to load a 12 h case.

Run: python tests/benchmarks/bench_layouts.py [FOLDER OF RECORDS]. Needs CTU_UHB_DIR, the folder, or the default place.
Every layout holds the same samples: the 359 recordings, and one case of 12 h made of recordings end to end.
Sizes are of the checkpointed file; loading is the median of 15 with the file opened once, arrays of floats as result.
"""

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa

LONG_CASE = "long"
LONG_SAMPLES = 12 * 3600 * 4
MINUTE = 240
Signals = dict[str, tuple[np.ndarray, np.ndarray]]  # case: fhr, toco in hundredths, -32768 = no signal


def recordings(folder: Path) -> Signals:
    cases: Signals = {}
    for file in sorted(folder.glob("*.dat")):
        digital = np.fromfile(file, dtype="<i2").reshape(-1, 2)
        fhr = np.where(digital[:, 0] == 0, np.int16(-32768), digital[:, 0])
        cases[file.stem] = (fhr, digital[:, 1].copy())
    fhr = np.concatenate([case[0] for case in cases.values()])[:LONG_SAMPLES]
    toco = np.concatenate([case[1] for case in cases.values()])[:LONG_SAMPLES]
    cases[LONG_CASE] = (fhr, toco)
    return cases


def values(channel: np.ndarray, as_float: bool) -> pa.Array:
    missing = channel == -32768
    if as_float:
        return pa.array((channel / 100).astype(np.float32), mask=missing)
    return pa.array(channel, mask=missing)


def rows_of(case: str, fhr: np.ndarray, toco: np.ndarray, per_row: int | None, as_float: bool) -> pa.Table:
    """Rows of one case: a sample a row (None), or lists of `per_row` samples."""
    if per_row is None:
        count = len(fhr)
        columns = {"fhr": values(fhr, as_float), "toco": values(toco, as_float)}
    else:
        count = -(-len(fhr) // per_row)
        offsets = pa.array(np.append(per_row * np.arange(count), len(fhr)).astype(np.int32))
        columns = {
            name: pa.ListArray.from_arrays(offsets, values(channel, as_float))
            for name, channel in (("fhr", fhr), ("toco", toco))
        }
    codes = pa.DictionaryArray.from_arrays(pa.array(np.zeros(count, np.int32)), pa.array([case]))
    return pa.table({"case_id": codes, "part": pa.array(np.arange(count, dtype=np.int32)), **columns})


def load(con: duckdb.DuckDBPyConnection, case: str, lists: bool) -> np.ndarray:
    table = con.sql(
        "select fhr, toco from samples where case_id = $case_id order by part", params={"case_id": case}
    ).to_arrow_table()
    both = []
    for name in ("fhr", "toco"):
        column = pa.concat_arrays(table[name].chunks)
        flat = column.flatten() if lists else column
        both.append(np.asarray(flat.to_numpy(zero_copy_only=False), dtype=np.float64))
    return np.stack(both)


def measure(cases: Signals, per_row: Callable[[int], int] | None, as_float: bool, folder: Path) -> tuple[float, ...]:
    kind = "real" if as_float else "smallint"
    lists = per_row is not None
    file = folder / "layout.duckdb"
    file.unlink(missing_ok=True)
    with duckdb.connect(str(file)) as con:
        con.execute("set threads = 1")
        suffix = "[]" if lists else ""
        con.execute(f"create table samples (case_id varchar, part integer, fhr {kind}{suffix}, toco {kind}{suffix})")
        started = time.perf_counter()
        for case, (fhr, toco) in cases.items():
            con.register("incoming", rows_of(case, fhr, toco, per_row(len(fhr)) if per_row else None, as_float))
            con.execute("insert into samples select * from incoming")
            con.unregister("incoming")
        con.execute("checkpoint")
        insert_s = time.perf_counter() - started
    with duckdb.connect(str(file), read_only=True) as con:
        times = []
        for _ in range(15):
            started = time.perf_counter()
            loaded = load(con, LONG_CASE, lists)
            times.append(time.perf_counter() - started)
        assert loaded.shape == (2, LONG_SAMPLES)
        assert int(np.isnan(loaded[0]).sum()) == int((cases[LONG_CASE][0] == -32768).sum())
    return file.stat().st_size, insert_s, statistics.median(times) * 1000


def main() -> None:
    default = Path(__file__).resolve().parents[3] / "shared" / "data" / "ctu-uhb"
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else os.environ.get("CTU_UHB_DIR", default))
    cases = recordings(folder)
    samples = sum(len(fhr) for fhr, _ in cases.values())
    print(
        f"{len(cases) - 1} recordings and one case of 12 h: {samples:,} pairs of samples, duckdb {duckdb.__version__}"
    )
    print(f"{'layout':<34}{'size MB':>9}{'B/pair':>8}{'insert s':>10}{'12 h case ms':>14}")
    layouts: list[tuple[str, Callable[[int], int] | None, bool]] = [
        ("row per sample, real", None, True),
        ("row per sample, smallint", None, False),
        ("list per minute, real", lambda _: MINUTE, True),
        ("list per minute, smallint", lambda _: MINUTE, False),
        ("list per hour, smallint", lambda _: 60 * MINUTE, False),
        ("list per case, real", lambda count: count, True),
        ("list per case, smallint", lambda count: count, False),
    ]
    with tempfile.TemporaryDirectory() as temporary:
        for name, per_row, as_float in layouts:
            size, insert_s, load_ms = measure(cases, per_row, as_float, Path(temporary))
            print(f"{name:<34}{size / 1e6:>9.1f}{size / samples:>8.2f}{insert_s:>10.2f}{load_ms:>14.1f}")


if __name__ == "__main__":
    main()
