"""FIGO 1986 classes, for comparison with old reads: each criterion on both sides. From memory, or our choice."""

from dataclasses import replace

import pytest

from audit.setting_types import changed
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.standards.types import WindowCategory
from audit.tracing.types import Acceleration, Deceleration, Reading, Sinusoidal
from tests.reading_builder import SETTINGS, deceleration, reading

STANDARD = FORMER_STANDARDS["figo-1986"]


def window(
    made: Reading, start_s: float = 1800.0, end_s: float = 3600.0, second_stage_s: float | None = None
) -> WindowCategory:
    seen = Seen(made, second_stage_s=second_stage_s)
    return STANDARD.window_category(made, start_s, end_s, SETTINGS.of_standards["figo-1986"], seen=seen)


def window_class(made: Reading, *span: float, second_stage_s: float | None = None) -> str:
    return window(made, *span, second_stage_s=second_stage_s).category


def with_area(
    area_bpm_s: float, *, drop: float = 40.0, length_s: float = 59.0, onset_s: float = 2400.0
) -> Deceleration:
    event = deceleration(onset_s, drop=drop, length_s=length_s, nadir_after_s=20.0)
    return replace(event, area_bpm_s=area_bpm_s)


def test_a_short_window_counts_its_own_decelerations_only() -> None:
    # our choice, as for the other standards
    made = reading(60, decelerations=[with_area(20000.0)])
    assert window_class(made, 2400.0, 3000.0) == "pathological"
    assert window_class(made, 3000.0, 3600.0) == "normal"


def test_it_is_no_standard_for_review() -> None:
    assert "figo-1986" not in STANDARDS


@pytest.mark.parametrize(
    ("baseline", "expected"),
    [
        (140.0, "normal"),
        (152.4, "normal"),  # 150 on paper
        (152.5, "suspicious"),
        (172.4, "suspicious"),  # 170 on paper
        (172.5, "pathological"),
        (107.5, "normal"),  # 110 on paper
        (107.4, "suspicious"),
        (97.5, "suspicious"),  # 100 on paper
        (97.4, "pathological"),
    ],
)
def test_baseline_as_read_from_paper(baseline: float, expected: str) -> None:
    assert window_class(reading(60, baseline=baseline)) == expected


@pytest.mark.parametrize(
    ("variability", "minutes", "expected"),
    [
        (5.0, 60, "normal"),
        (25.0, 60, "normal"),
        (26.0, 60, "suspicious"),
        (4.0, 40, "suspicious"),
        (4.0, 41, "pathological"),
        (4.0, 18, "suspicious"),  # 45 % of the last 40
        (4.0, 17, "normal"),
        (4.4, 18, "suspicious"),
        (4.5, 60, "normal"),  # 5 in whole bpm
    ],
)
def test_variability(variability: float, minutes: int, expected: str) -> None:
    made = reading(60, variability=[12.0] * (60 - minutes) + [variability] * minutes)
    assert window_class(made) == expected


@pytest.mark.parametrize(
    ("reduced_min", "per_10_min", "expected"),
    [
        (18, 2500.0, "pathological"),
        (18, 2499.0, "suspicious"),
        (17, 2500.0, "suspicious"),
        (39, 2500.0, "pathological"),
    ],
)
def test_reduced_variability_with_more_than_mild_decelerations(
    reduced_min: int, per_10_min: float, expected: str
) -> None:
    variability = [12.0] * (60 - reduced_min) + [4.0] * reduced_min
    made = reading(60, variability=variability, decelerations=[with_area(3.0 * per_10_min)])
    found = window(made)
    assert found.category == expected
    if expected == "pathological":  # the share of the last 40 minutes is printed beside its limit
        assert f"variability reduced in {reduced_min * 100 // 40} % of the last minutes" in str(found.reasons)
        assert "limit 45 %" in str(found.reasons)


@pytest.mark.parametrize(
    ("from_minute", "expected"),
    [(20, "suspicious"), (19, "normal")],  # the last 40 of 60 minutes, 10 of them before the window
)
def test_reduced_variability_reaches_back_40_minutes(from_minute: int, expected: str) -> None:
    variability = [12.0] * from_minute + [4.0] * 18 + [12.0] * (42 - from_minute)
    assert window_class(reading(60, variability=variability)) == expected


