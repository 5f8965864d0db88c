"""Burden of a span: what is counted where, what is clipped, and what stays unknown."""

from typing import Any

import numpy as np
import pytest

from audit.measures.burden import BurdenRow, burden_rows
from audit.tracing.types import LevelChange, Reading
from tests.reading_builder import SETTINGS, contraction, deceleration, edited, late_at, reading, variable_at

TABLE = SETTINGS.burden


def rows(made: Reading, *, birth_s: float | None = None, second_stage_s: float | None = None) -> dict[str, BurdenRow]:
    found = burden_rows(made, birth_s=birth_s, second_stage_s=second_stage_s, settings=TABLE)
    return {row.span: row for row in found}


def with_measured_area(made: Reading) -> Reading:
    """The same reading with each deceleration's area as it is drawn, as the engine gives it."""
    events = []
    for d in made.decelerations:
        part = slice(int(d.onset_s), int(d.end_s))
        away = np.nansum(made.baseline_drawn_1hz[part] - made.fhr_1hz[part])
        events.append(type(d)(**{**d.__dict__, "area_bpm_s": float(away)}))
    return edited(made, {"decelerations": tuple(events)})


def test_spans_of_a_long_tracing() -> None:
    found = rows(reading(180), birth_s=10800.0, second_stage_s=9000.0)
    lengths = {name: row.span_minutes for name, row in found.items()}
    assert lengths == {
        "last_30_min": 30.0,
        "last_60_min": 60.0,
        "last_120_min": 120.0,
        "whole": 180.0,
        "first_stage": 150.0,
        "second_stage": 30.0,
    }


def test_no_stages_without_a_known_second_stage() -> None:
    assert set(rows(reading(60))) == {"last_30_min", "last_60_min", "last_120_min", "whole"}


@pytest.mark.parametrize(
    ("second_stage_s", "stages"), [(0.0, {"second_stage"}), (-60.0, {"second_stage"}), (7200.0, {"first_stage"})]
)
def test_a_stage_without_length_has_no_row(second_stage_s: float, stages: set[str]) -> None:
    found = rows(reading(60), second_stage_s=second_stage_s)
    assert set(found) & {"first_stage", "second_stage"} == stages


def test_spans_begin_with_the_tracing_at_the_earliest() -> None:
    row = rows(reading(45))["last_60_min"]
    assert row.span_minutes == 45.0
    assert row.signal_loss_fraction == 0.0


def test_minutes_between_the_tracing_and_birth_were_not_seen() -> None:
    row = rows(reading(60), birth_s=3900.0)["last_30_min"]
    assert row.span_minutes == 30.0
    assert row.seen_minutes == 25.0
    assert row.signal_loss_fraction == pytest.approx(5 / 30)


@pytest.mark.parametrize(("after_min", "seen"), [(30.0, 0.0), (30.1, 30.0)])
def test_a_birth_long_after_the_tracing_does_not_move_the_spans(after_min: float, seen: float) -> None:
    row = rows(reading(60), birth_s=3600.0 + after_min * 60.0)["last_30_min"]
    assert row.seen_minutes == seen


def test_samples_after_birth_do_not_count() -> None:
    event = variable_at(3300.0)
    assert rows(reading(60, decelerations=[event]), birth_s=3000.0)["whole"].decelerations == 0
    assert rows(reading(60, decelerations=[event]), birth_s=3000.0)["whole"].span_minutes == 50.0


def test_a_deceleration_counts_where_its_nadir_lies_and_its_area_is_clipped() -> None:
    event = deceleration(1780.0, drop=40.0, length_s=60.0, nadir_after_s=30.0, return_s=20.0)
    made = with_measured_area(reading(60, decelerations=[event]))
    before, after, whole = (
        rows(made, second_stage_s=1800.0)[name] for name in ("first_stage", "second_stage", "whole")
    )
    assert (before.decelerations, after.decelerations, whole.decelerations) == (0, 1, 1)
    assert before.area_bpm_s is not None
    assert after.area_bpm_s is not None
    assert before.area_bpm_s > 0
    assert before.area_bpm_s + after.area_bpm_s == pytest.approx(whole.area_bpm_s)
    assert before.minutes_in_deceleration + after.minutes_in_deceleration == pytest.approx(1.0)
    assert (before.deepest_bpm, after.deepest_bpm) == (None, 40.0)
    assert (before.longest_s, after.longest_s, whole.longest_s) == (20.0, 40.0, 60.0)


