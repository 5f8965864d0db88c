"""The second at which each standard knows what it says, and both sides of the limits around it, by hand.

FIGO 2015, NICE NG229 and NICHD 2008 count a deceleration from 15 s on; what cannot be told before its end is not told
before it. Where no text has a number, our own choice is said to be that.
"""

import numpy as np
import pytest

from audit.setting_types import Limit
from audit.standards.basics import acceleration_of, marks_of, share
from audit.standards.cautioned import caution_notes
from audit.standards.evaluation import TRIGGER_UNSEEN_BELOW
from audit.standards.falls import _middle_of_return_s, falls_of
from audit.standards.figo_2015 import _Pass as Figo
from audit.standards.nice_ng229_pass import Pass as Nice
from audit.standards.nice_shared import coming
from audit.standards.nichd_2008 import _Pass as Nichd
from audit.standards.patterns import Recurrence, in_number, unplaced
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.tracing.types import Acceleration, Caution, Deceleration
from tests.reading_builder import (
    SETTINGS,
    contraction,
    deceleration,
    edited,
    late_at,
    minutes_of,
    reading,
    reasons_at_end,
    table,
    window_of,
)

PASSES = {"nichd-2008": Nichd, "figo-2015": Figo, "nice-ng229": Nice}


def known_s(name: str, *events: Deceleration, **more: object) -> list[float]:
    made = reading(60, decelerations=events, **more)
    return PASSES[name](Seen(made), marks_of(made), 0.0, table(name)).known_s.tolist()


@pytest.mark.parametrize("name", STANDARDS)
def test_minutes_are_told_at_their_ends_and_by_every_trigger(name: str) -> None:
    made = minutes_of(name, reading(3))
    assert made.at_s.tolist() == [60.0, 120.0, 180.0]
    for series in made.triggers.values():
        assert series.at_s.tolist() == [60.0, 120.0, 180.0]


@pytest.mark.parametrize("name", PASSES)
def test_no_standard_tells_a_fall_before_it_has_lasted_fifteen_seconds(name: str) -> None:
    event = deceleration(1800.0, drop=30.0, length_s=40.0, nadir_after_s=8.0)
    assert known_s(name, event) == [1815.0]
    later = deceleration(1800.0, drop=30.0, length_s=40.0, nadir_after_s=25.0)
    assert known_s(name, later) == [1825.0]


@pytest.mark.parametrize(("name", "after_s"), [("nichd-2008", 120.0), ("figo-2015", 180.0)])
def test_a_prolonged_fall_is_told_when_it_has_lasted_as_long(name: str, after_s: float) -> None:
    # NICHD 2008: 2 minutes or more; FIGO 2015: more than 3
    event = deceleration(1800.0, drop=30.0, length_s=300.0, nadir_after_s=20.0)
    assert known_s(name, event) == [1800.0 + after_s]


@pytest.mark.parametrize(("height_bpm", "length_s", "counts"), [(16, 16, True), (16, 15, False), (15, 16, False)])
def test_figo_counts_an_acceleration_that_is_both_high_and_long(height_bpm, length_s, counts) -> None:
    # FIGO 2015, definitions: of more than 15 bpm in amplitude and lasting more than 15 s
    limits = table("figo-2015")
    found = acceleration_of(limits.limit("acceleration_height"), limits.limit("acceleration_duration"))
    assert found(height_bpm, length_s) is counts


@pytest.mark.parametrize(("return_s", "after_s"), [(20.0, 55.0), (35.0, 65.0)])
def test_figo_tells_a_late_one_by_its_end_or_by_thirty_seconds_of_return(return_s: float, after_s: float) -> None:
    # FIGO 2015: a gradual return takes more than 30 s from the nadir
    event = deceleration(
        1800.0, drop=30.0, length_s=35.0 + return_s, nadir_after_s=35.0, return_s=return_s, lag_s=30.0, onset_lag_s=25.0
    )
    uterus = [contraction(1805.0)]
    assert known_s("figo-2015", event, contractions=uterus) == [1800.0 + after_s]


@pytest.mark.parametrize(("length_s", "after_s"), [(70.0, 35.0), (100.0, 35.0)])
def test_nice_tells_a_late_one_when_its_contraction_is_over(length_s: float, after_s: float) -> None:
    # NG229: late when it is over after the contraction; 30 s after this one's peak both nadir and contraction are over
    event = deceleration(
        1800.0, drop=30.0, length_s=length_s, nadir_after_s=35.0, return_s=35.0, lag_s=30.0, onset_lag_s=25.0
    )
    assert known_s("nice-ng229", event, contractions=[contraction(1805.0)]) == [1800.0 + after_s]
    long_one = [contraction(1805.0, length_s=100.0)]  # ends 55 s after the onset
    assert known_s("nice-ng229", event, contractions=long_one) == [1855.0]