@pytest.mark.parametrize(("known", "expected"), [(10, "suspicious"), (9, "normal")])
def test_reduced_variability_needs_ten_known_minutes(known: int, expected: str) -> None:
    variability = [12.0] * 20 + [float("nan")] * (40 - known) + [4.0] * known
    assert window_class(reading(60, variability=variability)) == expected


@pytest.mark.parametrize(
    ("per_10_min", "second_stage_s", "expected"),
    [
        (2499.0, None, "normal"),
        (2500.0, None, "suspicious"),
        (9999.0, None, "suspicious"),
        (10000.0, None, "pathological"),
        (3749.0, 1800.0, "normal"),
        (3750.0, 1800.0, "suspicious"),
        (14999.0, 1800.0, "suspicious"),
        (15000.0, 1800.0, "pathological"),
        (10000.0, 2700.0, "suspicious"),  # half of the window in the second stage
        (10000.0, 2701.0, "pathological"),
    ],
)
def test_area_per_10_seen_minutes(per_10_min: float, second_stage_s: float | None, expected: str) -> None:
    made = reading(60, decelerations=[with_area(3.0 * per_10_min)])
    assert window_class(made, second_stage_s=second_stage_s) == expected


def test_area_counts_the_part_inside_the_window() -> None:
    # half of it lies before the window
    event = with_area(3.0 * 4000.0, onset_s=1770.0, length_s=60.0)
    assert window_class(reading(60, decelerations=[event])) == "normal"
    assert window_class(reading(60, decelerations=[event]), 1740.0, 3540.0) == "suspicious"


def test_area_is_per_seen_minutes() -> None:
    event = with_area(3.0 * 2000.0)
    assert window_class(reading(60, decelerations=[event])) == "normal"
    assert window_class(reading(60, decelerations=[event], unseen=[(3000.0, 3600.0)])) == "suspicious"


@pytest.mark.parametrize(
    ("per_10_min", "rises", "expected"),
    [(3999.0, 3, "normal"), (3999.0, 2, "suspicious"), (4000.0, 3, "suspicious")],
)
def test_accelerations_outweigh_a_small_area(per_10_min: float, rises: int, expected: str) -> None:
    up = [Acceleration(1900.0 + 300 * k, 1910.0 + 300 * k, 1930.0 + 300 * k, 20.0) for k in range(rises)]
    assert window_class(reading(60, decelerations=[with_area(3.0 * per_10_min)], accelerations=up)) == expected


@pytest.mark.parametrize(
    ("drop", "length_s", "number", "expected"),
    [
        (55.0, 60.0, 1, "suspicious"),
        (54.0, 60.0, 1, "normal"),
        (55.0, 59.0, 1, "normal"),
        (55.0, 60.0, 3, "suspicious"),
        (55.0, 60.0, 4, "pathological"),
    ],
)
def test_severe_decelerations(drop: float, length_s: float, number: int, expected: str) -> None:
    events = [with_area(100.0, drop=drop, length_s=length_s, onset_s=1900.0 + 200.0 * k) for k in range(number)]
    assert window_class(reading(60, decelerations=events)) == expected


@pytest.mark.parametrize(
    ("length_s", "drop", "expected"),
    [
        (299.0, 61.0, "suspicious"),  # a severe one all the same
        (300.0, 61.0, "pathological"),
        (300.0, 60.0, "suspicious"),  # 80 bpm is not below 80
        (300.0, 54.0, "normal"),
    ],
)
def test_one_long_and_deep_deceleration(length_s: float, drop: float, expected: str) -> None:
    assert window_class(reading(60, decelerations=[with_area(100.0, drop=drop, length_s=length_s)])) == expected


@pytest.mark.parametrize(
    ("length_s", "expected"),
    [
        (292.0, "hinges on one deceleration of 4 min 52 s that could last 5 min or more: then pathological"),
        (304.0, "hinges on one deceleration of 5 min 04 s that could be shorter than 5 min: then suspicious"),
        (291.0, None),
        (309.0, None),
    ],
)
def test_a_long_one_near_five_minutes_names_the_other_class(length_s: float, expected: str | None) -> None:
    # measured to within 8 s
    event = replace(with_area(100.0, drop=61.0, length_s=length_s), length_error_s=8.0)
    reasons = window(reading(60, decelerations=[event])).reasons
    assert [words for words in reasons if "hinges" in words] == ([expected] if expected else [])


