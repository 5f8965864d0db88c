"""The numbers of the second reading in words; scales counted by hand, words are common practice, no source."""

import numpy as np
import pytest

from audit.second_reading.described import labour_of
from audit.second_reading.differences import NOT_SHOWN
from audit.second_reading.number_words import number_words, value_words
from audit.second_reading.numbers import window_numbers
from audit.standards.seen import Seen
from tests.reading_builder import SETTINGS, reading


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("rate_under_100_root_fraction", 0.5, "rate under 100 bpm: 25% of the time"),
        ("lost_fraction", 0.214, "signal lost: 21%"),
        ("longest_root_s", 9.0, "longest deceleration: 81 s"),
        ("deepest_bpm", 41.7, "deepest deceleration: 42 bpm"),
        ("late_per_10_min", 1.25, "late decelerations: 1.2 per 10 min"),
        ("area_log", np.log1p(2.0), "deceleration area: 2000 bpm·s per 10 seen min"),
        ("change_per_second_log_bpm", np.log(1.3), "mean change from second to second, outside events: 1.2 bpm"),
        ("minutes_since_acceleration", 11.5,
         "time since the last acceleration (the whole window where there is none): 12 min"),
        ("nice-ng229_before_mean", 1.25,
         "NICE NG229, mean of the minutes, half hour before: 1.2 (0 the mildest category, 2 the worst)"),
        ("below_baseline_by_30_root_fraction", 0.3, "more than 30 bpm below baseline: 9% of the time"),
    ],
)  # fmt: skip
def test_a_number_is_said_on_the_scale_a_reviewer_knows(name: str, value: float, expected: str) -> None:
    assert f"{number_words(name)}: {value_words(name, value)}" == expected


def test_every_number_that_may_be_named_has_words_of_its_own() -> None:
    made = reading(60)
    found = window_numbers(labour_of(made, SETTINGS.of_standards, seen=Seen(made)), 1800.0, 3600.0)
    shown = [name for name in found if not name.startswith(NOT_SHOWN)]
    words = [f"{number_words(name)}, {value_words(name, 1.0).lstrip('0123456789.')}" for name in shown]
    assert len(set(words)) >= len(shown) - 1  # the share that was lost is there twice, as it is and as its root
    assert not [said for said in words if "root" in said or "log" in said or "(log)" in said]
