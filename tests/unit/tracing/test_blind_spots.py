"""What a reading says of the rate and the sensors it came from."""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing

SETTINGS = load_settings().tracing


def notes(**how) -> str:
    samples = round(1200 * how.get("sample_rate_hz", 4.0))
    fhr = 140 + np.random.default_rng(1).normal(0, 3, samples)
    return " ".join(read_tracing(Tracing(fhr, np.zeros(samples), **how), SETTINGS).notes)


@pytest.mark.parametrize("rates_hz", [(), (4.0,), (3.998,), (4.0, 10.0)])
def test_the_usual_rate_is_not_worth_a_sentence(rates_hz):
    assert "ampl" not in notes(source_rates_hz=rates_hz).replace("samples", "")


@pytest.mark.parametrize(("rate_hz", "known_to"), [(0.5, "2 s"), (1.0, "1 s"), (2.0, "0.5 s")])
def test_a_slow_file_says_what_that_means_for_variability(rate_hz, known_to):
    said = notes(sample_rate_hz=rate_hz)
    assert f"Sampled at {rate_hz:g} Hz: change from beat to beat" in said
    assert "variability may read lower" in said
    assert f"known to {known_to} only" in said
    assert "common practice" in said


def test_the_lowest_rate_of_several_files_is_told_as_a_part():
    assert "Sampled at 1 Hz, in part:" in notes(source_rates_hz=(1.0, 4.0))


def test_a_rate_that_nobody_knows_is_said():
    assert "The sampling rate could not be told" in notes(source_rates_hz=(None,))
    assert "The sampling rate of a part could not be told" in notes(source_rates_hz=(4.0, None))


def test_each_sensor_has_its_sentence_and_an_unknown_one_none():
    """Ultrasound approximates the intervals; external toco gives timing only: FIGO 2015, from memory."""
    assert "averaged over several beats" in notes(fhr_sensor="ultrasound")
    assert "beat by beat" in notes(fhr_sensor="scalp_electrode")
    assert "not noted" in notes(fhr_sensor="both")
    assert "nothing of their strength" in notes(toco_sensor="external")
    assert "Intrauterine pressure" in notes(toco_sensor="intrauterine")
    silent = notes()
    assert "FHR by" not in silent
    assert "External" not in silent