def test_counts_by_kind_add_up() -> None:
    events = [late_at(600.0), late_at(900.0), variable_at(1200.0)]
    events.append(deceleration(2000.0, drop=40.0, length_s=150.0, nadir_after_s=20.0))
    events.append(deceleration(2600.0, drop=20.0, length_s=70.0, nadir_after_s=35.0, toco=False))
    row = rows(reading(60, decelerations=events))["whole"]
    assert (row.early, row.late, row.variable, row.prolonged, row.unclassified) == (0, 2, 1, 1, 1)
    assert row.decelerations == 5
    assert row.decelerations_per_20_min == pytest.approx(5 / 3)


def test_area_is_never_extrapolated_over_loss() -> None:
    event = variable_at(1200.0)
    seen = with_measured_area(reading(60, decelerations=[event]))
    lossy = with_measured_area(reading(60, decelerations=[event], unseen=[(1190.0, 1200.0), (1800.0, 3600.0)]))
    whole, less = rows(seen)["whole"], rows(lossy)["whole"]
    assert less.area_bpm_s is not None
    assert whole.area_bpm_s is not None
    assert less.area_bpm_s < whole.area_bpm_s
    assert less.seen_minutes == pytest.approx(60 - 30 - 1 / 6)
    assert less.area_per_seen_hour_bpm_s == pytest.approx(less.area_bpm_s / (less.seen_minutes / 60))


def test_nothing_seen_is_unknown_and_not_zero() -> None:
    row = rows(reading(60, unseen=[(1800.0, 3600.0)]))["last_30_min"]
    assert (row.area_bpm_s, row.triangle_area_bpm_s, row.area_per_seen_hour_bpm_s) == (None, None, None)
    assert (row.decelerations_per_20_min, row.level_change_area_bpm_s, row.deepest_bpm) == (None, None, None)
    assert row.signal_loss_fraction == 1.0


def test_an_unremarkable_span_has_area_zero() -> None:
    row = rows(reading(60))["whole"]
    assert (row.area_bpm_s, row.decelerations, row.longest_s) == (0.0, 0, None)


def test_contractions_with_a_deceleration() -> None:
    peaks = [600.0, 900.0, 1200.0, 1500.0]
    made = reading(
        60, contractions=[contraction(p) for p in peaks], decelerations=[late_at(900.0), variable_at(1500.0)]
    )
    row = rows(made)["whole"]
    assert (row.contractions, row.contractions_with_deceleration) == (4, 2)


def test_a_long_deceleration_covers_each_contraction_whose_peak_it_holds() -> None:
    peaks = [600.0, 780.0, 960.0]
    long = deceleration(590.0, drop=40.0, length_s=240.0, nadir_after_s=20.0)
    row = rows(reading(60, contractions=[contraction(p) for p in peaks], decelerations=[long]))["whole"]
    assert (row.contractions, row.contractions_with_deceleration) == (3, 2)


@pytest.mark.parametrize(("usable_s", "expected"), [(1800, (0, 0)), (1799, (None, None))])
def test_contractions_are_unknown_without_usable_toco(usable_s: int, expected: tuple[Any, Any]) -> None:
    usable = np.arange(3600) < usable_s
    row = rows(edited(reading(60), {"toco_usable_1hz": usable}))["whole"]
    assert (row.contractions, row.contractions_with_deceleration) == expected


@pytest.mark.parametrize(("level", "area"), [(80.0, 60.0 * 900), (109.0, 31.0 * 900), (110.0, 0.0)])
def test_a_final_bradycardia_keeps_an_area_of_its_own(level: float, area: float) -> None:
    # NICHD 2008: from 10 minutes on it is a baseline change; a bradycardia is a baseline under 110 bpm.
    change = LevelChange(2700.0, 3600.0, 140.0, level)
    made = reading(60, baseline=[140.0] * 45 + [level] * 15, level_changes=[change])
    row = rows(made)["last_30_min"]
    assert row.area_bpm_s == 0.0
    assert row.level_change_area_bpm_s == pytest.approx(area)


def test_a_tracing_without_samples_has_no_rows() -> None:
    assert rows(reading(0)) == {}
