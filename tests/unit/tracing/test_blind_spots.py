"""What a reading says of the rate and the sensors it came from."""

import numpy as np
import pytest

from audit.settings import load_settings
from audit.tracing.blind_spots import notes_of
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


def told(codes, *, indeterminate_s=0, usable=1.0, mhr=None, **how):
    """What is said of samples with these codes, a minute of baseline and a toco usable for this share of 1000 s."""
    fhr = np.full(len(codes), 140.0)
    baseline = np.where(np.arange(600) < indeterminate_s, np.nan, 140.0)
    toco_usable = np.arange(1000) < round(1000 * usable)
    tracing = Tracing(fhr, fhr, mhr_bpm=mhr, **how)
    return notes_of(tracing, np.array(codes, dtype=np.uint8), baseline, toco_usable)


MOTHER = ("No maternal channel: a maternal rate recorded as the fetal one cannot be told apart.",)


@pytest.mark.parametrize(
    ("codes", "said"),
    [
        ([1] + [0] * 99, "1% of the samples hold no signal."),  # a hundredth is worth a sentence, our choice
        ([1] + [0] * 100, None),
        ([3] + [0] * 99, "1% of the samples were left out: spikes."),
        ([3] + [0] * 100, None),
        ([7] * 30 + [0] * 70, "30% of the samples were left out: at the maternal rate."),
        ([8] * 4, "100% of the samples were left out: stuck at one value."),
    ],
)
def test_what_was_left_out_is_said_from_a_hundredth_on(codes, said):
    assert told(codes) == ((said,) if said else ()) + MOTHER


def test_an_indeterminate_baseline_and_an_unusable_toco_are_said_with_their_share():
    assert told([0], indeterminate_s=59) == told([0], usable=0.99) == MOTHER
    assert told([0], indeterminate_s=60) == ("The baseline is indeterminate for 1 min.", *MOTHER)
    assert told([0], indeterminate_s=120)[0] == "The baseline is indeterminate for 2 min."
    assert told([0], usable=0.989)[0].startswith("The toco is usable for 99% of the time")
    assert told([0], usable=0.0)[0].startswith("The toco is usable for 0% of the time")
    assert told([]) == ("The tracing is empty.",)
    assert told([0], mhr=np.array([80.0])) == ()
    assert notes_of(Tracing(np.ones(1), np.ones(1)), np.zeros(1, np.uint8), np.ones(0), np.ones(0, bool))[0].startswith(
        "The toco is usable for 0%"
    )


@pytest.mark.parametrize(
    ("rate_hz", "said"), [(3.96, None), (3.95, "is hardly in it"), (1.01, "is hardly in it"), (1.0, "is not in it")]
)
def test_a_rate_within_a_hundredth_of_the_usual_one_needs_no_word(rate_hz, said):
    found = told([0], source_rates_hz=(rate_hz,), mhr=np.array([80.0]))
    assert len(found) == (said is not None)
    assert all(said in sentence and ", in part" not in sentence for sentence in found)
