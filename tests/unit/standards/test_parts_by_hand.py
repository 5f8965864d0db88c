"""The small parts that all standards are made of, each by itself: arrays written by hand, and both sides of each edge.

Lengths and shares are those of NICHD 2008, FIGO 2015 and NICE NG229 where they print one; how a thing is counted
between them is our own choice, and said to be that.
"""

from dataclasses import replace

import numpy as np
import pytest

from audit.setting_types import Limit
from audit.standards.basics import basics_at, marks_of, settled
from audit.standards.evaluation import Findings, persisting
from audit.standards.falls import falls_of
from audit.standards.figo_2015 import _Pass as Figo
from audit.standards.nice_ng229_pass import Pass as Nice
from audit.standards.nichd_2008 import _first_minus
from audit.standards.nichd_2008 import _Pass as Nichd
from audit.standards.registry import FORMER_STANDARDS
from audit.standards.seen import Seen, ongoing_falls
from audit.tracing.types import Deceleration, Sinusoidal
from tests.reading_builder import (
    SETTINGS,
    contraction,
    deceleration,
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
    found.add(2, np.array([True, False, True]), _words, evidence=lambda: last)
    found.add(1, np.ones(3, bool), _words, evidence=lambda: (np.full(3, 400.0), np.array([590.0, 600.0, 650.0])))
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


def test_a_contraction_rate_began_half_an_hour_before_the_minute_that_first_met_it() -> None:
    # NICHD 2008: contractions are averaged over 30 minutes
    at_s = 1500.0 + 600.0 * np.arange(6)
    met = np.array([True, True, False, False, True, True])
    expected = [0.0, 0.0, np.nan, np.nan, 2100.0, 2100.0]
    np.testing.assert_array_equal(_first_minus(met, at_s), expected)
    np.testing.assert_array_equal(_first_minus(~met, at_s)[2:4], [900.0, 900.0])


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


@pytest.mark.parametrize("name", ["figo-2015", "nice-ng229"])
def test_a_normal_stretch_ends_what_persists(name: str) -> None:
    """FIGO 2015 and NG229: a baseline of 100 to 109 bpm is suspicious (amber), of 110 to 160 bpm normal."""
    low, with_a_rest = [105.0] * 70, [105.0] * 25 + [140.0] * 20 + [105.0] * 25
    for baseline, still in ((low, True), (with_a_rest, False)):
        made = minutes_of(name, reading(70, baseline=baseline), suspicious_persistent=">= 40")
        assert made.categories[-1] == "suspicious"
        assert bool(made.triggers["suspicious_persistent"].met[-1]) is still


@pytest.mark.parametrize(("late", "said"), [(True, True), (False, False)])
def test_figo_tells_how_many_of_what_cannot_be_placed_would_be_late(late: bool, said: bool) -> None:
    # FIGO 2015: repetitive late ones are pathological after half an hour, variable ones suspicious at most
    made_at = blind_at if late else (lambda at: replace(variable_at(at), toco_usable=False))
    made = reading(60, toco=False, decelerations=[made_at(2000.0 + 240.0 * k) for k in range(5)])
    words = reasons_at_end("figo-2015", made)
    assert "cannot say whether decelerations are repetitive: 5 in" in words
    assert ("(5 of them late by shape, or prolonged" in words) is said
    assert ("of them late" in words) is said


@pytest.mark.parametrize(("variability", "asked"), [(0.4, True), (12.0, False)])
def test_what_absent_variability_leaves_open_is_said_with_it_alone(variability: float, asked: bool) -> None:
    # NICHD 2008: absent variability with recurrent late decelerations is category III
    events = [blind_at(2450.0 + 240.0 * k) for k in range(5)]
    events += [replace(variable_at(at), toco_usable=False) for at in (2600.0, 2900.0)]  # of another kind
    made = reading(60, variability=variability, toco=False, decelerations=events)
    words = reasons_at_end("nichd-2008", made)
    assert ("cannot say whether decelerations are recurrent: 5 in 20 min" in words) is asked


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (1.0, "1 min: not moderate variability"),
        (19.0, "19 min: not moderate variability"),
        (20.0, "20 min; limit 20 min"),
    ],
)
def test_a_short_sinusoidal_run_is_no_moderate_variability(minutes: float, said: str) -> None:
    # NICHD 2008: 20 minutes or more is category III; less is neither that nor normal (our choice)
    made = reading(60, sinusoidal=[Sinusoidal(1800.0, 1800.0 + 60.0 * minutes, 4.0, 10.0)])
    found, last = minutes_of("nichd-2008", made), 29 + int(minutes)
    assert f"sinusoidal pattern for {said}" in " | ".join(found.reasons[last])
    assert found.categories[last] == ("III" if minutes == 20.0 else "II")
    assert " | ".join(found.reasons[last]).count("sinusoidal") == 1


