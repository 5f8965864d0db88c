"""Peaks and their prominence, against `scipy.signal.find_peaks`."""

import numpy as np
import pytest
from scipy.signal import find_peaks

from audit.tracing.peaks import high_peaks


@pytest.mark.parametrize("least", [-9.0, 0.0, 2.0, 5.0])
def test_peaks_stand_out_as_scipy_says(least):
    random = np.random.default_rng(7)
    # whole numbers, so that flat peaks, equal heights and ends come up
    for values in (random.integers(0, 7, n).astype(float) for n in (1, 2, 3, *random.integers(4, 60, 200))):
        tops, prominence = high_peaks(values, least)
        expected, of = find_peaks(values, height=least, prominence=0)
        assert tops.tolist() == expected.tolist()
        assert prominence.tolist() == of["prominences"].tolist()
