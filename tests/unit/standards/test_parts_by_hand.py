"""The small parts that all standards are made of, each by itself: arrays written by hand, and both sides of each edge.

Lengths and shares are those of NICHD 2008, FIGO 2015 and NICE NG229 where they print one; how a thing is counted
between them is our own choice, and said to be that.
"""

import numpy as np
import pytest

from audit.setting_types import Limit
from audit.standards.basics import basics_at, marks_of
from audit.standards.evaluation import Findings, persisting
from audit.standards.falls import falls_of
from audit.standards.figo_2015 import _Pass as Figo
from audit.standards.nice_ng229_pass import Pass as Nice
from audit.standards.nichd_2008 import _Pass as Nichd
from audit.standards.patterns import Recurrence, accompanied_by, recurrence
from audit.standards.seen import Seen, ongoing_falls
from audit.standards.shoulders import shouldering_lost
from audit.tracing.types import Deceleration, Sinusoidal
from tests.reading_builder import (
    contraction,
    deceleration,
    edited,
    late_at,
    minutes_of,
    reading,
    reasons_at_end,
    table,
    variable_at,
    window_of,
)

NAN = np.nan
PASSES = {"nichd-2008": Nichd, "figo-2015": Figo, "nice-ng229": Nice}
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


def _words(*_: float) -> str:
    return ""


def test_what_met_a_level_began_with_the_earliest_known_start_among_it() -> None:
    found = Findings(4)
    found.add(2, np.array([True, False, True, False]), _words, start_s=np.array([100.0, 50.0, NAN, 20.0]))
    found.add(1, np.array([True, True, True, False]), _words, start_s=np.array([40.0, 60.0, 70.0, 10.0]))
    found.add(1, np.array([True, True, False, False]), _words)
    np.testing.assert_array_equal(found.start_s(1), [40.0, 60.0, 70.0, NAN])
    np.testing.assert_array_equal(found.start_s(2), [100.0, NAN, NAN, NAN])


def test_the_latest_finding_behind_a_level_is_the_one_that_reached_latest() -> None:
    at_s = np.array([600.0, 660.0, 720.0])
    found = Findings(3)
    last = (np.array([500.0, NAN, 500.0]), np.array([550.0, NAN, 700.0]))
    found.add(2, np.array([True, False, True]), _words, evidence=last)
    found.add(1, np.array([True, True, True]), _words, evidence=(np.full(3, 400.0), np.array([590.0, 600.0, 650.0])))
    assert [each.tolist() for each in found.evidence(1, at_s)] == [[400.0, 400.0, 500.0], [590.0, 600.0, 700.0]]
    assert [each.tolist() for each in found.evidence(2, at_s)] == [[500.0, 660.0, 500.0], [550.0, 660.0, 700.0]]
    found.add(1, np.array([False, True, False]), _words)  # a state is there at the mark itself
    assert [each.tolist() for each in found.evidence(1, at_s)] == [[400.0, 660.0, 500.0], [590.0, 660.0, 700.0]]


def test_two_criteria_of_one_feature_count_once() -> None:
    # NG229: pathological is one red or two amber features
    yes, no = np.array([True]), np.array([False])
    found = Findings(1)
    for level, met, feature in ((1, yes, "baseline"), (1, yes, "baseline"), (1, no, "variability"), (2, yes, "other")):
        found.add(level, np.append(met, True), _words, feature=feature)
    assert Findings(2).features_at(1).tolist() == [0, 0]
    found.count = 2
    assert found.features_at(1).tolist() == [1, 2]
    assert found.features_at(2).tolist() == [1, 1]


