"""The simulations that accuracy tests stand on: repeatable, plausible, and as hard as they say."""

from collections import Counter

import numpy as np
import pytest

from synthetic_cases.truth import Artefact
from tests.simulate import simulate_labour
from tests.simulate_response import POSSIBLE, simulate_response_labours


def test_the_same_seed_draws_the_same_labour_and_another_seed_another():
    first, again, other = (simulate_labour(seed, hours=1)[0]["fhr_bpm"] for seed in (5, 5, 6))
    np.testing.assert_array_equal(first, again)
    assert np.nanmax(np.abs(first - other)) > 10


def test_samples_are_4_hz_and_the_maternal_channel_comes_when_asked_for():
    samples, truth = simulate_labour(1, hours=1.5, with_mhr=True)
    assert all(samples[name].shape == (1.5 * 3600 * 4,) for name in ("fhr_bpm", "toco", "mhr_bpm"))
    assert truth.duration_s == 5400
    assert 60 < np.median(samples["mhr_bpm"]) < 110
    assert simulate_labour(1, hours=1)[0]["mhr_bpm"] is None


def test_each_artefact_level_loses_more_than_the_one_before():
    lost = {}
    for level in ("none", "mild", "moderate", "severe"):
        codes = [simulate_labour(seed, artefact_level=level, hours=2)[1].artefact_4hz for seed in range(4)]
        lost[level] = np.mean([np.mean(c == Artefact.LOSS) for c in codes])
    assert lost["none"] == 0
    assert 0.015 < lost["mild"] < 0.08 < lost["moderate"] < 0.20 < lost["severe"] < 0.45


@pytest.mark.parametrize("share", [0.5, 0.65])
def test_the_asked_share_of_time_is_spent_in_decelerations(share):
    _, truth = simulate_labour(2, hours=3, share_in_decelerations=share)
    inside = sum(d.end_s - d.onset_s for d in truth.decelerations) / truth.duration_s
    assert inside == pytest.approx(share, abs=0.08)


def test_planted_answers_come_in_every_combination_and_in_order():
    seen = Counter()
    for labour in simulate_response_labours(15, seed=3):
        seen[labour.pattern, labour.status] += 1
        first = min(labour.recognisable_s.values())
        assert labour.pattern_start_s < first <= labour.pattern_end_s
        assert all(0 <= at <= labour.birth_s for at, _ in labour.events)
        answered = labour.response_s is not None
        assert answered == (labour.status in ("in_time", "late"))
        if labour.status == "late":
            assert labour.response_s - max(labour.recognisable_s.values()) >= 45 * 60
            assert labour.response_s < labour.pattern_end_s
        if labour.status == "in_time":
            assert 0 < labour.response_s - first <= 4 * 60
        if labour.status == "born_first":
            assert labour.birth_s - first < 5 * 60
    assert set(seen) == {(pattern, status) for pattern, statuses in POSSIBLE.items() for status in statuses}


def test_planted_low_variability_stays_under_5_and_lasts_over_50_minutes():
    # FIGO 2015 and NICE NG229: under 5 bpm for more than 50 minutes. Every drawn minute, by both widths.
    labours = [x for x in simulate_response_labours(22, seed=4) if x.pattern == "low_variability"]
    assert len(labours) >= 4
    for labour in labours:
        minutes = slice(int(labour.pattern_start_s // 60) + 1, int(labour.pattern_end_s // 60) - 1)
        assert minutes.stop - minutes.start >= 50
        assert np.mean(labour.truth.variability_1min_bpm[minutes] < 5) == 1
        assert np.mean(labour.truth.variability_range_1min_bpm[minutes] < 5) > 0.9
