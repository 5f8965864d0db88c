"""The invented unit's planted answers: the long delays are found, and nothing answered promptly is called late.

The truth is the generator's: which case waited, which was answered from the first minutes of its pattern on, which
has no record. It was planted by the drawn pattern and the published criteria, not by any reading.
"""

import pytest

from audit.analysis.clock import case_clock
from audit.settings import load_settings
from audit.standards.registry import STANDARDS
from audit.standards.seen import Seen
from audit.tracing.read import read_tracing
from audit.tracing.types import Tracing
from synthetic_cases.build import DrawnCase, build
from synthetic_cases.scenario import unit
from synthetic_cases.write import DEFAULT_SEED

pytestmark = pytest.mark.accuracy

SETTINGS = load_settings()
MONTHS, PER_MONTH = 8, 30


def responses(drawn: DrawnCase) -> list[dict]:
    recording = drawn.recordings["A"]
    weeks = drawn.spec.gestation_weeks
    tracing = Tracing(
        fhr_bpm=recording.fhr_bpm,
        toco=recording.toco,
        mhr_bpm=recording.mhr_bpm,
        fhr_sensor=drawn.spec.fhr_sensor,
    )
    reading = read_tracing(tracing, SETTINGS.tracing)
    seen = Seen(reading, gestation_weeks=weeks)
    minutes = {
        name: one.minute_categories(reading, SETTINGS.of_standards[name], seen=seen) for name, one in STANDARDS.items()
    }
    clock = case_clock(
        minutes,
        start_s=0.0,
        end_s=reading.duration_s,
        facts=drawn.facts,
        events=[{"at_s": event.at_s, "event": event.event} for event in drawn.events],
        reads=[],
        settings=SETTINGS.response,
    )
    return [vars(response) for response in clock.responses]


@pytest.fixture(scope="module")
def story() -> list[tuple[DrawnCase, list[dict]]]:
    """Every case with a planted pattern or without a record, and what the clock says of it."""
    told = []
    for spec in unit(DEFAULT_SEED, MONTHS, PER_MONTH):
        if spec.archetype != "unremarkable" or "no_events" in spec.specials:
            drawn = build(spec, DEFAULT_SEED)
            told.append((drawn, responses(drawn)))
    return told


def of_pace(story, pace: str) -> list[tuple[DrawnCase, list[dict]]]:
    return [(drawn, rows) for drawn, rows in story if any(planted.pace == pace for planted in drawn.responses)]


def test_every_long_delay_is_found_under_every_standard_that_saw_the_pattern(story):
    waited = of_pace(story, "long_delay")
    assert len(waited) == 2
    for drawn, rows in waited:
        late = {row["standard"] for row in rows if row["status"] == "late" and row["minutes_to_response"] > 60}
        assert late == {"nichd-2008", "figo-2015", "nice-ng229"}, drawn.spec.case_id


def test_nothing_answered_promptly_is_called_late(story):
    prompt = of_pace(story, "prompt")
    assert len(prompt) >= 50
    wrong = [
        (drawn.spec.case_id, drawn.spec.archetype, row["standard"], row["trigger"], row["minutes_to_response"])
        for drawn, rows in prompt
        for row in rows
        if row["status"] == "late"
    ]
    assert wrong == []


def test_a_case_without_a_record_is_not_assessable_and_never_late(story):
    silent = [rows for drawn, rows in story if not drawn.events]
    assert len(silent) == 3
    assert {row["status"] for rows in silent for row in rows} <= {"not_assessable"}


def test_an_answer_that_was_never_noted_is_neither_late_nor_in_time(story):
    unnoted = of_pace(story, "unrecorded")
    assert len(unnoted) == 3
    for drawn, rows in unnoted:
        assert {row["status"] for row in rows} <= {"none_recorded", "resolved"}, drawn.spec.case_id
