"""Trigger series: from which minute the criteria of each concern hold, and since when its pattern had been there."""

from typing import Any

import numpy as np
import pytest

from audit.standards.types import TriggerSeries
from audit.tracing.types import Acceleration, LevelChange, Sinusoidal
from tests.reading_builder import contraction, deceleration, edited, late_at, minutes_of, reading, variable_at

NAMES = {
    "nichd-2008": {
        "prolonged_deceleration",
        "category_iii",
        "category_ii_persistent",
        "tachysystole_with_decelerations",
    },
    "figo-2015": {"pathological", "suspicious_persistent", "prolonged_deceleration"},
    "nice-ng229": {"pathological", "suspicious_persistent", "urgent_review"},
}
BY_LENGTH = [
    ("nichd-2008", "prolonged_deceleration"),
    ("figo-2015", "prolonged_deceleration"),
    ("nice-ng229", "urgent_review"),
]


def met_minutes(series: TriggerSeries) -> list[float]:
    """Minute marks at which the criteria hold, in minutes."""
    return ((np.flatnonzero(series.met) + 1) * 1.0).tolist()


@pytest.mark.parametrize("name", NAMES)
def test_trigger_names_are_those_of_the_contract(name: str) -> None:
    found = minutes_of(name, reading(60))
    assert set(found.triggers) == NAMES[name]
    for series in found.triggers.values():
        assert series.met.shape == series.unseen.shape == series.pattern_start_s.shape == found.at_s.shape
        assert not series.met.any()
        assert np.isnan(series.pattern_start_s).all()


@pytest.mark.parametrize(("name", "trigger"), BY_LENGTH)
def test_a_fall_is_recognisable_after_three_minutes(name: str, trigger: str) -> None:
    event = deceleration(1830.0, drop=50.0, length_s=400.0, nadir_after_s=20.0)
    series = minutes_of(name, reading(60, decelerations=[event])).triggers[trigger]
    # begins at 30.5 min, is 3 min old at 33.5 min, ends at 37.2 min: marks 34 to 38 saw it go on
    assert met_minutes(series) == [34.0, 35.0, 36.0, 37.0, 38.0]
    assert series.pattern_start_s[33] == 1830.0
    assert series.recognisable_exact_s == (2010.0,)


@pytest.mark.parametrize(("name", "trigger"), BY_LENGTH)
def test_three_minutes_exactly_follow_the_operator(name: str, trigger: str) -> None:
    # NICE and our own clock for NICHD: >= 3 min; FIGO 2015: > 3 min.
    event = deceleration(1800.0, drop=50.0, length_s=180.0, nadir_after_s=20.0)
    series = minutes_of(name, reading(60, decelerations=[event])).triggers[trigger]
    assert bool(series.met.any()) is (name != "figo-2015")
    short = deceleration(1800.0, drop=50.0, length_s=179.0, nadir_after_s=20.0)
    assert not minutes_of(name, reading(60, decelerations=[short])).triggers[trigger].met.any()


@pytest.mark.parametrize(("name", "trigger"), BY_LENGTH)
def test_a_fall_that_ends_between_two_marks_is_still_found(name: str, trigger: str) -> None:
    event = deceleration(1810.0, drop=50.0, length_s=195.0, nadir_after_s=20.0)  # 3 min old at 1990, over at 2005 s
    series = minutes_of(name, reading(60, decelerations=[event])).triggers[trigger]
    assert met_minutes(series) == [34.0]


@pytest.mark.parametrize(("name", "trigger"), BY_LENGTH)
def test_a_final_bradycardia_starts_the_clock_at_three_minutes_and_goes_on(name: str, trigger: str) -> None:
    change = LevelChange(1800.0, 3600.0, 140.0, 80.0)
    made = reading(60, baseline=[140.0] * 30 + [80.0] * 30, level_changes=[change])
    series = minutes_of(name, made).triggers[trigger]
    first = 33.0 if name != "figo-2015" else 34.0
    assert met_minutes(series) == list(np.arange(first, 61.0))
    assert set(series.pattern_start_s[series.met]) == {1800.0}


@pytest.mark.parametrize(("name", "trigger"), BY_LENGTH)
def test_a_fall_to_a_normal_level_is_a_new_baseline_after_ten_minutes(name: str, trigger: str) -> None:
    change = LevelChange(1800.0, 3600.0, 150.0, 125.0)
    made = reading(60, baseline=[150.0] * 30 + [125.0] * 30, level_changes=[change])
    series = minutes_of(name, made).triggers[trigger]
    assert met_minutes(series)[-1] == 40.0


