"""What the analysis costs beside three others on the same tracings: processor time an hour of tracing, and as ratios.

Run by hand: python -m tests.benchmarks.bench_four_ways DATABASE [TRACINGS] [ROUNDS] (40 and 3 if not given). The
database is copied. Each way takes its samples out of it and runs in this process, in turns; the quickest round counts.

- ours: everything that `analyse` does, what it stores included.
- notebook: what a careful analyst would write with pandas and scipy.signal.find_peaks: samples by second, gaps of up to
  15 s filled, a baseline by running median of 10 min, falls and rises as peaks of 15 for 15 s, contractions as peaks of
  the toco, and a table by minute. Nothing of it is stored, and no category or clock is made.
- library: NeuroKit2, general-purpose: its `signal_filter` (low pass) on both channels and `signal_findpeaks`, up and
  down on the rate, up on the toco. Left out when it is not installed (`pip install neurokit2`).
- floor: samples out of the database and one running median of 10 min, by second.
"""

import importlib.metadata
import importlib.util
import os
import platform
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.signal import find_peaks

from audit.analysis.job import analyse
from audit.settings import load_settings
from audit.store import database
from audit.store.tracings import load_tracing
from audit.tracing.types import Tracing

MINUTE_S, BASELINE_S, BRIDGED_S = 60, 600, 15
Way = Callable[[Tracing], object]


def by_second(tracing: Tracing) -> pd.DataFrame:
    """Means of both channels by second."""
    frame = pd.DataFrame({"fhr": tracing.fhr_bpm, "toco": tracing.toco})
    return frame.groupby((np.arange(len(frame)) / tracing.sample_rate_hz).astype(int)).mean()


def notebook(tracing: Tracing) -> pd.DataFrame:
    """A table by minute, as an analyst would make one."""
    seconds = by_second(tracing)
    rate = seconds["fhr"].where(seconds["fhr"].between(50, 210)).interpolate(limit=BRIDGED_S)
    baseline = rate.rolling(BASELINE_S, center=True, min_periods=BASELINE_S // 5).median()
    apart = (rate - baseline).fillna(0.0)
    falls, told = find_peaks(-apart, height=15, width=15)
    rises, _ = find_peaks(apart, height=15, width=15)
    tone = seconds["toco"].interpolate(limit=BRIDGED_S).rolling(11, center=True, min_periods=1).mean().fillna(0.0)
    contractions, _ = find_peaks(tone, prominence=10, distance=60)
    minute = seconds.index // MINUTE_S
    made = pd.DataFrame({"baseline": baseline.groupby(minute).median(), "seen": rate.notna().groupby(minute).mean()})
    made["variability"] = apart.groupby(minute).max() - apart.groupby(minute).min()
    for name, at in (("falls", falls), ("rises", rises), ("contractions", contractions)):
        made[name] = np.bincount(at // MINUTE_S, minlength=len(made))
    made["deepest"] = pd.Series(told["peak_heights"], index=falls // MINUTE_S).groupby(level=0).max()
    made["contractions_per_10_min"] = made["contractions"].rolling(10).sum()
    return made


def with_library(tracing: Tracing) -> object:
    """Filters and peaks of the general-purpose library, by its documentation."""
    import neurokit2

    seconds = by_second(tracing).interpolate(limit_direction="both").fillna(0.0)
    clean = {name: neurokit2.signal_filter(seconds[name], sampling_rate=1, highcut=0.1) for name in seconds}
    return [
        neurokit2.signal_findpeaks(clean["fhr"], height_min=15),
        neurokit2.signal_findpeaks(-clean["fhr"], height_min=15),
        neurokit2.signal_findpeaks(clean["toco"], height_min=10),
    ]


def floor(tracing: Tracing) -> object:
    """The least that any of them does."""
    return by_second(tracing)["fhr"].rolling(BASELINE_S, center=True, min_periods=1).median()


def main() -> None:
    tracings, rounds = (int(word) for word in [*sys.argv[2:4], *["40", "3"][len(sys.argv[2:4]) :]])
    with tempfile.TemporaryDirectory() as folder:
        db = Path(shutil.copy(sys.argv[1], Path(folder) / "unit.duckdb"))
        with database.open_for_writing(db) as con:
            keys = con.execute(
                "select distinct case_id, fetus from tracings order by all limit ?", [tracings]
            ).fetchall()
        ways: dict[str, Way] = {"notebook": notebook, "floor": floor}
        if importlib.util.find_spec("neurokit2") is not None:
            ways["library"] = with_library
        spent: dict[str, list[float]] = {name: [] for name in ("ours", *ways)}
        hours = 0.0
        with database.open_for_reading(db) as con:
            for way in ways.values():  # what they load is not counted
                way(load_tracing(con, *keys[0]))
        for _ in range(rounds):
            begun = time.process_time()
            hours = analyse(
                db, settings=load_settings(), workers=1, case_ids=sorted({k[0] for k in keys}), force=True
            ).hours
            spent["ours"].append(time.process_time() - begun)
            for name, way in ways.items():
                begun = time.process_time()
                with database.open_for_reading(db) as con:
                    for key in keys:
                        way(load_tracing(con, *key))
                spent[name].append(time.process_time() - begun)
    tell(spent, hours, len(keys))


def tell(spent: dict[str, list[float]], hours: float, tracings: int) -> None:
    print(f"{tracings} tracings, {hours:.0f} h; {platform.machine()}, {os.cpu_count()} cores, {platform.system()}")
    packages = ("duckdb", "numpy", "scipy", "pandas", "neurokit2")
    listed = [f"{name} {importlib.metadata.version(name)}" for name in packages if importlib.util.find_spec(name)]
    print(f"Python {platform.python_version()}, {', '.join(listed)}")
    print(f"{'way':<10}{'ms an hour':>12}{'ours is so many times':>24}")
    for name, each in spent.items():
        print(f"{name:<10}{1000 * min(each) / hours:>12.2f}{min(spent['ours']) / min(each):>24.2f}")


if __name__ == "__main__":
    main()
