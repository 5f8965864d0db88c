"""The clock of one fetus as rows: clocks put together, the tracing's own start, twins, a unit's own trigger."""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pytest

from audit.analysis.clock import CaseClock, case_clock
from audit.response.rules import ResponseSettings
from audit.setting_types import changed, plain
from audit.settings import load_settings
from audit.standards.types import MinuteCategories, TriggerSeries

SETTINGS = load_settings().response


@dataclass
class Case:
    """What the job knows of one fetus's labour."""

    start_s: float
    facts: dict[str, Any]
    events: list[dict[str, Any]]
    windows: list[dict[str, Any]] = field(default_factory=list)


def clock_of(case: Case, minutes: dict[str, MinuteCategories], settings: ResponseSettings = SETTINGS) -> CaseClock:
    return case_clock(
        minutes,
        start_s=case.start_s,
        end_s=case.start_s + 7200.0,
        facts=case.facts,
        events=case.events,
        reads=case.windows,
        settings=settings,
    )


def judged(met: slice, minutes: int = 120) -> dict[str, MinuteCategories]:
    codes = np.zeros(minutes, dtype=np.int64)
    codes[met] = 2
    at_s = 60.0 * np.arange(1, minutes + 1)
    reasons = [("late decelerations",) if c == 2 else () for c in codes]
    begun_s = np.where(codes == 2, 60.0 * met.start - 600.0, np.nan)
    unseen = np.zeros(minutes, dtype=bool)
    series = TriggerSeries("figo-2015", "pathological", at_s, codes == 2, unseen, begun_s, reasons)
    levels = ("normal", "suspicious", "pathological")
    return {"figo-2015": MinuteCategories("figo-2015", "2015", at_s, codes, levels, reasons, {"pathological": series})}


def case(start_s: float = 0.0, **more: Any) -> Case:
    facts = {"birth_s": start_s + 7000.0, "second_stage_s": None, "mode_of_birth": "spontaneous"}
    events = [{"at_s": start_s + 60.0 * 61 + 20 * 60, "event": "senior_called"}]
    windows = [
        {
            "reader": "r1", "start_s": start_s + 1800.0, "end_s": start_s + 3600.0, "standard": "figo-2015",
            "category": "pathological", "would_act": True, "outcome_hidden": True, "occasion": 1,
        }
    ]  # fmt: skip
    return Case(start_s, facts | more, events, windows)


def test_rows_are_on_the_cases_clock():
    clock = clock_of(case(1000.5), judged(slice(60, 110)))
    (episode,) = clock.episodes
    assert (episode.recognisable_s, episode.pattern_start_s) == (1000.5 + 61 * 60, 1000.5 + 3000)
    assert episode.reasons == ("late decelerations",)
    (response,) = clock.responses
    assert (response.status, response.minutes_to_response) == ("late", pytest.approx(20))
    (reader,) = clock.reader_clocks
    assert (reader.recognisable_s, reader.status) == (1000.5 + 3600, "late")


def test_what_falls_of_one_kind_alone_would_make_is_on_the_cases_clock_and_starts_none():
    minutes = judged(slice(60, 60))
    other = judged(slice(60, 110))["figo-2015"].triggers["pathological"]
    own = replace(minutes["figo-2015"].triggers["pathological"], if_gradual=other)
    clock = clock_of(case(1000.5), {"figo-2015": replace(minutes["figo-2015"], triggers={"pathological": own})})
    assert (clock.episodes, clock.responses) == ([], [])
    (possible,) = clock.possible
    assert (possible.falls_taken_as, possible.recognisable_s) == ("gradual", 1000.5 + 61 * 60)


@pytest.mark.parametrize("start_s", [0.25, -431.75, 99999.0])
def test_the_tracings_own_start_changes_no_interval(start_s):
    here = clock_of(case(), judged(slice(60, 110)))
    there = clock_of(case(start_s), judged(slice(60, 110)))
    for name in ("responses", "reader_clocks"):
        for a, b in zip(getattr(here, name), getattr(there, name), strict=True):
            assert b.status == a.status
            assert b.minutes_to_response == pytest.approx(a.minutes_to_response)
            assert b.recognisable_s - start_s == pytest.approx(a.recognisable_s)


def test_no_events_at_all_makes_the_clock_not_assessable():
    silent = case()
    silent.events.clear()
    clock = clock_of(silent, judged(slice(60, 110)))
    assert [row.status for row in clock.responses + clock.reader_clocks] == ["not_assessable"] * 2


def test_nothing_found_gives_no_rows_and_an_empty_tracing_is_no_error():
    clock = clock_of(Case(0.0, {}, []), judged(slice(60, 60)))
    assert (clock.episodes, clock.responses, clock.reader_clocks) == ([], [], [])
    empty = clock_of(Case(0.0, {}, []), judged(slice(0, 0), minutes=0))
    assert empty.episodes == []


def test_a_units_own_trigger_gets_its_episodes():
    own = {"target_minutes": 10.0, "counts": ["escalation"], "categories": ["pathological"], "for_minutes": 30.0}
    settings = changed(SETTINGS, triggers={**plain(SETTINGS)["triggers"], "figo-2015/half_hour": own})
    clock = clock_of(case(), judged(slice(60, 110)), settings)
    found = {row.trigger: row.recognisable_s / 60 for row in clock.episodes}
    assert found == {"pathological": 61, "half_hour": 90}