@pytest.mark.parametrize(
    ("length_s", "return_s", "after_s"),
    [
        (50.0, 35.0, 50.0),  # by its slow return: at its end
        (61.0, 20.0, 60.0),  # by its length: once it has lasted a minute
        (100.0, 35.0, 60.0),  # by either
    ],
)
def test_nice_tells_concerning_variable_ones_by_their_length_or_at_their_end(
    length_s: float, return_s: float, after_s: float
) -> None:
    # NG229: lasting more than 60 s, slow return to the baseline, among the concerning characteristics
    event = deceleration(1800.0, drop=40.0, length_s=length_s, nadir_after_s=10.0, return_s=return_s)
    made = reading(60, decelerations=[event])
    work = Nice(Seen(made), marks_of(made), 0.0, table("nice-ng229"))
    assert work.concerning.tolist() == [True]
    assert work.concerning_known_s.tolist() == [1800.0 + after_s]


@pytest.mark.parametrize(("seen_s", "dark"), [(12, False), (11, True)])
def test_a_minute_of_which_a_fifth_was_seen_is_not_dark(seen_s: int, dark: bool) -> None:
    # our choice
    assert TRIGGER_UNSEEN_BELOW == 0.2
    made = reading(60, unseen=[(2340.0, 2400.0), (2400.0 + seen_s, 2460.0)])
    series = minutes_of("figo-2015", made).triggers["pathological"]
    assert bool(series.unseen[40]) is dark
    assert series.unseen[39]
    assert not series.unseen[38]


@pytest.mark.parametrize(("variability", "looked_for"), [(9.9, 1), (10.0, 0)])
def test_shallow_falls_are_looked_for_under_ten_bpm_of_variability(variability: float, looked_for: int) -> None:
    # our choice: no text calls more than that reduced
    made = reading(60, variability=variability)
    rate = made.fhr_1hz.copy()
    rate[1800:1830] -= 12.0
    falls, pairs = Seen(edited(made, {"fhr_1hz": rate})).falls_with_shallow
    assert (falls.onset_s.size, pairs.shape) == (looked_for, (0, looked_for))


@pytest.mark.parametrize(("first_bpm", "stable"), [(109.0, True), (118.9, True), (119.0, False)])
def test_a_low_baseline_is_stable_within_ten_bpm_of_its_first(first_bpm: float, stable: bool) -> None:
    # NG229: 100 to 109 bpm amber, usual care where it is stable with normal variability; ten bpm are our choice
    said = reasons_at_end("nice-ng229", reading(60, baseline=[first_bpm] * 20 + [109.0] * 40))
    assert "amber: baseline 109 bpm" in said
    assert ("stable from the start" in said) is stable


def test_what_was_seen_suffices_without_a_word_on_what_was_not() -> None:
    event = deceleration(3000.0, drop=60.0, length_s=400.0, nadir_after_s=20.0)
    said = reasons_at_end("figo-2015", reading(60, decelerations=[event], unseen=[(1800.0, 2760.0)]))
    assert said.startswith("one deceleration of 6.6 min")
    assert "signal seen" not in said
    assert "hidden" not in said  # too little for a category: that is said only where there is none


SHORT, OTHER = "mind this", "with the baseline at 160 bpm: "


@pytest.mark.parametrize(
    ("kind", "back_s", "codes", "otherwise", "notes"),
    [
        # a caution from 120 to 240 s; the minutes end at 60, 120, ... s
        ("baseline_doubtful", 60.0, [1] * 6, None, {2: [SHORT], 3: [SHORT]}),
        ("baseline_doubtful", 61.0, [1] * 6, None, {2: [SHORT], 3: [SHORT], 4: [SHORT]}),
        ("baseline_doubtful", 60.0, [0] * 6, None, {}),
        ("baseline_doubtful", 60.0, [-1] * 6, [-1] * 6, {}),
        ("baseline_doubtful", 60.0, [0, 0, 0, 1], [0, 0, 0, 1], {3: [SHORT]}),
        (
            "baseline_doubtful", 60.0, [0, 0, 0, 1], [1, 1, 1, 0],
            {2: [SHORT, f"{OTHER}suspicious"], 3: [SHORT, f"{OTHER}normal"]},
        ),
        ("maternal_rate_suspected", 600.0, [0] * 6, None, {2: [SHORT], 3: [SHORT], 4: [SHORT]}),
        ("maternal_rate_suspected", 60.0, [0] * 4, [1] * 4, {2: [SHORT], 3: [SHORT]}),
        ("monitoring_ended", 600.0, [1] * 6, [0] * 6, {}),
    ],
)  # fmt: skip
def test_a_caution_stands_beside_the_categories_that_rest_on_it(kind, back_s, codes, otherwise, notes) -> None:
    # FIGO 2015 and NG229 warn of both (from memory); beside which minutes it is said is our choice
    caution = Caution(kind, 120.0, 240.0, 140.0, 160.0, "", SHORT)
    made = edited(reading(10), {"cautions": (caution,)})
    at_s = 60.0 * np.arange(1, len(codes) + 1)
    other = None if otherwise is None else np.array(otherwise)
    words = ("normal", "suspicious", "pathological", "not assessable")
    assert caution_notes(made, at_s, np.array(codes), back_s, other, words) == notes


