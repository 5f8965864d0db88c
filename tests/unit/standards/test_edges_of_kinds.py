"""Kinds of falls at the edges of what the texts print, and what each fall and pattern is said to have been."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from audit.setting_types import Limit
from audit.standards.falls import falls_of
from audit.standards.figo_2015 import _Pass as FigoPass
from audit.standards.figo_2015_table import KINDS as FIGO_KINDS
from audit.standards.figo_2015_table import deceleration_kinds as figo_kinds
from audit.standards.nice_ng229_pass import Pass as NicePass
from audit.standards.nice_ng229_table import KINDS as NICE_KINDS
from audit.standards.nice_ng229_table import deceleration_kinds as nice_kinds
from audit.standards.patterns import accompanied_by
from audit.standards.seen import Seen
from audit.tracing.types import Acceleration, Contraction, Deceleration, LevelChange
from tests.reading_builder import (
    contraction,
    deceleration,
    late_at,
    minutes_of,
    reading,
    reasons_at_end,
    table,
    variable_at,
)

PEAK_S = 2330.0
LATE = deceleration(2310.0, drop=30.0, length_s=90.0, nadir_after_s=50.0, return_s=40.0, lag_s=30.0, onset_lag_s=30.0)


def kinds(
    event: Deceleration, *, contraction_end_s: float = 2380.0, seen: float = 12.0, rises: float = 0.0
) -> list[str]:
    """The kind of one fall under FIGO 2015 and under NG229."""
    uterus = [Contraction(2280.0, PEAK_S, contraction_end_s, 40.0, 10.0)]
    falls = falls_of(reading(60, decelerations=[event], contractions=uterus))
    around = (np.array([seen]), np.array([rises]))
    return [
        FIGO_KINDS[figo_kinds(falls, *around, table("figo-2015"))[0]],
        NICE_KINDS[nice_kinds(falls, *around, table("nice-ng229"))[0]],
    ]


@pytest.mark.parametrize(
    ("changes", "contraction_end_s", "late"),
    [
        ({}, 2399.0, [True, True]),
        ({}, 2400.0, [False, False]),  # over with its contraction, not after it
        ({"lag_s": 20.0, "nadir_s": 2350.0}, 2380.0, [True, False]),  # NG229: more than 20 s after the peak
        ({"lag_s": 21.0, "nadir_s": 2351.0}, 2380.0, [True, True]),
        ({"onset_lag_s": 20.0}, 2380.0, [False, True]),  # FIGO 2015: starting more than 20 s after the onset
        ({"onset_lag_s": 21.0}, 2380.0, [True, True]),
        ({"lag_s": None}, 2380.0, [False, False]),
        ({"toco_usable": False}, 2380.0, [True, False]),  # FIGO 2015 goes by the shape (our choice)
        ({"kind": "variable"}, 2380.0, [True, False]),  # FIGO 2015: and/or a gradual return
    ],
)
def test_a_late_one_is_late_by_its_contraction(
    changes: dict[str, Any], contraction_end_s: float, late: list[bool]
) -> None:
    """FIGO 2015: late ones end after the contraction; NG229: nadir and end after those of the contraction."""
    found = kinds(replace(LATE, **changes), contraction_end_s=contraction_end_s)
    assert [kind == "late" for kind in found] == late


@pytest.mark.parametrize(
    ("drop", "seen", "rises", "late"),
    [
        (15.1, 12.0, 1.0, True),
        (15.0, 12.0, 0.0, False),
        (15.0, 4.0, 0.0, True),
        (15.0, 4.0, 1.0, False),
        (15.0, 5.0, 0.0, False),
        (10.0, 4.0, 0.0, True),
        (9.9, 4.0, 0.0, False),
    ],
)
def test_shallow_late_ones_count_without_variability_and_accelerations(drop, seen, rises, late) -> None:
    """FIGO 2015: with no accelerations and reduced variability late ones include those of 10 to 15 bpm."""
    assert [kind == "late" for kind in kinds(replace(LATE, depth_bpm=drop), seen=seen, rises=rises)] == [late, late]


@pytest.mark.parametrize("length_s", [14.0, 16.0])
@pytest.mark.parametrize("drop", [12.0, 20.0])
def test_what_lasts_less_than_fifteen_seconds_is_no_deceleration_however_shallow(length_s: float, drop: float) -> None:
    """FIGO 2015: more than 15 bpm for more than 15 s; the shallow ones last as long."""
    times = {"nadir_s": LATE.onset_s + 8.0, "onset_to_nadir_s": 8.0, "nadir_to_end_s": 6.0}
    event = replace(LATE, depth_bpm=drop, end_s=LATE.onset_s + length_s, **times)
    assert kinds(event, contraction_end_s=LATE.onset_s + 5.0, seen=4.0) == ["late" if length_s == 16.0 else "none"] * 2


@pytest.mark.parametrize("made_pass", [FigoPass, NicePass])
@pytest.mark.parametrize(("before_s", "late"), [(1800.0, True), (1799.0, False)])
def test_an_acceleration_of_the_half_hour_before_a_fall_is_one(made_pass: Any, before_s: float, late: bool) -> None:
    # FIGO 2015: no accelerations; that half an hour is looked at is our choice
    end_s = LATE.onset_s - before_s
    made = reading(
        60,
        variability=4.0,
        decelerations=[replace(LATE, depth_bpm=12.0, lowest_bpm=128.0)],
        contractions=[Contraction(2280.0, PEAK_S, 2380.0, 40.0, 10.0)],
        accelerations=[Acceleration(end_s - 30.0, end_s - 15.0, end_s, 20.0)],
    )
    name, names = ("figo-2015", FIGO_KINDS) if made_pass is FigoPass else ("nice-ng229", NICE_KINDS)
    found = made_pass(Seen(made), np.array([3600.0]), 0.0, table(name)).kind
    assert (names[found[0]] == "late") is late


def test_before_its_onset_nothing_of_a_fall_has_been_seen() -> None:
    falls = falls_of(reading(60, decelerations=[deceleration(600.0, drop=30.0, length_s=60.0, nadir_after_s=20.0)]))
    at_s = np.array([0.0, 600.0, 600.5, 660.0, 700.0])
    assert falls.so_far_s(at_s)[:, 0].tolist() == [0.0, 0.0, 0.5, 60.0, 60.0]
    starts, ends = np.array([540.0, 540.0, 659.0, 660.0]), np.array([600.0, 601.0, 700.0, 700.0])
    assert falls.overlapping(starts, ends)[:, 0].tolist() == [False, True, True, False]  # [start, end)


@pytest.mark.parametrize(
    ("before_bpm", "drop", "calm"),
    [(161.0, 51.0, True), (161.0, 52.0, False), (160.0, 40.0, False), (160.0, 60.0, False)],
)
def test_a_fall_from_a_tachycardia_to_a_normal_rate_is_no_emergency(before_bpm, drop, calm) -> None:
    """NICHD 2008: tachycardia over 160 bpm, bradycardia under 110."""
    event = deceleration(600.0, drop=drop, length_s=60.0, nadir_after_s=20.0, baseline_bpm=before_bpm)
    falls = falls_of(reading(60, decelerations=[event]))
    assert falls.from_tachycardia(Limit(">", 160.0), Limit("<", 110.0)).tolist() == [calm]


@pytest.mark.parametrize(("to_bpm", "until_s"), [(109.0, 3600.0), (110.0, 2400.0)])
def test_a_fall_to_under_110_bpm_lasts_as_long_as_that_level(to_bpm: float, until_s: float) -> None:
    """NICHD 2008, FIGO 2015: a bradycardia is under 110 bpm; ten minutes at another level are a new baseline."""
    change = LevelChange(1800.0, 3600.0, 140.0, to_bpm)
    falls = falls_of(reading(60, baseline=[140.0] * 30 + [to_bpm] * 30, level_changes=[change])).lasting()
    assert (falls.end_s.tolist(), falls.from_level.tolist()) == ([until_s], [to_bpm == 110.0])


def test_what_is_still_at_its_lowest_at_the_end_has_not_come_back() -> None:
    made = reading(60, decelerations=[deceleration(600.0, drop=30.0, length_s=60.5, nadir_after_s=20.0)])
    rate = made.fhr_1hz.copy()
    rate[620:661] = 110.0
    assert falls_of(replace(made, fhr_1hz=rate)).return_s.tolist() == [0.0]
    rate[650:655], rate[655:661] = 115.0, 115.1  # within 5 bpm of the lowest it is still there (our choice)
    assert falls_of(replace(made, fhr_1hz=rate)).return_s.tolist() == [5.5]


def test_where_no_fall_is_chosen_no_contraction_has_one() -> None:
    seen = Seen(reading(60, decelerations=[variable_at(1800.0)], contractions=[contraction(1800.0)]))
    none = accompanied_by(seen.contractions, seen.falls, seen.pairs, np.array([False]), np.array([1800.0]))
    assert [each.size for each in (none.index, none.known_s, none.onset_s, none.fall_end_s, none.another)] == [0] * 5


def test_late_ones_of_the_amended_text_began_with_the_first_that_is_shown() -> None:
    """NG229 as amended: any late deceleration is red."""
    peaks = [1000.0, 2400.0, 3000.0]
    made = reading(60, decelerations=[late_at(p) for p in peaks], contractions=[contraction(p) for p in peaks])
    series = minutes_of("nice-ng229", made, edition="amended").triggers["pathological"]
    assert [series.pattern_start_s[k] for k in (20, 45, 59)] == [995.0, 995.0, 2395.0]
    assert "red: late decelerations, 2 in the last 30 min; limit any" in reasons_at_end(
        "nice-ng229", made, edition="amended"
    )


@pytest.mark.parametrize(
    ("choice", "after"),
    [("suspicious", "limit 3 min"), ("normal", "limit 3 min (by itself the text leaves the class as it is)")],
)
def test_one_prolonged_fall_says_what_it_does_to_the_class(choice: str, after: str) -> None:
    """FIGO 2015: prolonged over 3 minutes, pathological over 5."""
    event = deceleration(2400.0, drop=30.0, length_s=250.0, nadir_after_s=20.0)
    too_shallow = variable_at(3300.0, drop=12.0)
    found = minutes_of("figo-2015", reading(60, decelerations=[event, too_shallow]), single_prolonged=choice)
    assert f"one prolonged deceleration of 4.1 min; {after}" in found.reasons[-1]
    assert found.categories[-1] == choice
    until_s = found.triggers["suspicious_persistent"].finding_until_s
    assert until_s is not None
    assert choice == "normal" or until_s[-1] == 2650.0


@pytest.mark.parametrize(("unknown_min", "met"), [(4, True), (0, False)])
def test_unknown_minutes_do_not_end_an_hour_of_observation(unknown_min: int, met: bool) -> None:
    """Clark 2013, from memory: an hour of minimal variability without change; what cannot be said does not end it."""
    nan, still = float("nan"), [4.0] * 30
    rest = [nan] * 20 if unknown_min else [12.0] * 20
    made = reading(120, variability=[12.0] * 20 + still + rest + [4.0] * 50)
    series = minutes_of("nichd-2008", made).triggers["category_ii_persistent"]
    assert bool(series.met[84:88].any()) is met


def test_only_uncertain_falls_are_taken_as_another_kind() -> None:
    # NICHD 2008: under 30 s abrupt, 30 s or more gradual
    events = [
        replace(late_at(600.0), other_kind="variable"), late_at(1200.0),
        variable_at(1800.0), replace(variable_at(2400.0), other_kind="late"),
    ]  # fmt: skip
    found = falls_of(reading(60, decelerations=events))
    assert found.kind == ("late", "late", "variable", "variable")
    assert found.taken_as("abrupt").kind == ("variable", "late", "variable", "variable")
    assert found.taken_as("gradual").kind == ("late", "late", "variable", "late")
    assert found.taken_as("gradual").gradual.tolist() == [True, True, False, True]