@pytest.mark.parametrize(
    ("held", "minutes", "inclusive", "since"),
    [
        ("-1?11", 4.0, True, [NAN, NAN, NAN, NAN, 60.0]),  # bridged, and counted
        ("-1?11", 4.0, False, [NAN] * 5),
        ("-1?11", 3.0, False, [NAN, NAN, NAN, NAN, 60.0]),
        ("??111", 3.0, True, [NAN, NAN, NAN, NAN, 120.0]),  # from the first that truly held
        ("11-11", 2.0, True, [NAN, 0.0, NAN, NAN, 180.0]),
        ("111??", 2.0, True, [NAN, 0.0, 0.0, NAN, NAN]),
    ],
)
def test_a_state_persists_over_minutes_of_which_nothing_can_be_said(held, minutes, inclusive, since) -> None:
    # our choice: what cannot be said neither ends a state nor begins it
    state = np.array([{"-": 0, "1": 1, "?": -1}[each] for each in held])
    at_s = 60.0 * np.arange(1, state.size + 1)
    met, found = persisting(state == 1, state == -1, at_s, minutes, inclusive)
    np.testing.assert_array_equal(found, since)
    assert met.tolist() == np.isfinite(since).tolist()


def test_a_baseline_finding_was_last_seen_at_the_last_second_that_met_it() -> None:
    # FIGO 2015: under 100 bpm is pathological; ten minutes of baseline look back on it
    seen = Seen(reading(40, baseline=[90.0] * 20 + [140.0] * 20))
    at_s = np.array([600.0, 1200.0, 1260.0, 1799.0, 1800.0])
    basics = seen.basics(at_s, 0.0, table("figo-2015"))
    for found in seen.level_evidence(basics, Limit("<", 100.0)):
        assert found.tolist() == [600.0, 1200.0, 1200.0, 1200.0, 1800.0]
    for found in seen.level_evidence(basics, Limit("<", 80.0)):
        assert found.tolist() == at_s.tolist()


def test_a_sinusoidal_run_is_current_until_ten_minutes_after_it() -> None:
    # the length of the window of a baseline (NICHD 2008); our choice
    runs = [Sinusoidal(600.0, 1500.0, 4.0, 10.0), Sinusoidal(1800.0, 1920.0, 4.0, 10.0)]
    seen = Seen(reading(60, sinusoidal=runs))
    at_s = np.array([600.0, 660.0, 1500.0, 1920.0, 2099.0, 2100.0, 2520.0])
    basics = seen.basics(at_s, 0.0, table("nichd-2008"))
    minutes, start_s = seen.sinusoidal_at(basics, lambda _: True)
    assert minutes.tolist() == [0.0, 1.0, 15.0, 15.0, 15.0, 2.0, 0.0]
    np.testing.assert_array_equal(start_s, [NAN, 600.0, 600.0, 600.0, 600.0, 1800.0, NAN])
    begun, until = seen.sinusoidal_evidence(basics, lambda _: True)
    np.testing.assert_array_equal(begun, [NAN, 600.0, 600.0, 1800.0, 1800.0, 1800.0, 1800.0])
    np.testing.assert_array_equal(until, [NAN, 660.0, 1500.0, 1920.0, 1920.0, 1920.0, 1920.0])
    assert not np.isfinite(seen.sinusoidal_evidence(basics, lambda _: False)[0]).any()


def test_a_long_fall_is_ongoing_from_its_length_until_a_minute_after_its_end() -> None:
    # NG229 and FIGO 2015: three minutes
    events = [
        deceleration(onset_s, drop=40.0, length_s=length_s, nadir_after_s=20.0)
        for onset_s, length_s in ((100.0, 300.0), (250.0, 450.0), (2000.0, 179.0))
    ]
    at_s = np.array([279.0, 280.0, 440.0, 459.0, 460.0, 759.0, 760.0, 2180.0])
    every = np.ones(3, dtype=bool)
    met, start_s, exact_s = ongoing_falls(falls_of(reading(60, decelerations=events)), at_s, Limit(">=", 180.0), every)
    np.testing.assert_array_equal(start_s, [NAN, 100.0, 100.0, 100.0, 250.0, 250.0, NAN, NAN])
    assert met.tolist() == np.isfinite(start_s).tolist()
    assert exact_s == (280.0, 430.0)