@pytest.mark.parametrize(
    ("at_s", "minutes", "since_s"),
    [
        (59.0, 0.0, np.nan),  # the first is not known yet
        (60.0, 1.0, 0.0),  # one alone lasts as long as itself
        (400.0, 6.0, 0.0),  # to the end of the second
        (1900.0, 16.0, 0.0),  # to the end of the third, ten minutes after the second, however long ago
        (2030.0, 0.5, 2000.0),  # after a pause of over 10 min they begin anew; told while it goes on
        (2100.0, 1.0, 2000.0),
    ],
)
def test_falls_have_been_coming_from_the_first_onset_to_the_end_of_the_last(at_s, minutes, since_s) -> None:
    """NICE NG229 (2022, from memory) says 'for more than 30 minutes' and not how to count: our choice, by hand."""
    onset, end = np.array([0.0, 300.0, 900.0, 2000.0]), np.array([60.0, 360.0, 960.0, 2060.0])
    found, since = coming(onset, end, np.array([60.0, 360.0, 960.0, 2020.0]), np.array([at_s]), 600.0)
    assert found.tolist() == [minutes]
    np.testing.assert_array_equal(since, [since_s])


@pytest.mark.parametrize(
    ("variability", "said"),
    [
        (1.44, "absent variability (1.4 bpm)"),  # whole numbers would tell 1 of what lies between 0.5 and 1.5
        (3.44, "minimal variability (3 bpm)"),
        (27.4, "marked variability (27 bpm)"),
    ],
)
def test_nichd_tells_absent_variability_to_a_tenth_and_the_others_to_a_beat(variability: float, said: str) -> None:
    """NICHD 2008 (from memory): absent, minimal up to 5 bpm, marked over 25 bpm. How it is printed is our choice."""
    assert said in reasons_at_end("nichd-2008", reading(60, variability=variability))


@pytest.mark.parametrize(("apart_s", "said"), [(1800.0, True), (1801.0, False)])
def test_concerning_falls_half_an_hour_apart_are_still_coming(apart_s: float, said: bool) -> None:
    # NG229: amber for more than 30 minutes; a pause of over half an hour ends them (our choice)
    events = [
        deceleration(onset_s, drop=40.0, length_s=100.0, nadir_after_s=10.0) for onset_s in (3300.0 - apart_s, 3300.0)
    ]
    words = reasons_at_end("nice-ng229", reading(60, decelerations=events))
    assert ("concerning characteristics for 31 min; limit 30 min" in words) is said


def test_where_a_red_feature_decides_the_latest_finding_is_that_of_the_red_one() -> None:
    # NG229, amended: any late deceleration is red; a baseline of 105 bpm is amber and still there at the mark
    made = reading(60, baseline=105.0, decelerations=[late_at(3000.0)], contractions=[contraction(3000.0)])
    series = minutes_of("nice-ng229", made).triggers["pathological"]
    assert series.met[-1]
    assert series.finding_from_s is not None
    assert series.finding_until_s is not None
    assert (series.finding_from_s[-1], series.finding_until_s[-1]) == (2995.0, 3065.0)


