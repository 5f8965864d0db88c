"""What a category and a clock hang on where a fall lasted about 10 minutes.

NICHD 2008: from 10 minutes on a change of the baseline. FIGO 2015: pathological is one deceleration of more than 5 min;
NICE NG229: red is one of 3 min or more; under either a baseline of 115 bpm is a normal one.
"""

from functools import lru_cache

import pytest

from audit.response.episodes import episodes, only_otherwise
from audit.settings import load_settings
from audit.tracing.types import Reading
from tests.reading_builder import minutes_of, window_of
from tests.textbook import Dip, read, strip

SETTINGS = load_settings()
EVENT = "hinges on one deceleration of 9 min 58 s that could last 10 min or more, and so be a change of baseline: then "
LEVEL = "hinges on one change of baseline of about 10 min that could be a deceleration: then "
NAMES = [
    ("nichd-2008", "I", "II"),
    ("figo-2015", "normal", "pathological"),
    ("nice-ng229", "normal", "pathological"),
]


@lru_cache
def fall_of(length_s: float) -> Reading:
    """From 145 to 115 bpm at 15 min."""
    return read(strip(60, baseline=145.0, dips=[Dip(900.0, 30.0, 10.0, length_s - 20.0, 10.0)], seed=201))


@pytest.mark.parametrize(("name", "mild", "severe"), NAMES)
@pytest.mark.parametrize(("length_s", "own"), [(590.0, EVENT), (605.0, LEVEL)])
def test_both_categories_are_told(length_s: float, own: str, name: str, mild: str, severe: str) -> None:
    found = minutes_of(name, fall_of(length_s))
    read_as, other = (severe, mild) if own == EVENT else (mild, severe)
    at_30_min = 29
    assert found.categories[at_30_min] == read_as
    assert [words for words in found.reasons[at_30_min] if "hinges" in words] == [own + other]
    window = window_of(name, fall_of(length_s), 600.0, 1800.0, window_rule="final")
    assert own + other in window.reasons


@pytest.mark.parametrize(("name", "mild", "severe"), NAMES)
@pytest.mark.parametrize("length_s", [590.0, 605.0])
def test_until_ten_minutes_are_over_it_is_a_fall_either_way(length_s: float, name: str, mild: str, severe: str) -> None:
    found = minutes_of(name, fall_of(length_s))
    assert found.categories[13] == mild
    assert found.categories[22] == severe
    assert not any("hinges" in words for reasons in found.reasons[:23] for words in reasons)


@pytest.mark.parametrize("length_s", [560.0, 660.0])
def test_further_from_ten_minutes_nothing_is_said(length_s: float) -> None:
    for name, _, _ in NAMES:
        assert not any(
            "hinges" in words for reasons in minutes_of(name, fall_of(length_s)).reasons for words in reasons
        )


def test_a_concern_tells_how_it_goes_on_either_way() -> None:
    # the same recognition either way, so no other time is told; the deceleration holds the class for half an hour
    found = minutes_of("figo-2015", fall_of(605.0)).triggers["pathological"]
    other = found.if_shorter
    assert found.if_longer is None
    assert other is not None
    assert (found.met[30], other.met[30]) == (False, True)
    clock = episodes(found, settings=SETTINGS.response)
    assert len(clock) == 1
    assert only_otherwise(clock, found, settings=SETTINGS.response) == []
