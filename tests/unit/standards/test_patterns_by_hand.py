"""Decelerations that come back, and shoulders that are lost: falls set by hand, both sides of each edge.

What recurs is that of NICHD 2008; how long a pattern goes on, and what a shoulder is, are our own choices.
"""

from dataclasses import replace

import numpy as np
import pytest

from audit.setting_types import Limit
from audit.standards.falls import falls_of
from audit.standards.figo_2015 import tachysystole
from audit.standards.patterns import Recurrence, accompanied_by, recurrence
from audit.standards.seen import Seen
from audit.standards.shoulders import shouldering_lost
from tests.reading_builder import contraction, deceleration, edited, minutes_of, reading, table, variable_at

NAN = np.nan
HALF = Limit(">=", 0.5)  # NICHD 2008: recurrent is with half or more of the contractions


def recurring(peaks: list[float], fallen: list[float], at_s: list[float], **more: float) -> Recurrence:
    """Contractions over 30 s after their peaks, some with a fall that is over 20 s after it, in 20-minute windows."""
    made = reading(240, contractions=[contraction(p) for p in peaks], decelerations=[variable_at(p) for p in fallen])
    seen = Seen(made)
    basics = seen.basics(np.array(at_s), more.get("floor_s", 0.0), table("nichd-2008"))
    known_s = seen.falls.end_s + more.get("later_s", 0.0)
    every = np.ones(len(fallen), dtype=bool)
    return recurrence(
        accompanied_by(seen.contractions, seen.falls, seen.pairs, every, known_s),
        basics, limit=HALF, window_min=20.0, minimum=Limit(">=", 4.0), toco_usable=Limit(">=", 0.5),
    )  # fmt: skip


EVERY_2_MIN = [600.0 + 120.0 * k for k in range(10)]  # the last fall is over at 1700 s, its contraction at 1710 s


def test_a_pattern_goes_on_until_the_next_fall_is_overdue_by_the_spacing_of_the_contractions() -> None:
    # our choice
    found = recurring(EVERY_2_MIN, EVERY_2_MIN, [1700.0, 1710.0, 1820.0, 1821.0])
    assert found.met.all()
    assert found.start_s.tolist() == [580.0] * 4
    assert found.until_s.tolist() == [1700.0, 1710.0, 1820.0, 1700.0]
    assert found.minutes[2] == (1820.0 - 580.0) / 60.0


def test_contractions_count_once_they_are_over_and_falls_once_they_are_known() -> None:
    peaks = [600.0 + 120.0 * k for k in range(20)]
    found = recurring(peaks, peaks[:2], [1349.0, 1350.0, 2900.0])
    # six are over, then a seventh; at last ten are within the twenty minutes, all without a fall
    assert found.contractions.tolist() == [6.0, 7.0, 10.0]
    assert found.accompanied.tolist() == [2.0, 2.0, 0.0]
    assert found.fraction[2] == 0.0
    unknown_yet = recurring(peaks, peaks[:2], [2900.0], later_s=3000.0)
    assert unknown_yet.accompanied.tolist() == [0.0]
    known_late = recurring(EVERY_2_MIN, EVERY_2_MIN, [1709.0, 1710.0])
    assert known_late.accompanied.tolist() == [9.0, 10.0]  # the last contraction is over at 1710 s
    known_late = recurring(EVERY_2_MIN, EVERY_2_MIN, [1759.0, 1760.0], later_s=60.0)
    assert known_late.accompanied.tolist() == [9.0, 10.0]
    of_a_window = recurring(peaks, peaks, [1830.0], floor_s=1200.0)
    assert of_a_window.contractions.tolist() == [6.0]
    assert of_a_window.accompanied.tolist() == [6.0]


def test_four_contractions_are_enough_for_a_share_and_half_of_them_recur() -> None:
    # NICHD 2008: with half or more; of four contractions at least is our choice
    peaks = [660.0 + 300.0 * k for k in range(4)]
    found = recurring(peaks, peaks[1:3], [1589.0, 1590.0])
    np.testing.assert_array_equal(found.fraction, [NAN, 0.5])
    assert found.met.tolist() == [False, True]


def test_one_fall_over_many_contractions_is_no_pattern() -> None:
    made = reading(
        60,
        contractions=[contraction(p) for p in EVERY_2_MIN],
        decelerations=[deceleration(500.0, drop=30.0, length_s=1300.0, nadir_after_s=20.0)],
    )
    seen = Seen(made)
    found = recurrence(
        accompanied_by(seen.contractions, seen.falls, seen.pairs, np.array([True]), np.array([520.0])),
        seen.basics(np.array([1800.0]), 0.0, table("nichd-2008")),
        limit=HALF, window_min=20.0, minimum=Limit(">=", 4.0), toco_usable=Limit(">=", 0.5),
    )  # fmt: skip
    assert (found.accompanied.tolist(), found.met.tolist()) == ([10.0], [False])


def test_a_pattern_is_looked_for_three_hours_back() -> None:
    # our choice; the fall whose onset is three hours old is not counted any more
    peaks = [600.0 + 240.0 * k for k in range(55)]
    assert recurring(peaks, peaks, [12580.0, 12579.0]).start_s.tolist() == [2020.0, 1780.0]