@pytest.mark.parametrize(("name", "trigger"), BY_LENGTH)
@pytest.mark.parametrize("drop", [14.0, 15.0, 16.0])
def test_a_lesser_fall_of_the_level_is_no_emergency(name: str, trigger: str, drop: float) -> None:
    # NICHD 2008: a prolonged deceleration is 15 bpm or more deep; FIGO 2015 and NG229: more than 15.
    change = LevelChange(1800.0, 3600.0, 140.0, 140.0 - drop)
    made = reading(60, baseline=[140.0] * 30 + [140.0 - drop] * 30, level_changes=[change])
    found = bool(minutes_of(name, made).triggers[trigger].met.any())
    assert found is (drop > 15.0 or (drop == 15.0 and name == "nichd-2008"))


@pytest.mark.parametrize("name", ["figo-2015", "nice-ng229"])
def test_a_concern_is_as_old_as_what_made_it_one(name: str) -> None:
    # FIGO 2015: over 5 minutes is pathological, NG229: 3 minutes or more; variable ones with most contractions
    # afterwards are suspicious only (FIGO), or nothing (NG229, without a concerning characteristic)
    long_one = deceleration(2400.0, drop=30.0, length_s=310.0, nadir_after_s=20.0)
    peaks = [2820.0 + 120.0 * k for k in range(6)]
    made = reading(
        60, decelerations=[long_one, *map(variable_at, peaks)], contractions=[contraction(peak) for peak in peaks]
    )
    series = minutes_of(name, made).triggers["pathological"]
    assert series.met[57]
    assert series.finding_from_s is not None
    assert series.finding_until_s is not None
    assert (series.finding_from_s[57], series.finding_until_s[57]) == (2400.0, 2710.0)


def test_a_low_baseline_is_over_when_the_rate_is_back_and_not_with_its_window() -> None:
    # FIGO 2015: a baseline under 100 bpm, of 10 minutes: nine of 90 and one of 140 are 95
    series = minutes_of("figo-2015", reading(60, baseline=[90.0] * 40 + [140.0] * 20)).triggers["pathological"]
    assert series.met[40]
    assert series.finding_until_s is not None
    assert series.finding_until_s[38:41].tolist() == [2340.0, 2400.0, 2400.0]


def test_category_iii_by_sinusoidal_pattern() -> None:
    made = reading(60, sinusoidal=[Sinusoidal(1200.0, 3000.0, 4.0, 10.0)])
    series = minutes_of("nichd-2008", made).triggers["category_iii"]
    # NICHD 2008: 20 minutes or more; from 10 minutes after its end no part of it is in the window of a baseline
    assert met_minutes(series) == list(range(40, 60))
    assert set(series.pattern_start_s[series.met]) == {1200.0}


def recurrent_late(minutes: int, *, variability: float, first_min: float = 20.0) -> list[float]:
    return [first_min * 60.0 + 5.0 + 180.0 * k for k in range(round(minutes / 3))]


@pytest.mark.parametrize(
    ("variability", "accelerations", "first"),
    [(4.0, 0, 30.0), (12.0, 0, 60.0), (4.0, 1, 60.0)],
)
def test_persistent_category_ii(variability: float, accelerations: int, first: float) -> None:
    # Source: Clark 2013, from memory: 30 min without, 60 min with moderate variability or accelerations.
    peaks = recurrent_late(90, variability=variability)
    rises = [Acceleration(900.0 + 600.0 * k, 910.0 + 600.0 * k, 930.0 + 600.0 * k, 20.0) for k in range(10)]
    made = reading(
        110,
        variability=variability,
        decelerations=[late_at(p) for p in peaks],
        contractions=[contraction(p) for p in peaks],
        accelerations=rises if accelerations else (),
    )
    series = minutes_of("nichd-2008", made).triggers["category_ii_persistent"]
    assert series.pattern_start_s[series.met][0] == peaks[0] - 5.0
    assert met_minutes(series)[0] * 60.0 - (peaks[0] - 5.0) == first * 60.0


@pytest.mark.parametrize(("length_s", "drop", "found"), [(70.0, 65.0, True), (60.0, 65.0, False), (70.0, 60.0, False)])
def test_only_significant_variables_persist(length_s: float, drop: float, found: bool) -> None:
    # Source: Clark 2013, from memory: over 60 s and over 60 bpm deep.
    peaks = recurrent_late(90, variability=4.0)
    events = [variable_at(p, drop=drop, length_s=length_s) for p in peaks]
    # reduced for 55 minutes only: an hour of it would be observed long enough without any deceleration
    made = reading(
        110, variability=[12.0] * 55 + [4.0] * 55, decelerations=events, contractions=[contraction(p) for p in peaks]
    )
    series = minutes_of("nichd-2008", made).triggers["category_ii_persistent"]
    assert bool(series.met.any()) is found


