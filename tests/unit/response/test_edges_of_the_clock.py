"""Both sides of every limit of the clock, each case counted by hand.

The limits are the unit's settings and our choice unless a source stands beside the case; times in minutes.
"""

import numpy as np
import pytest

from audit.response.acts import is_operative
from audit.response.episodes import episodes
from audit.response.record import births_by_fetus, suspect_times
from audit.response.responses import labour_of, respond
from audit.response.types import CareEvent, Episode, Response
from audit.setting_types import changed, plain
from audit.settings import load_settings
from audit.standards.types import TriggerSeries

SETTINGS = load_settings().response
M = 60.0


def clock(
    *events: tuple[float, str] | tuple[float, str, int | None],
    trigger: str = "pathological",  # escalation decides, target 15 min
    end: float = 120.0,
    open_end: bool = False,
    at_start: bool = False,
    birth: float | None = 180.0,
    tracing_end: float = 180.0,
    mode: str | None = None,
) -> Response:
    """A pattern of the minutes -20 to `end`, recognised at minute 0."""
    (response,) = respond(
        [Episode("figo-2015", trigger, -20 * M, 0.0, end * M, open_end, at_start=at_start)],
        labour_of(
            [CareEvent(minute * M, *event) for minute, *event in events],
            birth_s=None if birth is None else birth * M,
            second_stage_s=None,
            mode_of_birth=mode,
            tracing_end_s=tracing_end * M,
            events_recorded=True,
            settings=SETTINGS,
        ),
    )
    return response


@pytest.mark.parametrize(("minute", "told"), [(-20.1, False), (-20.0, True), (120.0, True), (120.1, False)])
def test_oxytocin_is_told_from_the_patterns_start_to_its_end_both_included(minute, told):
    assert (clock((minute, "oxytocin_increased")).oxytocin_s is not None) is told


def test_a_tracing_that_ended_before_the_target_says_after_how_many_minutes():
    cut = clock(end=9.0, open_end=True, tracing_end=9.0, birth=None)
    assert cut.status == "not_assessable"
    assert "ended 9 min after recognition, before the target of 15 min" in (cut.note or "")
    assert "the time of birth is unknown" in (cut.note or "")
    assert "unknown" not in (clock(end=9.0, open_end=True, tracing_end=9.0).note or "")


def test_oxytocin_after_birth_is_not_told():
    assert clock((100.0, "oxytocin_started"), birth=100.0).oxytocin_s == 6000.0
    assert clock((100.1, "oxytocin_started"), birth=100.0).oxytocin_s is None


@pytest.mark.parametrize(
    ("minute", "said"),
    [
        (-20.1, None),
        (-20.0, "20 min before recognition"),
        (0.0, "after 0 min"),
        (119.9, "after 120 min"),
        (120.0, None),
    ],
)
def test_a_test_is_told_while_the_pattern_lasts_and_nothing_was_done(minute, said):
    note = clock((minute, "scalp_stimulation"), trigger="suspicious_persistent").note or ""
    assert (f"scalp stimulation noted {said}" in note) is (said is not None)
    assert said is not None or "scalp" not in note


def test_a_test_at_the_time_of_the_act_or_after_it_is_not_told():
    act = (10.0, "position_change")
    for minute, told in ((9.9, True), (10.0, False), (11.0, False)):
        note = clock(act, (minute, "scalp_stimulation"), trigger="suspicious_persistent").note or ""
        assert ("a test" in note) is told


@pytest.mark.parametrize(
    ("minute", "said"), [(-5.0, "5 min before recognition"), (0.0, "0 min after recognition"), (5.0, "5 min after")]
)
def test_an_act_that_did_not_decide_is_told_with_its_time(minute, said):
    assert f"position change {said}" in (clock((minute, "position_change")).note or "")


@pytest.mark.parametrize(("after", "said"), [(1.0, "the tracing had ended 1 min before"), (0.9, None), (0.0, None)])
def test_a_late_act_a_minute_after_the_tracing_is_told_as_that(after, said):
    response = clock((30 + after, "senior_called"), open_end=True, end=30, tracing_end=30)
    assert (response.status, response.note) == ("late", said)
    # where the pattern was seen to end the tracing's end says nothing
    assert clock((35, "senior_called"), end=30, tracing_end=31).note is None


