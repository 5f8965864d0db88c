"""The clock of one fetus as rows: clocks put together, the tracing's own start, twins, a unit's own trigger."""

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from audit.response.clock import case_clock
from audit.settings import load_settings
from audit.standards.types import MinuteCategories, TriggerSeries

TABLE = load_settings().tables["response"]


@dataclass
class Case:
    start_s: float
    facts: dict[str, Any]
    events: list[dict[str, Any]]
    windows: list[dict[str, Any]] = field(default_factory=list)
    fetus: str = "A"
    minutes: int = 120

    @property
    def tracing(self) -> SimpleNamespace:
        return SimpleNamespace(start_s=self.start_s, sample_rate_hz=4.0, fhr_bpm=np.zeros(240 * self.minutes))


def judged(met: slice, minutes: int = 120) -> dict[str, MinuteCategories]:
    codes = np.zeros(minutes, dtype=np.int64)
    codes[met] = 2
    series = TriggerSeries(
        codes == 2, np.zeros(minutes, dtype=bool), np.where(codes == 2, 60.0 * met.start - 600.0, np.nan)
    )
    return {
        "figo-2015": MinuteCategories(
            "figo-2015", "2015", 60.0 * np.arange(1, minutes + 1), codes, ("normal", "suspicious", "pathological"),
            [("late decelerations",) if c == 2 else () for c in codes], {"pathological": series},
        )
    }  # fmt: skip


def case(start_s: float = 0.0, **more: Any) -> Case:
    facts = {"birth_s": start_s + 7000.0, "second_stage_s": None, "mode_of_birth": "spontaneous", "plurality": 1}
    events = [{"at_s": start_s + 60.0 * 61 + 20 * 60, "event": "senior_called"}]
    windows = [
        {
            "reader": "r1", "start_s": start_s + 1800.0, "end_s": start_s + 3600.0, "standard": "figo-2015",
            "category": "pathological", "would_act": True, "outcome_hidden": True, "occasion": 1,
        }
    ]  # fmt: skip
    return Case(start_s, facts | more, events, windows)


def test_rows_are_on_the_cases_clock():
    clock = case_clock(case(1000.5), judged(slice(60, 110)), TABLE)
    (episode,) = clock.episodes
    assert (episode["recognisable_s"], episode["pattern_start_s"]) == (1000.5 + 61 * 60, 1000.5 + 3000)
    assert episode["reasons"] == ("late decelerations",)
    (response,) = clock.responses
    assert (response["status"], response["minutes_to_response"]) == ("late", pytest.approx(20))
    (reader,) = clock.reader_clocks
    assert (reader["recognisable_s"], reader["status"]) == (1000.5 + 3600, "late")


@pytest.mark.parametrize("start_s", [0.25, -431.75, 99999.0])
def test_the_tracings_own_start_changes_no_interval(start_s):
    here = case_clock(case(), judged(slice(60, 110)), TABLE)
    there = case_clock(case(start_s), judged(slice(60, 110)), TABLE)
    for name in ("responses", "reader_clocks"):
        for a, b in zip(getattr(here, name), getattr(there, name), strict=True):
            assert b["status"] == a["status"]
            assert b["minutes_to_response"] == pytest.approx(a["minutes_to_response"])
            assert b["recognisable_s"] - start_s == pytest.approx(a["recognisable_s"])


def test_no_events_at_all_makes_the_clock_not_assessable():
    silent = case()
    silent.events.clear()
    clock = case_clock(silent, judged(slice(60, 110)), TABLE)
    assert [row["status"] for row in clock.responses + clock.reader_clocks] == ["not_assessable"] * 2


def test_each_twin_has_its_own_birth():
    twins = case(plurality=2)
    twins.events += [{"at_s": 7000.0, "event": "birth"}, {"at_s": 7600.0, "event": "birth"}]
    first = case_clock(twins, judged(slice(60, 110)), TABLE).responses[0]
    twins.fetus = "B"
    second = case_clock(twins, judged(slice(60, 110)), TABLE).responses[0]
    assert second["minutes_to_birth"] - first["minutes_to_birth"] == pytest.approx(10)


def test_nothing_found_gives_no_rows_and_an_empty_tracing_is_no_error():
    clock = case_clock(Case(0.0, {}, []), judged(slice(60, 60)), TABLE)
    assert (clock.episodes, clock.responses, clock.reader_clocks) == ([], [], [])
    empty = case_clock(Case(0.0, {}, [], minutes=0), judged(slice(0, 0), minutes=0), TABLE)
    assert empty.episodes == []


def test_a_units_own_trigger_gets_its_episodes():
    own = {"target_minutes": 10.0, "counts": ["escalation"], "categories": ["pathological"], "for_minutes": 30.0}
    table = {**TABLE, "triggers": {**TABLE["triggers"], "figo-2015/half_hour": own}}
    clock = case_clock(case(), judged(slice(60, 110)), table)
    found = {row["trigger"]: row["recognisable_s"] / 60 for row in clock.episodes}
    assert found == {"pathological": 61, "half_hour": 90}