@pytest.mark.parametrize(
    ("contractions", "accompanied", "blind", "told"),
    [
        (6.0, 2.0, 3, 3.0),  # five of nine
        (7.0, 2.0, 3, 0.0),  # five of ten are not over half
        (4.0, 0.0, 3, 0.0),  # three of seven are not
        (4.0, 2.0, 2, 0.0),  # two could be no pattern by themselves: of four contractions it takes three
    ],
)
def test_falls_that_the_toco_hid_count_where_they_would_make_over_half(
    contractions: float, accompanied: float, blind: int, told: float
) -> None:
    # FIGO 2015: repetitive with more than half of the contractions; four at least are our choice
    events = [deceleration(600.0 * k, drop=30.0, length_s=60.0, nadir_after_s=10.0, toco=False) for k in (1, 2, 3)]
    never, none = np.array([False]), np.array([np.nan])
    pattern = Recurrence(
        np.array([contractions]), np.array([accompanied]), np.array([accompanied / contractions]), never, none, none
    )
    here = np.arange(3)[None, :] < blind
    found = unplaced(pattern, falls_of(reading(60, decelerations=events)), here, limit=Limit(">", 0.5), minimum=4.0)
    assert found.tolist() == [told]


@pytest.mark.parametrize(
    ("limit", "numbers"), [(Limit(">", 0.5), [1, 2, 2, 3]), (Limit(">=", 0.5), [1, 1, 2, 2])]
)  # FIGO 2015: more than half; NICHD 2008: half or more
def test_how_many_falls_make_a_pattern_with_the_fewest_contractions(limit: Limit, numbers: list[int]) -> None:
    assert [in_number(limit, minimum) for minimum in (1.0, 2.0, 3.0, 4.0)] == numbers


@pytest.mark.parametrize(("end_s", "counted"), [(600.0, 0.0), (601.0, 1.0), (1200.0, 1.0), (1201.0, 0.0)])
def test_an_acceleration_counts_from_its_end_for_as_long_as_the_window_is(end_s: float, counted: float) -> None:
    # FIGO 1986 counts them per 10 minutes (from memory); by their end is our choice
    rise = Acceleration(end_s - 30.0, end_s - 15.0, end_s, 20.0)
    found = Seen(reading(30, accelerations=[rise])).accelerations_before(np.array([1200.0]), 10.0, lambda *_: True)
    assert found.tolist() == [counted]


def test_the_middle_of_a_return_is_between_three_quarters_and_one_quarter_of_the_depth() -> None:
    # back from 40 bpm below by 1 bpm a second: 30 below after 10 s, 10 below after 30
    event = deceleration(600.0, drop=40.0, length_s=60.0, nadir_after_s=10.0)
    inside = 140.0 - np.concatenate([np.full(20, 40.0), np.arange(40.0, -1.0, -1.0)])
    assert _middle_of_return_s(inside, event) == 20.0
    assert _middle_of_return_s(np.full(60, np.nan), event) == 0.0


def test_the_latest_fall_is_the_one_that_reached_latest() -> None:
    events = [
        deceleration(600.0, drop=30.0, length_s=600.0, nadir_after_s=20.0),
        deceleration(700.0, drop=30.0, length_s=40.0, nadir_after_s=20.0),  # over within the first
        deceleration(1500.0, drop=30.0, length_s=40.0, nadir_after_s=20.0),
    ]
    at_s = np.array([599.0, 650.0, 800.0, 1400.0, 1520.0])
    found = falls_of(reading(60, decelerations=events)).latest(at_s, np.ones(3, dtype=bool))
    np.testing.assert_array_equal(found[0], [np.nan, 600.0, 600.0, 600.0, 1500.0])
    np.testing.assert_array_equal(found[1], [np.nan, 650.0, 800.0, 1200.0, 1520.0])


def test_the_share_of_a_part_of_a_second_is_never_over_one() -> None:
    counted = np.arange(11.0)
    assert share(counted, np.array([0.9, 0.9]), np.array([1.4, 2.1])).tolist() == [1.0, 1.0]


def test_a_window_of_an_hour_shows_all_of_its_hour() -> None:
    # FIGO 2015: one deceleration of more than 5 minutes is pathological; this one is over 30 s after the window began
    event = deceleration(1430.0, drop=40.0, length_s=400.0, nadir_after_s=20.0)
    made = reading(90, decelerations=[event], unseen=[(3000.0, 3780.0)])
    found = window_of("figo-2015", made, 1800.0, 5400.0, window_rule="final")
    assert found.category == "pathological"
    assert "22 % of the last 60 min hidden: of that nothing is said" in found.reasons  # 13 minutes, rounded up


def test_a_window_read_as_a_whole_is_read_once_at_its_end() -> None:
    # FIGO 1986: a baseline under 100 bpm is pathological, from memory; of this window two minutes in thirty
    made = reading(60, baseline=[90.0] * 32 + [140.0] * 28)
    found = FORMER_STANDARDS["figo-1986"].window_category(made, 1800.0, 3600.0, SETTINGS.of_standards["figo-1986"])
    assert (found.worst, found.final) == ("normal", "normal")