def test_a_pattern_that_was_there_at_the_start_is_told_as_such_where_a_clock_runs():
    assert "already there" in (clock((3, "senior_called"), at_start=True).note or "")
    assert clock((3, "senior_called")).note is None
    assert "already there" not in (clock((3, "senior_called"), at_start=True, birth=0.0).note or "")


@pytest.mark.parametrize(
    ("urgency", "before", "said"), [(1, 5, "urgency 1"), (None, 5, "urgency not given"), (2, 50, "urgency 2")]
)
def test_a_decision_in_force_is_told_with_its_age_and_urgency(urgency, before, said):
    # NICE NG192, category 1: within 30 minutes; without an urgency the 30 of ACOG/AAP. Both from memory.
    response = clock((-20.0 - before, "decision_for_birth", urgency), end=5.0)
    assert response.status == "under_way"
    assert (
        response.note
        == f"birth was decided {before} min before the pattern began ({said}) and the decision was in force"
    )


@pytest.mark.parametrize(("before", "told"), [(30.0, True), (30.1, False)])
def test_a_decision_is_told_while_its_published_half_hour_reaches_the_pattern(before, told):
    # NICE NG192, category 1: within 30 minutes (from memory); the half hour included
    assert (clock((-20.0 - before, "decision_for_birth", 1)).standing_decision_s is not None) is told


def test_the_first_of_two_acts_is_the_first_whatever_they_are_called():
    assert clock((3.0, "senior_called"), (10.0, "iv_fluid_bolus")).first_act_event == "senior_called"
    assert clock((10.0, "senior_called"), (3.0, "iv_fluid_bolus")).first_act_event == "iv_fluid_bolus"


def test_three_births_are_those_of_three_fetuses_in_order_of_time():
    noted = [CareEvent(at_s, "birth") for at_s in (17.0, 8.0, 1.0)]
    assert births_by_fetus(["C", "A", "B"], 1.0, noted) == {"A": 1.0, "B": 8.0, "C": 17.0}


@pytest.mark.parametrize(("counts", "status"), [(["decision"], "under_way"), (["escalation"], "resolved")])
def test_a_decision_is_in_force_only_where_the_trigger_counts_decisions(counts, status):
    triggers = plain(SETTINGS)["triggers"]
    rule = {**triggers["figo-2015/pathological"], "counts": counts}
    (response,) = respond(
        [Episode("figo-2015", "pathological", -20 * M, 0.0, 5 * M)],
        labour_of([CareEvent(-25 * M, "decision_for_birth", 1)],
        birth_s=None, second_stage_s=None, mode_of_birth=None, tracing_end_s=180 * M, events_recorded=True,
        settings=changed(SETTINGS, triggers={**triggers, "figo-2015/pathological": rule}),
    ))  # fmt: skip
    assert response.status == status


@pytest.mark.parametrize(
    ("events", "mode", "operative"),
    [
        ((), None, False),
        ((), "vaginal", False),
        ((), "Emergency Caesarean-section", True),
        ((), "forceps/ventouse", True),
        (("incision",), None, True),
        (("instrument_applied",), "spontaneous", True),
        (("decision_for_birth",), "spontaneous", False),
    ],
)
def test_an_operative_birth_is_told_by_its_mode_or_by_what_was_noted(events, mode, operative):
    assert is_operative([CareEvent(0.0, event) for event in events], mode, SETTINGS) is operative


@pytest.mark.parametrize(("by_s", "doubted"), [(60.0, False), (61.0, True)])
def test_times_are_out_of_order_from_more_than_a_minute_on(by_s, doubted):
    def suspects(events, *, birth_s=None, second_stage_s=None):
        found = suspect_times(events, birth_s=birth_s, second_stage_s=second_stage_s, settings=SETTINGS)
        return [suspect.event.event for suspect in found]

    early = [CareEvent(1000.0 + by_s, "decision_for_birth"), CareEvent(1000.0, "incision")]
    assert suspects(early) == (["incision", "decision_for_birth"] if doubted else [])
    assert suspects([*early, CareEvent(900.0, "decision_for_birth")]) == []  # there was a decision before
    assert suspects([CareEvent(1000.0 + by_s, "birth")], birth_s=1000.0) == ["birth"] * doubted
    assert suspects([CareEvent(1000.0 - by_s, "birth")], birth_s=1000.0) == ["birth"] * doubted
    assert suspects([], birth_s=1000.0, second_stage_s=1000.0 + by_s) == ["birth"] * doubted
    assert suspects([CareEvent(1000.0 + by_s, "incision")], birth_s=1000.0) == ["incision"] * doubted