@pytest.mark.parametrize(("end_s", "second"), [(3000.0, True), (2999.0, False)])
def test_a_window_is_of_the_second_stage_from_its_half_on(end_s: float, second: bool) -> None:
    # our choice
    made, window = reading(60), (np.array([600.0]), np.array([end_s]))
    assert Seen(made, second_stage_s=1800.0).in_second_stage(*window).tolist() == [second]
    assert Seen(made).in_second_stage(*window).tolist() == [False]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("nichd-2008", "prolonged deceleration of 400 s"),  # two minutes or more
        ("figo-2015", "one deceleration of 6.6 min"),  # over 5 minutes
        ("nice-ng229", "one prolonged deceleration of 6.6 min"),  # three or more
    ],
)
def test_a_prolonged_fall_is_told_while_any_of_it_lies_in_the_window(name: str, words: str) -> None:
    # half an hour is our choice
    made = reading(60, decelerations=[deceleration(600.0, drop=40.0, length_s=400.0, nadir_after_s=20.0)])
    told = [words in " | ".join(said) for said in minutes_of(name, made).reasons]
    assert told[16:47] == [True] * 30 + [False]  # minute 46 looks back to 960 s, minute 47 to 1020 s
    assert words in " | ".join(window_of(name, made, 999.0, 2799.0, window_rule="final").reasons)
    for start_s in (1000.0, 1200.0):
        assert "prolonged" not in " | ".join(window_of(name, made, start_s, 2800.0).reasons)
        assert "one deceleration" not in " | ".join(window_of(name, made, start_s, 2800.0).reasons)


def test_the_first_minute_of_a_window_is_the_one_that_ends_a_minute_after_it_began() -> None:
    # FIGO 2015: under 100 bpm is pathological, however short the window; a minute on, the ten hold nine of 98 and 140
    made = reading(60, baseline=[98.0] * 30 + [140.0] * 30)
    assert window_of("figo-2015", made, 1800.0, 3600.0).worst == "normal"
    assert window_of("figo-2015", made, 1740.0, 3600.0).worst == "pathological"


def test_tenths_of_a_beat_stay_in_the_mean_of_a_baseline() -> None:
    assert basics_at(reading(30, baseline=140.5), np.array([1800.0])).baseline_bpm.tolist() == [140.5]


def test_the_last_known_variability_stands_in_for_ten_minutes() -> None:
    # our choice, as for a baseline (NICHD 2008); two known minutes of ten are the fewest, the last ten to hold them
    # are those before minute 28
    made = reading(60, variability=[12.0] * 20 + [NAN] * 40)
    known = np.isfinite(basics_at(made, 60.0 * np.arange(27.0, 41.0)).variability_bpm)
    assert known.tolist() == [True] * 12 + [False] * 2


def test_a_fall_has_the_contractions_whose_peaks_lie_in_it() -> None:
    # our choice: from its onset on, until it is over
    fall = deceleration(1000.0, drop=30.0, length_s=60.0, nadir_after_s=20.0)
    found = Seen(
        reading(60, decelerations=[fall], contractions=[contraction(p) for p in (999.0, 1000.0, 1059.0, 1060.0)])
    )
    assert found.pairs[:, 0].tolist() == [False, True, True, False]


def test_no_contraction_rate_half_a_second_before_its_thirty_minutes() -> None:
    # NICHD 2008: averaged over 30 minutes
    made = reading(40, contractions=[contraction(60.0 + 120.0 * k) for k in range(19)])
    found = basics_at(made, np.array([1799.5, 1800.0]))
    assert np.isfinite(found.contractions_per_10_min).tolist() == [False, True]
    assert found.contractions_in_10_min[1].tolist() == [5.0, 5.0, 5.0]


def test_a_normal_minute_says_nothing_of_what_little_was_hidden() -> None:
    words = reasons_at_end("figo-2015", reading(60, unseen=[(2400.0, 2520.0)]))
    assert words == "baseline 140 bpm, variability 12 bpm, no repetitive decelerations"


