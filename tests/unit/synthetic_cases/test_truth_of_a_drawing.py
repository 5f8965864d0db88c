"""The truth says what was drawn: checked against the samples themselves and against published definitions."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from synthetic_cases.plan import (
    AccelerationPlan,
    ArtefactPlan,
    CasePlan,
    ContractionPlan,
    Course,
    DecelerationPlan,
    LevelChangePlan,
)
from synthetic_cases.truth import Artefact
from synthetic_cases.waveform import draw
from tests.simulate import simulate_labour

STILL = CasePlan(
    duration_s=1800.0,
    baseline_bpm=Course.constant(140.0),
    variability_bpm=Course.constant(0.0),
    wander_bpm=0.0,
    artefacts=ArtefactPlan(toco_noise=0.0, toco_drift=0.0),
)


def _drawn(plan, seed=1):
    return draw(plan, np.random.default_rng(seed))


@pytest.mark.parametrize("sway", [0.0, 0.1])
@pytest.mark.parametrize("back", ["cosine", "exponential", "gaussian"])
def test_the_area_is_the_integral_of_the_drawn_fall(back, sway):
    event = DecelerationPlan(600.0, 20.0, 60.0, 30.0, 45.0, "variable", "rounded", back, sway=sway)
    _, truth = _drawn(replace(STILL, decelerations=(event,)))
    (fall,) = truth.decelerations
    lack = 140.0 - truth.clean_fhr_bpm_4hz
    assert fall.area_bpm_s == pytest.approx(lack.sum() / 4)
    assert fall.depth_bpm == pytest.approx(lack.max())
    assert fall.nadir_s == np.argmax(lack) / 4
    assert lack[int(fall.onset_s * 4)] >= 1 > lack[int(fall.onset_s * 4) - 1]
    assert lack[int(fall.end_s * 4) - 1] >= 1 > lack[int(fall.end_s * 4)]


def test_a_straight_flanked_fall_has_the_area_of_its_trapezium():
    # Elementary geometry: 20 s down, 60 s flat, 30 s up at 45 bpm: (10 + 60 + 15) x 45 bpm s.
    event = DecelerationPlan(600.0, 20.0, 60.0, 30.0, 45.0, "variable", "rounded", "rounded")
    _, truth = _drawn(replace(STILL, decelerations=(event,)))
    assert truth.decelerations[0].area_bpm_s == pytest.approx(85 * 45, rel=0.002)


def test_a_fall_cut_by_the_end_is_open_and_one_beyond_it_is_no_truth():
    cut = DecelerationPlan(1750.0, 20.0, 60.0, 30.0, 45.0, "prolonged")
    beyond = replace(cut, onset_s=1805.0)
    _, truth = _drawn(replace(STILL, decelerations=(cut, beyond)))
    (fall,) = truth.decelerations
    assert fall.open_end
    assert fall.end_s == 1800.0


def test_a_rise_and_a_contraction_are_where_they_were_asked_for():
    rise = AccelerationPlan(300.0, 10.0, 10.0, 15.0, 20.0)
    contraction = ContractionPlan(900.0, 30.0, 40.0, 50.0)
    recording, truth = _drawn(replace(STILL, accelerations=(rise,), contractions=(contraction,)))
    (up,), (squeeze,) = truth.accelerations, truth.contractions
    # A sway of up to 18 % of the height may lift the plateau above what was asked for.
    assert up.height_bpm == pytest.approx(20, rel=0.2)
    assert 300 < up.onset_s < 304
    assert 330 < up.end_s <= 335
    assert squeeze.peak_s == pytest.approx(930, abs=0.5)
    assert squeeze.amplitude == pytest.approx(50, rel=0.01)
    assert np.nanargmax(recording.toco) / 4 == pytest.approx(squeeze.peak_s, abs=3)  # the top is flat in half units


def test_the_seen_area_leaves_out_what_was_lost():
    event = DecelerationPlan(600.0, 10.0, 80.0, 10.0, 40.0, "variable", "rounded", "rounded")
    plan = replace(STILL, decelerations=(event,), artefacts=replace(STILL.artefacts, gaps_s=((620.0, 650.0),)))
    (fall,) = _drawn(plan)[1].decelerations
    # 30 s at 40 bpm were not there to be seen.
    assert fall.area_bpm_s - fall.seen_area_bpm_s == pytest.approx(1200, abs=5)
    assert fall.seen_fraction == pytest.approx(0.7, abs=0.02)


def test_a_fall_of_ten_minutes_changes_the_baseline():
    change = LevelChangePlan(900.0, 30.0, 1800.0, 75.0)
    _, truth = _drawn(replace(STILL, level_changes=(change,)))
    assert truth.decelerations == ()
    assert truth.level_changes[0].from_bpm == pytest.approx(140)
    assert np.median(truth.baseline_bpm_4hz[-2400:]) == pytest.approx(75, abs=4)


def test_the_recording_without_artefacts_follows_the_clean_rate():
    plan = replace(STILL, variability_bpm=Course.constant(12.0), fhr_sensor="scalp_electrode")
    recording, truth = _drawn(plan)
    # Held beats lag by at most one beat and a stored step is 0.25 bpm.
    assert np.abs(recording.fhr_bpm - truth.clean_fhr_bpm_4hz).mean() < 1.0
    assert (recording.fhr_bpm * 4 == np.round(recording.fhr_bpm * 4)).all()
    assert not truth.artefact_4hz.any()
    assert np.median(truth.variability_1min_bpm) == pytest.approx(12, rel=0.05)


def test_every_touched_sample_has_its_artefact_and_no_other():
    _, truth = simulate_labour(3, artefact_level="severe", hours=2, with_mhr=True)
    samples, same = simulate_labour(3, artefact_level="severe", hours=2, with_mhr=True)
    lost = np.isnan(samples["fhr_bpm"])
    np.testing.assert_array_equal(lost, same.artefact_4hz == Artefact.LOSS)
    drawn = {Artefact(code) for code in np.unique(truth.artefact_4hz)}
    assert {Artefact.LOSS, Artefact.HALVED, Artefact.SPIKE, Artefact.MATERNAL_RATE} <= drawn


@pytest.mark.parametrize("seed", range(6))
def test_drawn_events_do_not_overlap_and_lie_inside(seed):
    _, truth = simulate_labour(seed, hours=3)
    events = sorted((e.onset_s, e.end_s) for e in (*truth.decelerations, *truth.accelerations))
    assert len(events) > 3
    assert all(a[1] < b[0] for a, b in pairwise(events))
    assert all(0 <= onset < end <= truth.duration_s for onset, end in events)
    peaks = [c.peak_s for c in truth.contractions]
    assert all(b - a > 60 for a, b in pairwise(peaks))


def test_kinds_keep_to_the_published_definitions():
    # NICHD 2008: abrupt is under 30 s from onset to the beginning of the nadir, gradual 30 s or more; early has its
    # nadir with the contraction's peak, late after it; prolonged lasts 2 minutes or more and under 10.
    # FIGO 2015: a late one starts over 20 s after the contraction and ends after it.
    counted = {"early": 0, "late": 0, "variable": 0, "prolonged": 0}
    for seed in range(12):
        _, truth = simulate_labour(seed, artefact_level="none", hours=4)
        contractions = {round(c.peak_s): c for c in truth.contractions}
        for fall in truth.decelerations:
            counted[fall.kind] += 1
            to_nadir, length = fall.nadir_begin_s - fall.onset_s, fall.end_s - fall.onset_s
            assert fall.depth_bpm >= 15
            if fall.kind == "variable":
                assert to_nadir < 25
                assert 15 <= length < 120
            elif fall.kind == "prolonged":
                assert 120 <= length < 600
            else:
                assert to_nadir >= 30
                assert length < 120
                peak = fall.contraction_peak_s
                near = contractions[min(contractions, key=lambda p: abs(p - peak))]
                if fall.kind == "early":
                    assert abs(fall.nadir_s - peak) <= 5
                else:
                    assert fall.nadir_s - peak >= 20
                    assert fall.onset_s - near.onset_s > 20
                    assert fall.end_s > near.end_s
    assert min(counted.values()) >= 10