@pytest.mark.parametrize(("inside_bpm", "expected"), [(5.0, "normal"), (4.9, "suspicious")])
def test_reduced_variability_inside_a_deceleration(inside_bpm: float, expected: str) -> None:
    event = replace(with_area(100.0), variability_inside_bpm=inside_bpm)
    assert window_class(reading(60, decelerations=[event])) == expected


@pytest.mark.parametrize(("seconds", "expected"), [(1199.0, "normal"), (1200.0, "pathological")])
def test_sinusoidal_pattern(seconds: float, expected: str) -> None:
    run = Sinusoidal(3600.0 - seconds, 3600.0, 4.0, 10.0)
    assert window_class(reading(60, sinusoidal=[run])) == expected


@pytest.mark.parametrize(("end_s", "expected"), [(2940.0, "normal"), (3000.0, "pathological")])
def test_a_sinusoidal_pattern_that_goes_on_counts_what_was_seen_of_it(end_s: float, expected: str) -> None:
    # NICHD 2008: 20 minutes or more
    made = reading(60, sinusoidal=[Sinusoidal(1800.0, 3600.0, 4.0, 10.0)])
    assert window_class(made, 1200.0, end_s) == expected


@pytest.mark.parametrize(("seen_s", "expected"), [(900.0, "normal"), (899.0, "not assessable")])
def test_half_of_the_window_must_be_seen(seen_s: float, expected: str) -> None:
    assert window_class(reading(60, unseen=[(1800.0 + seen_s, 3600.0)])) == expected


def test_the_area_is_printed_in_whole_hundreds_beside_its_limit() -> None:
    found = window(reading(60, decelerations=[with_area(3.0 * 2540.0)]))
    assert "deceleration area 2500 bpm·s per 10 seen min; limit 2500" in str(found.reasons)


def test_a_window_knows_neither_the_variability_after_it_nor_the_run_that_was_over_before_it() -> None:
    # over 25 bpm is suspicious, from memory; 20 minutes of a sinusoidal pattern are pathological (NICHD 2008)
    assert window_class(reading(60, variability=[12.0] * 20 + [30.0] * 40), 0.0, 1800.0) == "normal"
    assert window_class(reading(60, variability=[30.0] * 40 + [12.0] * 20), 1800.0, 3600.0) == "normal"
    assert window_class(reading(60, sinusoidal=[Sinusoidal(0.0, 1500.0, 4.0, 10.0)]), 900.0, 2700.0) == "normal"


def test_what_is_printed_of_a_window_is_in_whole_numbers() -> None:
    # our choice
    high = window(reading(60, variability=26.6)).reasons
    assert "variability 27 bpm; limit 25 bpm" in high
    low = window(reading(60, variability=4.0)).reasons
    assert "variability 4 bpm for 60 min; limit 40 min" in low
    assert "variability reduced in 100 % of the last minutes; limit 45 %" in low
    run = window(reading(60, sinusoidal=[Sinusoidal(1800.0, 3030.0, 4.0, 10.0)])).reasons
    assert "sinusoidal pattern for 20 min" in run
    events = [with_area(100.0, drop=55.0, length_s=60.0, onset_s=1900.0 + 200.0 * k) for k in range(4)]
    assert "4 severe decelerations; limit 4" in window(reading(60, decelerations=events)).reasons
    flat = replace(with_area(100.0), variability_inside_bpm=4.0)
    assert "1 decelerations with reduced variability inside" in window(reading(60, decelerations=[flat])).reasons
    assert "baseline 175 bpm; limit 170 bpm" in window(reading(60, baseline=174.0)).reasons
    assert "baseline 105 bpm; limit 110 bpm" in window(reading(60, baseline=106.0)).reasons


def test_accelerations_are_counted_per_ten_minutes_of_a_minute_too() -> None:
    made = reading(60, decelerations=[with_area(300.0)], accelerations=[Acceleration(2405.0, 2412.0, 2425.0, 20.0)])
    settings = changed(SETTINGS.of_standards["figo-1986"], accelerations=">= 10")
    for end_s, expected in ((2460.0, "normal"), (2461.0, "suspicious")):
        assert STANDARD.window_category(made, 2400.0, end_s, settings).category == expected
