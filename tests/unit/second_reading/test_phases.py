"""A tracing by phases: what a file of 1 Hz would have held, from each of the first samples.

No source but arithmetic: which samples lie a second apart, and means by the definition.
"""

import numpy as np
import pytest

from audit.second_reading.described import labour_of, labours_of, mean_of_known, numbers_of
from audit.second_reading.phases import phases_of
from audit.standards.seen import Seen
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing
from tests.reading_builder import SETTINGS
from tests.simulate import simulate_labour

TABLES = SETTINGS.of_standards


def test_four_hertz_hold_four_files_of_one_hertz_and_lose_nothing() -> None:
    fhr, toco, mhr = (np.arange(10.0) + start for start in (100, 0, 60))
    found = phases_of(Tracing(fhr, toco, 4.0, mhr, start_s=30.0, fhr_sensor="ultrasound"))
    assert [one.fhr_bpm.tolist() for one in found] == [[100, 104, 108], [101, 105, 109], [102, 106], [103, 107]]
    assert [one.toco.tolist() for one in found] == [[0, 4, 8], [1, 5, 9], [2, 6], [3, 7]]
    assert found[1].mhr_bpm is not None
    assert found[1].mhr_bpm.tolist() == [61, 65, 69]
    assert {(one.sample_rate_hz, one.start_s, one.fhr_sensor) for one in found} == {(1.0, 30.0, "ultrasound")}


@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 2.5])
def test_a_rate_without_such_phases_stands_for_itself(rate_hz: float) -> None:
    made = Tracing(np.full(90, 140.0), np.zeros(90), rate_hz)
    assert phases_of(made) == (made,)


def test_less_than_a_second_has_no_phases() -> None:
    made = Tracing(np.full(3, 140.0), np.zeros(3))
    assert phases_of(made) == (made,)


def test_what_one_phase_does_not_know_is_the_mean_of_the_others() -> None:
    one, two = np.array([[1.0, np.nan, np.nan]]), np.array([[3.0, 5.0, np.nan]])
    np.testing.assert_array_equal(mean_of_known([one, two]), [[2.0, 5.0, np.nan]])
    assert mean_of_known([one]) is one


def test_a_window_of_four_hertz_is_the_mean_of_its_four_files_of_one_hertz() -> None:
    samples, _ = simulate_labour(4, artefact_level="moderate", hours=0.8)
    whole = Tracing(samples["fhr_bpm"], samples["toco"])
    like = Seen(read_tracing(whole, SETTINGS.tracing), second_stage_s=2000.0)
    spans = [(600.0, 2400.0)]
    names, window, hour = numbers_of(labours_of(whole, SETTINGS.tracing, TABLES, like=like), spans)
    files = []
    for first in range(4):
        file = Tracing(samples["fhr_bpm"][first::4], samples["toco"][first::4], sample_rate_hz=1.0)
        reading = read_tracing(file, SETTINGS.tracing)
        files.append(numbers_of([labour_of(reading, TABLES, seen=Seen(reading, second_stage_s=2000.0))], spans))
    assert [each[0] for each in files] == [names] * 4
    for found, at in ((window, 1), (hour, 2)):
        four = np.array([each[at] for each in files])
        known = np.isfinite(four).all(axis=0)
        np.testing.assert_allclose(found[known], four.mean(axis=0)[known])
        assert (four.std(axis=0)[known] > 0).mean() > 0.3  # the files differ, so the mean is no single one of them
