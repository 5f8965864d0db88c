"""The burden of a fall that became the baseline, against the area of what was drawn."""

from collections.abc import Callable

import numpy as np
import pytest

from audit.measures.burden import BurdenRow, burden_rows
from audit.settings import load_settings
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing
from tests.accuracy.known_truth import RATE, fluctuation

SETTINGS = load_settings()
MINUTES = 60
END_S = MINUTES * 60.0
Course = Callable[[np.ndarray, float], np.ndarray]

# A final fall of `minutes`, as the rate that was drawn without its fluctuation.
FALLS: dict[str, Course] = {
    "at once": lambda t, low: np.where(t > END_S - low, 75.0, 140.0),
    "to just under 110": lambda t, low: np.where(t > END_S - low, 104.0, 140.0),
    "over five minutes": lambda t, low: np.interp(t, [0, END_S - low, END_S - low + 300, END_S], [140, 140, 80, 60]),
    "all the way": lambda t, low: np.interp(t, [0, END_S - low, END_S], [140, 140, 55]),
    "in two steps": lambda t, low: np.where(t > END_S - low, 110.0, 140.0) - np.where(t > END_S - low / 2, 40.0, 0.0),
    "in waves": lambda t, low: np.where(t > END_S - low, 75.0 + 20 * np.sin(t / 40), 140.0),
}


def last_half_hour(course: Course, low_s: float, lost: tuple[float, float] | None = None) -> tuple[BurdenRow, float]:
    t = np.arange(MINUTES * 60 * RATE) / RATE
    drawn = course(t, low_s)
    fhr = drawn + fluctuation(np.random.default_rng(int(low_s)), t.size, 8.0, "pink")
    if lost:
        fhr[int(lost[0] * RATE) : int(lost[1] * RATE)] = np.nan
    reading = read_tracing(Tracing(fhr, np.full(t.size, np.nan)), SETTINGS.tracing)
    rows = burden_rows(reading, birth_s=None, second_stage_s=None, settings=SETTINGS.burden)
    true = np.maximum(140 - drawn, 0)
    true[np.isnan(fhr)] = 0
    return next(row for row in rows if row.span == "last_30_min"), float(true[-1800 * RATE :].sum() / RATE)


@pytest.mark.parametrize("minutes", [10.5, 12.0, 15.0, 20.0])
@pytest.mark.parametrize("fall", FALLS)
def test_a_final_bradycardia_has_its_area_in_the_figure_that_cases_are_sorted_by(fall: str, minutes: float) -> None:
    # NICHD 2008: from 10 minutes on a fall is a baseline change, and so in none of the deceleration columns.
    row, true = last_half_hour(FALLS[fall], minutes * 60)
    assert row.area_per_seen_hour_bpm_s is not None
    assert row.area_per_seen_hour_bpm_s * row.seen_minutes / 60 == pytest.approx(true, rel=0.1)


@pytest.mark.parametrize("minutes", [5.0, 8.0, 9.5])
def test_a_shorter_fall_has_it_as_a_deceleration(minutes: float) -> None:
    row, true = last_half_hour(FALLS["at once"], minutes * 60)
    assert row.area_bpm_s == pytest.approx(true, rel=0.1)
    assert row.level_change_area_bpm_s == 0


@pytest.mark.parametrize("lost_min", [1.0, 3.0, 5.0])
def test_what_was_lost_inside_is_told_and_not_filled_in(lost_min: float) -> None:
    row, true = last_half_hour(FALLS["at once"], 900.0, (END_S - 600, END_S - 600 + 60 * lost_min))
    assert row.unseen_in_falls_minutes == pytest.approx(lost_min, abs=0.1)
    assert row.level_change_area_bpm_s == pytest.approx(true, rel=0.1)


def test_a_low_rate_from_the_beginning_is_no_fall() -> None:
    row, _ = last_half_hour(lambda t, _low: np.full(t.size, 105.0), 600.0)
    assert row.level_change_area_bpm_s == 0


def test_a_fall_from_a_tachycardia_to_a_normal_rate_is_none() -> None:
    row, _ = last_half_hour(lambda t, low: np.where(t > END_S - low, 140.0, 175.0), 900.0)
    assert row.level_change_area_bpm_s == 0