@pytest.mark.parametrize(
    ("heights_bpm", "variability_bpm", "since_s", "lost"),
    [
        ([6.0, 6.0, 6.0, 0.0], 12.0, 300.0, [0, 0, 0, 1]),  # half of the variability is a shoulder
        ([6.0, 6.0, 6.0, 0.0], 12.1, 300.0, [0, 0, 0, 0]),  # under half of it is not
        ([5.0, 5.0, 5.0, 0.0], NAN, 300.0, [0, 0, 0, 1]),
        ([4.9, 4.9, 4.9, 0.0], NAN, 300.0, [0, 0, 0, 0]),
        ([6.0, 6.0, 0.0, 0.0], 1.0, 300.0, [0, 0, 1, 1]),
        ([6.0, 0.0, 6.0, 0.0], 1.0, 300.0, [0, 0, 0, 1]),  # two of three in a row
        ([6.0, 0.0, 0.0, 6.0, 0.0], 1.0, 300.0, [0, 0, 0, 0, 0]),  # nowhere two of three
        ([6.0, 6.0, 0.0], 1.0, 3600.0, [0, 0, 1]),  # within the hour
        ([6.0, 6.0, 0.0], 1.0, 3601.0, [0, 0, 0]),
        ([0.0], 1.0, 300.0, [0]),
    ],
)
def test_shoulders_are_lost_where_two_of_three_before_had_them(heights_bpm, variability_bpm, since_s, lost) -> None:
    """NG229 names the loss of earlier shouldering (from memory); from 5 bpm on, and how many of which, are ours."""
    onset_s = [900.0 + 300.0 * k for k in range(len(heights_bpm) - 1)]
    onset_s.append((onset_s or [600.0])[-1] + since_s)
    events = [deceleration(at, drop=30.0, length_s=40.0, nadir_after_s=20.0) for at in onset_s]
    made = reading(120, decelerations=events)
    rate = made.fhr_1hz.copy()
    for at, height in zip(onset_s, heights_bpm, strict=True):
        for side in (int(at) - 20, int(at) + 50):
            rate[side : side + 10] += height
    made = edited(made, {"fhr_1hz": rate})
    every = np.ones(len(onset_s), dtype=bool)
    found = shouldering_lost(made, falls_of(made), every, np.full(len(onset_s), variability_bpm), Limit(">=", 5.0))
    assert found.tolist() == [bool(one) for one in lost]
    assert not shouldering_lost(made, falls_of(made), ~every, np.full(len(onset_s), 1.0), Limit(">=", 5.0)).any()


def test_a_fall_whose_sides_were_not_seen_has_lost_nothing() -> None:
    events = [deceleration(900.0 + 300.0 * k, drop=30.0, length_s=40.0, nadir_after_s=20.0) for k in range(3)]
    made = reading(60, decelerations=events, unseen=[(1540.0, 1575.0)])
    rate = made.fhr_1hz.copy()
    for at in (880, 950, 1180, 1250):
        rate[at : at + 10] += 8.0
    made = edited(made, {"fhr_1hz": rate})
    every = np.ones(3, dtype=bool)
    assert not shouldering_lost(made, falls_of(made), every, np.full(3, 1.0), Limit(">=", 5.0)).any()


@pytest.mark.parametrize(
    ("latest_first", "averaged", "met"),
    [
        ([6, 6, 0], 4.0, True),
        ([0, 6, 6], 4.0, True),
        ([6, 0, 6], 4.0, False),
        ([5, 5, 5], 5.0, False),
        ([5, 6, 5], 5.3, True),
    ],
)
def test_tachysystole_is_of_two_successive_periods_or_of_half_an_hour(latest_first, averaged, met) -> None:
    # FIGO 2015, from memory: more than 5 in 10 minutes, in two successive periods or averaged over 30 minutes
    basics = replace(
        Seen(reading(30)).basics(np.array([1800.0]), 0.0, table("figo-2015")),
        contractions_in_10_min=np.array([latest_first], dtype=float),
        contractions_per_10_min=np.array([averaged]),
    )
    assert tachysystole(basics, Limit(">", 5.0)).tolist() == [met]


def test_ten_minutes_of_reduced_variability_are_suspicious_though_the_last_one_is_not() -> None:
    # FIGO 2015: under 5 bpm; of the last ten minutes here seven
    said = minutes_of("figo-2015", reading(60, variability=[12.0] * 30 + [3.0] * 8 + [12.0] * 22)).reasons
    assert "variability 3 bpm; limit 5 bpm" in said[40]
    assert not any("limit 5 bpm" in reason for reason in said[45])


@pytest.mark.parametrize(
    ("bpm", "said"),
    [
        (99.0, "red: baseline 99 bpm; limit 100 bpm"),
        (100.0, "amber: baseline 100 bpm; limit 110 bpm"),
        (161.0, "amber: baseline 161 bpm; limit 160 bpm"),
        (180.0, "amber: baseline 180 bpm; limit 160 bpm"),
        (181.0, "red: baseline 181 bpm; limit 180 bpm"),
    ],
)
def test_the_colours_of_a_baseline_in_the_former_text(bpm: float, said: str) -> None:
    """CG190 (2017): white 110 to 160 bpm, amber 100 to 109 or 161 to 180, red under 100 or over 180."""
    colours = minutes_of("nice-ng229", reading(60, baseline=bpm), edition="cg190-2017").reasons[-1]
    assert [reason for reason in colours if "baseline" in reason] == [said]


@pytest.mark.parametrize(("name", "category"), [("nichd-2008", "II"), ("figo-2015", "suspicious")])
def test_an_unknown_variability_is_no_normal_one(name: str, category: str) -> None:
    # NICHD 2008: moderate variability is required for category I; FIGO 2015: 5 to 25 bpm for normal
    found = minutes_of(name, reading(60, variability=[12.0] * 30 + [np.nan] * 30))
    assert found.categories[-1] == category
    assert "variability cannot be determined" in found.reasons[-1]