@pytest.mark.parametrize(("every_s", "found"), [(110.0, True), (120.0, False)])
def test_tachysystole_with_decelerations(every_s: float, found: bool) -> None:
    # NICHD 2008: more than 5 per 10 min averaged over 30 min.
    peaks = [contraction(30.0 + every_s * k, length_s=50.0) for k in range(int(3600 / every_s))]
    with_one = reading(60, contractions=peaks, decelerations=[variable_at(peaks[-8].peak_s)])
    without = reading(60, contractions=peaks)
    series = minutes_of("nichd-2008", with_one).triggers["tachysystole_with_decelerations"]
    assert bool(series.met.any()) is found
    if found:  # the deceleration's nadir is at 2670 s: told at minute 45, of the 30 minutes from minute 15 on
        assert met_minutes(series)[0] == 45.0
        assert series.pattern_start_s[44] == 900.0
    assert not minutes_of("nichd-2008", without).triggers["tachysystole_with_decelerations"].met.any()


@pytest.mark.parametrize(("name", "needed"), [("figo-2015", 30), ("nice-ng229", 60)])
def test_suspicious_that_persists(name: str, needed: int) -> None:
    made = reading(120, baseline=105.0)
    series = minutes_of(name, made).triggers["suspicious_persistent"]
    # a first category needs 10 minutes, so the class is seen from minute 10
    assert met_minutes(series)[0] == 9.0 + needed
    assert series.pattern_start_s[series.met][0] == 540.0


def test_pathological_says_when_its_pattern_began() -> None:
    made = reading(120, variability=[12.0] * 30 + [3.0] * 90)
    series = minutes_of("figo-2015", made).triggers["pathological"]
    assert met_minutes(series)[0] == 81.0
    assert series.pattern_start_s[series.met][0] == 1800.0


def test_unseen_minutes_are_marked_and_do_not_meet() -> None:
    made = reading(60, unseen=[(1800.0, 3600.0)])
    for name in NAMES:
        for series in minutes_of(name, made).triggers.values():
            assert not (series.met & series.unseen).any()
            assert series.unseen[35:].all()
            assert not series.unseen[10:30].any()


def persistent_with(*extra: Any, variability: float = 4.0, baseline: float = 140.0) -> TriggerSeries:
    peaks = recurrent_late(90, variability=variability)
    made = reading(
        110,
        variability=variability,
        baseline=baseline,
        decelerations=[*(late_at(p) for p in peaks), *extra],
        contractions=[contraction(p) for p in peaks],
    )
    return minutes_of("nichd-2008", made).triggers["category_ii_persistent"]


def test_a_prolonged_deceleration_halts_the_algorithm_until_it_resolves() -> None:
    # Source: Clark 2013, from memory. It goes on from minute 47 to 56, while the 30 minutes are over at minute 50.
    usual = met_minutes(persistent_with())
    halted = met_minutes(
        persistent_with(deceleration(2820.0, drop=50.0, length_s=540.0, nadir_after_s=20.0, kind="prolonged"))
    )
    assert usual[0] == 50.0
    assert halted[0] == 56.0


def test_category_iii_leaves_the_algorithm() -> None:
    # Source: Clark 2013, from memory: category I or III exits. Absent variability with recurrent lates is III.
    assert not persistent_with(variability=1.0).met[45:].any()


def test_tachycardia_stays_in_it() -> None:
    assert persistent_with(baseline=170.0).met.any()


@pytest.mark.parametrize(("name", "trigger"), BY_LENGTH)
def test_a_fall_is_over_when_the_rate_is_seen_to_be_back(name: str, trigger: str) -> None:
    # A quarter of the half hour is lost, so there is no category, but the minutes after the fall are seen.
    event = deceleration(2400.0, drop=50.0, length_s=300.0, nadir_after_s=20.0)
    made = reading(60, decelerations=[event], unseen=[(1800.0, 2280.0)])
    found = minutes_of(name, made)
    series = found.triggers[trigger]
    assert met_minutes(series)[-1] == 45.0
    assert not series.unseen[45:].any()


def test_without_usable_toco_the_persistence_rule_cannot_say() -> None:
    made = reading(60)
    toco = made.toco_usable_1hz.copy()
    toco[1800:] = False
    found = minutes_of("nichd-2008", edited(made, {"toco_usable_1hz": toco}))
    for trigger in ("category_ii_persistent", "tachysystole_with_decelerations"):
        assert found.triggers[trigger].unseen[46:].all()
        assert not found.triggers[trigger].unseen[10:40].any()
    # the first category needs ten minutes of baseline (NICHD 2008)
    assert found.triggers["category_ii_persistent"].unseen[:9].all()