@pytest.mark.parametrize(
    ("variability", "first_minute", "limit_min"), [(12.0, 30, None), (12.0, 29, 30), (4.0, 40, None), (4.0, 39, 20)]
)
def test_late_ones_that_come_back_for_too_long_are_pathological(variability, first_minute, limit_min) -> None:
    """FIGO 2015: repetitive late ones for more than 30 minutes, or more than 20 where variability is reduced."""
    # from the onset of the first to the hour
    peaks = [60.0 * first_minute + 5.0 + 120.0 * k for k in range(16) if first_minute + 2 * k < 59]
    made = reading(
        60,
        variability=variability,
        decelerations=[late_at(peak) for peak in peaks],
        contractions=[contraction(peak) for peak in peaks],
    )
    said = reasons_at_end("figo-2015", made)
    assert "repetitive" in said
    assert ("repetitive late or prolonged decelerations" in said) is (limit_min is not None)
    assert limit_min is None or f"for {60 - first_minute} min; limit {limit_min} min" in said


@pytest.mark.parametrize("name", PASSES)
@pytest.mark.parametrize(("lag_s", "after_s"), [(0.0, 40.0), (-25.0, 65.0)])
def test_no_standard_tells_a_kind_before_the_peak_of_the_contraction(name: str, lag_s: float, after_s: float) -> None:
    # our choice: what is compared with the contraction's peak cannot be told before it
    event = deceleration(1800.0, drop=30.0, length_s=90.0, nadir_after_s=40.0, lag_s=lag_s, onset_lag_s=10.0)
    made = reading(60, decelerations=[event])
    assert PASSES[name](Seen(made), marks_of(made), 0.0, table(name)).known_s.tolist() == [1800.0 + after_s]


def test_what_cannot_be_said_is_as_old_as_its_falls() -> None:
    # NG229: late or early is told by the contraction; without one neither, which is never normal (our choice)
    made = reading(60, toco=False, decelerations=[blind_at(3000.0)])
    series = minutes_of("nice-ng229", made).triggers["suspicious_persistent"]
    assert series.finding_from_s is not None
    assert series.finding_until_s is not None
    assert (series.finding_from_s[-1], series.finding_until_s[-1]) == (3000.0, 3090.0)
    # a baseline of 100 to 109 bpm is amber, and still there
    slow = reading(60, toco=False, baseline=105.0, decelerations=[blind_at(3000.0)])
    series = minutes_of("nice-ng229", slow).triggers["suspicious_persistent"]
    assert series.finding_until_s is not None
    assert series.finding_until_s[-1] == 3600.0


def blind_at(onset_s: float) -> Deceleration:
    return deceleration(onset_s, drop=30.0, length_s=90.0, nadir_after_s=40.0, return_s=40.0, toco=False)


def test_a_prolonged_fall_is_gradual_by_its_time_and_any_other_by_its_kind() -> None:
    # NICHD 2008: 30 s or more from onset to nadir; a variable one is abrupt by definition
    events = [
        deceleration(600.0 * k, drop=30.0, length_s=150.0, nadir_after_s=fall_s, kind=kind)
        for k, (fall_s, kind) in enumerate(
            [(29.0, "prolonged"), (30.0, "prolonged"), (40.0, "variable"), (20.0, "late"), (20.0, "early")], start=1
        )
    ]
    assert falls_of(reading(60, decelerations=events)).gradual.tolist() == [False, True, False, True, True]


def test_of_two_falls_of_one_length_the_earlier_began_the_pattern() -> None:
    # FIGO 2015: one of more than 5 minutes is pathological
    events = [deceleration(at, drop=40.0, length_s=400.0, nadir_after_s=20.0) for at in (600.0, 2000.0)]
    series = minutes_of("figo-2015", reading(60, decelerations=events)).triggers["pathological"]
    assert series.pattern_start_s[[14, 40, 45, 46, 47]].tolist()[1:] == [600.0, 600.0, 2000.0, 2000.0]
    assert np.isnan(series.pattern_start_s[14])  # after 300 s