def found_at(start_minute: int, begun_minute: float, unseen: int = 0) -> bool:
    """Whether a pattern that began then is told as there at the start, of a tracing with so many unseen minutes."""
    at_s = M * np.arange(1, 41)
    met = at_s >= start_minute * M
    series = TriggerSeries(
        "figo-2015", "pathological", at_s, met, at_s <= unseen * M, np.where(met, begun_minute * M, np.nan)
    )
    (episode,) = episodes(series, settings=SETTINGS)
    return episode.at_start


@pytest.mark.parametrize(("begun", "at_start"), [(0.0, True), (5.0, True), (5.05, False), (10.0, False)])
def test_a_pattern_of_the_first_five_minutes_was_there_at_the_start(begun, at_start):
    assert found_at(20, begun) is at_start


def test_a_state_from_the_first_minute_that_could_be_judged_was_there_at_the_start():
    assert found_at(13, 12.0, unseen=12)
    assert not found_at(14, 13.0, unseen=12)


def test_a_decision_that_ends_a_millionth_of_a_second_early_is_in_force_for_that_is_rounding():
    # NICE NG192, category 1: within 30 minutes (from memory); the millionth is our choice
    for begun_s, told in ((1e-6, True), (2e-6, False)):
        (response,) = respond(
            [Episode("figo-2015", "pathological", begun_s, 60.0, 3600.0)],
            labour_of([CareEvent(-1800.0, "decision_for_birth", 1)],
            birth_s=None, second_stage_s=None, mode_of_birth=None, tracing_end_s=7200.0, events_recorded=True,
            settings=SETTINGS,
        ))  # fmt: skip
        assert (response.standing_decision_s is not None) is told


@pytest.mark.parametrize(
    ("rounding_min", "at_s", "answers"),
    [(0.0, 0.0, True), (0.0, -0.1, False), (2.0, -119.9, True), (2.0, -120.1, False)],
)
def test_an_act_answers_from_the_patterns_start_on_less_the_rounding_of_notes(rounding_min, at_s, answers):
    (response,) = respond(
        [Episode("figo-2015", "pathological", 1e-6, 60.0, 3600.0)],
        labour_of([CareEvent(at_s, "decision_for_birth", 1)],
        birth_s=None, second_stage_s=None, mode_of_birth=None, tracing_end_s=7200.0, events_recorded=True,
        settings=changed(SETTINGS, note_rounding_minutes=rounding_min),
    ))  # fmt: skip
    assert (response.first_act_s == at_s, response.standing_decision_s == at_s) == (answers, not answers)


def test_of_two_decisions_at_one_moment_the_less_urgent_is_the_last_in_whichever_order_they_are_listed():
    both = (-25.0, "decision_for_birth", 1), (-25.0, "decision_for_birth", 2)
    assert [clock(*listed).standing_decision_urgency for listed in (both, both[::-1])] == [2, 2]


@pytest.mark.parametrize(("minute", "status"), [(129.9, "not_assessable"), (130.5, "none_recorded")])
def test_times_out_of_order_matter_for_as_long_as_a_decision_is_in_force(minute, status):
    # 15 min after the pattern's end at minute 40, and the 75 min of NICE NG192 (from memory)
    found = clock((minute, "theatre_arrival"), (minute, "incision"), (150.0, "decision_for_birth"), end=40.0)
    assert found.status == status


def test_a_doubtful_time_of_what_answers_nothing_leaves_the_verdict():
    assert clock((185.0, "scalp_stimulation")).status == "none_recorded"  # noted after birth
    assert clock((185.0, "decision_for_birth")).status == "not_assessable"


def test_half_of_a_short_pattern_without_signal_is_told():
    (response,) = respond(
        [Episode("figo-2015", "pathological", 0.0, 60.0, 180.0, True, unseen_minutes=1.0)], labour_of([], birth_s=None,
        second_stage_s=None, mode_of_birth=None, tracing_end_s=9000.0, events_recorded=True, settings=SETTINGS,
    ))  # fmt: skip
    assert response.note == "no usable signal for 1 of its 2 min"