@pytest.mark.parametrize(("averaged_min", "said"), [(30, False), (10, True)])
def test_contractions_are_averaged_over_half_an_hour_or_counted_in_ten_minutes(averaged_min: int, said: bool) -> None:
    # NG229: more than 5 in 10 minutes is amber; over how long they are averaged is our choice
    peaks = [1900.0 + 200.0 * k for k in range(6)] + [3050.0 + 90.0 * k for k in range(6)]
    made = reading(60, contractions=[contraction(peak, length_s=50.0) for peak in peaks])
    words = reasons_at_end("nice-ng229", made, contractions_averaged_min=averaged_min)
    assert ("amber: contractions 6 per 10 min; limit 5" in words) is said
    assert ("amber:" in words) is said


def test_a_low_baseline_is_not_stable_within_an_hour_of_a_variable_fall() -> None:
    # NG229: 100 to 109 bpm is amber, usual care where it is stable with normal variability; the hour is our choice
    made = reading(121, baseline=105.0, decelerations=[variable_at(3620.0)])  # over at 3640 s
    said = [("stable from the start" in " | ".join(each)) for each in minutes_of("nice-ng229", made).reasons]
    assert said[60:] == [False] * 60 + [True]
    assert said[59]


def test_an_amber_feature_beside_an_unknown_baseline() -> None:
    """Variability under 5 bpm for 30 to 50 minutes is amber in both texts; an unknown baseline in NG229 alone."""
    made = reading(60, variability=[12.0] * 20 + [3.0] * 40, not_baseline=[(0.0, 3600.0)])
    assert minutes_of("nice-ng229", made).categories[-1] == "pathological"
    assert minutes_of("nice-ng229", made, edition="cg190-2017").categories[-1] == "suspicious"


def test_where_variability_is_unknown_a_low_baseline_is_not_called_usual() -> None:
    # NG229: usual care where a baseline of 100 to 109 bpm is stable with normal variability
    assert "stable" not in reasons_at_end(
        "nice-ng229", reading(60, baseline=105.0, variability=[12.0] * 30 + [NAN] * 30)
    )


@pytest.mark.parametrize(("choice", "repetitive"), [("variable", True), ("concerning", False)])
def test_repetitive_concerning_ones_are_counted_as_the_unit_has_chosen(choice: str, repetitive: bool) -> None:
    # NG229: repetitive is with over half of the contractions; lasting over 60 s is concerning
    peaks = [2410.0 + 120.0 * k for k in range(10)]
    events = [variable_at(peak, length_s=70.0 if k == 5 else 40.0) for k, peak in enumerate(peaks[:7])]
    made = reading(60, decelerations=events, contractions=[contraction(peak) for peak in peaks])
    words = reasons_at_end("nice-ng229", made, repetitive_concerning=choice)
    assert ("repetitive variable decelerations with concerning characteristics" in words) is repetitive


def test_the_classes_of_1986_take_each_minute_of_variability_by_itself() -> None:
    # FIGO 1986: under 5 bpm for more than 40 minutes, from memory; by itself is our choice
    made = reading(60, variability=[3.0] * 25 + [12.0, 3.0, 12.0] + [3.0] * 32)
    found = FORMER_STANDARDS["figo-1986"].window_category(made, 1800.0, 3600.0, SETTINGS.of_standards["figo-1986"])
    assert not any("limit 40 min" in reason for reason in found.reasons)
    without = reading(60, variability=[3.0] * 26 + [12.0] + [3.0] * 33)  # one minute is bridged
    found = FORMER_STANDARDS["figo-1986"].window_category(without, 1800.0, 3600.0, SETTINGS.of_standards["figo-1986"])
    assert "variability 3 bpm for 60 min; limit 40 min" in found.reasons


@pytest.mark.parametrize(("now_bpm", "said"), [(140.0, True), (139.0, False)])
def test_a_rise_is_one_over_the_first_baseline_or_that_of_an_hour_ago(now_bpm: float, said: bool) -> None:
    # NG229: a rise of 20 bpm or more is amber
    made = reading(180, baseline=[150.0] * 60 + [120.0] * 60 + [now_bpm] * 60)
    words = reasons_at_end("nice-ng229", made)
    assert (f"amber: baseline {now_bpm:.0f} bpm, 20 bpm above an earlier one" in words) is said
    first = reading(180, baseline=[120.0] * 30 + [now_bpm] * 150)
    assert ("above an earlier one" in reasons_at_end("nice-ng229", first)) is said


def test_a_minute_of_variability_is_the_median_of_those_around_it() -> None:
    # five minutes are our choice: FIGO 2015 speaks of the average of one-minute segments
    found = settled(np.array([1.0, 2.0, 9.0, 4.0, 5.0, NAN, 7.0]), 5)
    np.testing.assert_array_equal(found, [2.0, 3.0, 4.0, 4.5, 6.0, NAN, 6.0])
