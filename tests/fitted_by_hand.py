"""A second reading made by hand: it says pathological of everything, so its rows are told from the rules'."""

import numpy as np

from audit.second_reading.calibration import Calibration
from audit.second_reading.convolutions import drawn_kernels
from audit.second_reading.described import labour_of, numbers_of
from audit.second_reading.gaussian_process import Scaling
from audit.second_reading.model import FittedReading, FittedWindows
from audit.standards.seen import Seen
from audit.tracing.types import Reading
from tests.reading_builder import SETTINGS


def by_hand(reading: Reading) -> FittedReading:
    """Three fitted windows of two recordings; any reading gives the names of the numbers."""
    labour = labour_of(reading, SETTINGS.of_standards, seen=Seen(reading))
    names, _, _ = numbers_of([labour], [(0.0, 1800.0)])
    count, kernels = len(names), 5
    return FittedReading(
        names=names,
        kernels=drawn_kernels(kernels, 1),
        limits=np.zeros(kernels),
        scalings=(
            Scaling(np.zeros(count), np.ones(count)),
            Scaling(np.zeros(count), np.ones(count)),
            Scaling(np.zeros(kernels), np.ones(kernels)),
        ),
        # the first point lies where clipped numbers of real windows mostly lie, the others opposite
        points=tuple(np.array([[1.0], [1.1], [-3.0]]) * np.ones(size) for size in (count, count, kernels)),
        weights=np.zeros(3),
        level=2.0,
        calibration=Calibration(1.0, -9.0, -8.0),
        windows=FittedWindows(
            recording=("one", "one", "two"),
            start_s=np.zeros(3),
            end_s=np.full(3, 1800.0),
            votes=np.array([[1, 2, 6], [1, 2, 6], [0, 0, 9]]),
            rules=np.array([2, 2, 2]),
        ),
    )
