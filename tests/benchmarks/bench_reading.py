"""How many hours of tracing one core reads in a second. Run by hand: python -m tests.benchmarks.bench_reading"""

import time

import numpy as np

from audit.settings import load_settings
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing
from tests.simulate import simulate_labour

ROUNDS = 5


def main() -> None:
    settings = load_settings().tracing
    for hours in (1.5, 8.0):
        drawn = [simulate_labour(seed, artefact_level="moderate", hours=hours)[0] for seed in range(6)]
        tracings = [Tracing(samples["fhr_bpm"], samples["toco"]) for samples in drawn]
        total = sum(tracing.fhr_bpm.size for tracing in tracings) / 4 / 3600
        spent = []
        for _ in range(ROUNDS):
            start = time.process_time()
            for tracing in tracings:
                read_tracing(tracing, settings)
            spent.append(time.process_time() - start)
        best, middle = min(spent), float(np.median(spent))
        print(
            f"{hours:4.1f} h tracings: {1000 * best / total:5.2f} ms an hour at best ({total / best:5.0f} h/s), "
            f"{1000 * middle / total:5.2f} ms in the median round ({total / middle:5.0f} h/s), one core"
        )


if __name__ == "__main__":
    main()
