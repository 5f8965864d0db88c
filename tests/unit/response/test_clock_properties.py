"""What holds whatever happens: random minutes, random records."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.response.episodes import episodes
from audit.response.responses import labour_of, respond
from audit.response.rules import BUILT_IN
from audit.response.types import CareEvent, Episode
from audit.settings import load_settings
from audit.standards.types import TriggerSeries

SETTINGS = load_settings().response
EVENTS = sorted({event for events in SETTINGS.event_classes.values() for event in events} - {"birth"})
minutes = st.floats(-120, 400, allow_nan=False).map(lambda value: round(value, 2))
acts = st.lists(st.tuples(minutes, st.sampled_from(EVENTS)), max_size=8)
nothing = st.lists(st.tuples(minutes, st.sampled_from(["oxygen_given", "epidural"])), max_size=3)
quick = settings(max_examples=150)


def judge(trigger, events, *, birth, end, open_end, mode=None):
    (response,) = respond(
        [Episode(*trigger, -600.0, 0.0, 60.0 * end, open_end)],
        labour_of(
            [CareEvent(60.0 * at, event) for at, event in events],
            birth_s=None if birth is None else 60.0 * birth,
            second_stage_s=None,
            mode_of_birth=mode,
            tracing_end_s=60.0 * end if open_end else 60.0 * (end + 30),
            events_recorded=True,
            settings=SETTINGS,
        ),
    )
    return response


labours = {
    "trigger": st.sampled_from(sorted(BUILT_IN)),
    "birth": st.none() | st.floats(-10, 400),
    "end": st.floats(0, 300),
    "open_end": st.booleans(),
    "mode": st.sampled_from([None, "spontaneous", "caesarean"]),
}


@quick
@given(events=acts, **labours)
def test_the_numbers_never_contradict_the_status(events, trigger, **labour):
    response = judge(trigger, events, **labour)
    waited = response.minutes_to_response
    assert (waited is not None) == (response.status in ("in_time", "late")) == (response.response_s is not None)
    if response.status == "in_time":
        assert -11.0 - 1e-6 <= waited <= response.target_minutes
        assert response.status != "under_way"
    if response.status == "late":
        assert waited > response.target_minutes
    if response.response_s is not None and labour["birth"] is not None:
        assert response.response_s <= 60.0 * labour["birth"] + 1e-6
    if response.status == "born_first":
        assert response.minutes_to_birth <= response.target_minutes + 1e-6
    if response.response_event is not None:
        assert response.response_event not in SETTINGS.event_classes["test"] | {"oxygen_given"}


@quick
@given(events=acts, at=st.floats(0, 6), **labours)
def test_a_call_soon_after_recognition_never_makes_a_case_late(events, at, trigger, **labour):
    if labour["birth"] is not None and labour["birth"] <= at:
        return
    response = judge(trigger, [*events, (at, "senior_called")], **labour)
    assert response.status in ("in_time", "under_way")


@quick
@given(
    events=acts,
    extra=st.lists(st.tuples(minutes, st.sampled_from(["oxygen_given", "epidural"])), max_size=3),
    **labours,
)
def test_what_never_counts_changes_nothing(events, extra, trigger, **labour):
    with_extra = judge(trigger, [*events, *extra], **labour)
    without = judge(trigger, events, **labour)
    assert (with_extra.status, with_extra.minutes_to_response) == (without.status, without.minutes_to_response)


@quick
@given(marks=st.text(alphabet="M.?!", max_size=80))
def test_episodes_are_apart_in_order_and_start_where_the_criteria_were_met(marks):
    met = np.array([mark in "M!" for mark in marks], dtype=bool)
    unseen = np.array([mark in "?!" for mark in marks], dtype=bool)
    at_s = 60.0 * np.arange(1, len(marks) + 1)
    series = TriggerSeries("figo-2015", "pathological", at_s, met, unseen, np.where(met, at_s - 60.0, np.nan))
    found = episodes(series, settings=SETTINGS)
    last_end = -1.0
    for episode in found:
        first = int(episode.recognisable_s // 60) - 1
        assert met[first]
        assert not unseen[first]
        assert episode.recognisable_s > last_end
        assert episode.pattern_start_s <= episode.recognisable_s <= episode.end_s
        assert 0 <= episode.unseen_minutes <= (episode.end_s - episode.recognisable_s) / 60.0
        last_end = episode.end_s
    # every seen minute with the criteria lies within an episode
    for at in at_s[met & ~unseen]:
        assert any(episode.recognisable_s <= at <= episode.end_s for episode in found)
    assert all(not episode.open_end for episode in found[:-1])
