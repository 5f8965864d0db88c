"""Both sides of every limit of the clock and of what is counted beside it, each case counted by hand.

The limits are the unit's settings and our choice unless a source stands beside the case; times in minutes.
Over 400 lines: all of them are asked of patterns that one function makes.
"""

from dataclasses import replace

import numpy as np
import pytest

from audit.response.act_effect import LabourMinutes, changes, pools
from audit.response.acts import is_operative
from audit.response.agreed import agreed_clock
from audit.response.birth_intervals import birth_interval
from audit.response.episodes import episodes
from audit.response.hourly import hourly_audit
from audit.response.oxytocin import OxytocinWait, on_oxytocin, oxytocin_use, tachysystole_spans
from audit.response.parts import Noted, Wait, longest, parts, points
from audit.response.readers import reader_clocks
from audit.response.record import births_by_fetus, suspect_times
from audit.response.responses import respond
from audit.response.types import CareEvent, Episode, Read, Response
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
        [CareEvent(minute * M, *event) for minute, *event in events],
        birth_s=None if birth is None else birth * M,
        second_stage_s=None,
        mode_of_birth=mode,
        tracing_end_s=tracing_end * M,
        events_recorded=True,
        settings=SETTINGS,
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
        [CareEvent(-25 * M, "decision_for_birth", 1)],
        birth_s=None, second_stage_s=None, mode_of_birth=None, tracing_end_s=180 * M, events_recorded=True,
        settings=changed(SETTINGS, triggers={**triggers, "figo-2015/pathological": rule}),
    )  # fmt: skip
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


H = 3600.0


def oxytocin(*pairs):
    return [CareEvent(at, f"oxytocin_{what}") for at, what in pairs]


def test_oxytocin_at_the_moment_of_birth_is_none_and_a_reduction_begins_a_span():
    assert on_oxytocin(oxytocin((H, "started")), H) == []
    assert on_oxytocin(oxytocin((H - 1, "started")), H) == [(H - 1, H)]
    assert on_oxytocin(oxytocin((H, "reduced")), 2 * H) == [(H, 2 * H)]
    assert on_oxytocin(oxytocin((H, "started"), (2 * H, "stopped"), (2 * H, "started")), 3 * H) == [
        (H, 2 * H),
        (2 * H, 3 * H),
    ]


def test_an_increase_counts_from_the_concerns_first_moment_and_not_at_its_last():
    own = oxytocin((0.0, "started"), (H, "increased"), (2 * H, "increased"))
    assert oxytocin_use(own, [(H, 2 * H)], [], end_s=4 * H).increases_in_concern == 1
    assert oxytocin_use(own, [(H - 1, 2 * H + 1)], [], end_s=4 * H).increases_in_concern == 2


def test_a_reduction_at_either_end_of_a_concern_ends_its_wait():
    for at_s, minutes, reduced in ((H, 0.0, True), (2 * H, 60.0, True), (2 * H + 1, 60.0, False)):
        found = oxytocin_use(oxytocin((0.0, "started"), (at_s, "reduced")), [(H, 2 * H)], [], end_s=4 * H)
        assert found.waits == (OxytocinWait("concern", H, minutes, reduced),)


def test_oxytocin_that_stopped_as_a_concern_began_or_began_as_it_ended_is_not_counted():
    assert oxytocin_use(oxytocin((0.0, "started"), (H, "stopped")), [(H, 2 * H)], [], end_s=4 * H).waits == ()
    assert oxytocin_use(oxytocin((2 * H, "started")), [(H, 2 * H)], [], end_s=4 * H).waits == ()


def test_concerns_that_touch_are_one_wait_and_those_apart_are_two():
    own = oxytocin((0.0, "started"))
    for gap_s, count in ((0.0, 1), (1.0, 2)):
        spans = [(H, 2 * H), (2 * H + gap_s, 3 * H)]
        assert len(oxytocin_use(own, spans, [], end_s=4 * H).waits) == count


def test_half_hours_of_segments_that_follow_each_other_to_the_second():
    limit = load_settings().nichd_2008.tachysystole  # NICHD 2008: more than 5 in 10 minutes, over 30
    assert tachysystole_spans([0.0, 600.0, 1201.0], [6.0] * 3, limit) == [(0.0, 1801.0)]
    assert tachysystole_spans([0.0, 600.0, 1201.5], [6.0] * 3, limit) == []
    assert tachysystole_spans([0.0, 600.0], [9.0] * 2, limit) == []


STANDARD = "nice-ng229"
WAIT = Wait(STANDARD, "pathological", 0.0, 600.0, 7200.0, -60.0, 8100.0, 10800.0, 10200.0)


def steps(*noted, wait=WAIT):
    return {point.step: point.at_s for point in points(wait, noted)}


@pytest.mark.parametrize(("at_s", "counts"), [(-61.0, False), (-60.0, True), (8100.0, True), (8101.0, False)])
def test_a_call_answers_from_the_first_to_the_last_moment_both_included(at_s, counts):
    assert (steps(Noted(at_s, "senior_called"))["escalated"] is not None) is counts


@pytest.mark.parametrize(("at_s", "theatre_s"), [(2999.0, None), (3000.0, 3000.0), (9000.0, 9000.0)])
def test_the_theatre_is_reached_from_the_decision_on(at_s, theatre_s):
    assert steps(Noted(3000.0, "decision_for_birth"), Noted(at_s, "theatre_arrival"))["theatre"] == theatre_s
    assert steps(Noted(at_s, "theatre_arrival"))["theatre"] is None


def test_of_two_calls_and_two_arrivals_the_first_counts():
    noted = [Noted(at_s, what) for what in ("senior_called", "theatre_arrival") for at_s in (4000.0, 3500.0)]
    found = steps(*noted, Noted(3000.0, "decision_for_birth"))
    assert (found["escalated"], found["theatre"]) == (3500.0, 3500.0)


@pytest.mark.parametrize(
    ("category", "worst_s", "any_s"),
    [
        ("normal", None, None),
        ("suspicious", None, 900.0),
        ("pathological", 900.0, 900.0),
        ("not assessable", None, None),
    ],
)
def test_recorded_as_such_by_tier(category, worst_s, any_s):
    seen = Noted(900.0, "assessment", STANDARD, category)
    assert steps(seen)["recorded"] == worst_s
    assert steps(seen, wait=replace(WAIT, trigger="suspicious_persistent"))["recorded"] == any_s


def test_a_pattern_that_ends_with_the_call_was_resolved_only_without_it():
    wait = replace(WAIT, resolved_s=1800.0)
    assert parts(wait, points(wait, []))[-1].end == "resolved"
    called = parts(wait, points(wait, [Noted(1800.0, "senior_called")]))
    assert [(part.until, part.end) for part in called[1:]] == [("escalated", "reached"), ("senior_there", "resolved")]
    assert longest(called).until == "escalated"


def read(start: float, end: float, category: str, **more: object) -> Read:
    fields: dict[str, object] = {"standard": "figo-2015", "outcome_hidden": True, **more}
    return Read(reader="r1", start_s=start * M, end_s=end * M, category=category, **fields)


def test_of_two_concerning_windows_the_one_that_ends_first_starts_the_clock_and_one_begun_before_ends_nothing():
    found = reader_clocks(
        [read(0, 60, "pathological"), read(10, 40, "pathological"), read(5, 50, "normal"), read(40, 44, "normal")],
        [CareEvent(-60 * M, "epidural")],
        birth_s=300 * M, second_stage_s=None, mode_of_birth=None, tracing_end_s=300 * M, events_recorded=True,
        settings=SETTINGS,
    )  # fmt: skip
    assert [(clock.recognisable_s, clock.status) for clock in found] == [(40 * M, "resolved")]
    earlier_only = reader_clocks(
        [read(10, 40, "pathological"), read(5, 50, "normal")],
        [CareEvent(-60 * M, "epidural")],
        birth_s=300 * M, second_stage_s=None, mode_of_birth=None, tracing_end_s=300 * M, events_recorded=True,
        settings=SETTINGS,
    )  # fmt: skip
    assert [clock.status for clock in earlier_only] == ["none_recorded"]


# NICE NG229 (from memory): an assessment at least every hour; hours are half-open, counted from the first sample
@pytest.mark.parametrize(("end_s", "hours"), [(3599.0, 0), (3600.0, 1), (7199.9, 1), (7200.0, 2)])
def test_an_hour_is_judged_once_it_is_whole(end_s, hours):
    assert hourly_audit([0.0], ["midwife"], start_s=0.0, end_s=end_s).hours == hours


def test_assessments_at_the_first_and_at_the_last_moment_count_and_others_do_not():
    found = hourly_audit([99.0, 100.0, 7300.0, 7301.0], ["midwife"] * 4, start_s=100.0, end_s=7300.0)
    assert (found.hours, found.assessed, found.assessments, found.longest_gap_minutes) == (2, 1, 2, 120.0)


def test_a_decision_at_the_moment_of_birth_is_one_before_it():
    events = [CareEvent(0.0, "decision_for_birth"), CareEvent(600.0, "decision_for_birth")]
    found = birth_interval(events, birth_s=600.0)
    assert (found.decision_s, found.decision_to_birth_minutes) == (600.0, 0.0)
    assert birth_interval(events, birth_s=599.0).decision_s == 0.0
    at_once = birth_interval([CareEvent(0.0, "decision_for_birth"), CareEvent(0.0, "incision")], birth_s=600.0)
    assert at_once.decision_to_incision_minutes == 0.0


def agreed(act_minute: float | None, birth_minute: float | None):
    act = None if act_minute is None else (act_minute * M, "senior_called")
    return agreed_clock(
        concern=True, recognisable_s=0.0, first_act=None, escalation=act, decided_by="escalation", target_minutes=15.0,
        birth_s=None if birth_minute is None else birth_minute * M,
    ).status  # fmt: skip


def test_what_a_meeting_agreed_at_the_target_and_at_birth():
    assert [agreed(minute, None) for minute in (15.0, 15.1)] == ["in_time", "late"]
    assert [agreed(None, minute) for minute in (15.0, 15.1)] == ["born_first", "none_recorded"]
    assert [agreed(20.0, minute) for minute in (15.0, 20.0, 19.9)] == ["born_first", "late", "none_recorded"]
    assert agreed(10.0, 10.0) == "in_time"


def labour(ranks, contractions):
    return LabourMinutes("a", np.array(ranks), np.zeros(len(ranks)), np.array(contractions, float))


@pytest.mark.parametrize(("usable", "known"), [(15, True), (14, False)])
def test_contractions_are_compared_where_half_of_either_side_was_usable(usable, known):
    for before in (True, False):
        felt = np.full(61, 0.4)
        (felt[: 30 - usable] if before else felt[31 + usable :])[:] = np.nan
        change = changes(labour([1] * 61, felt))[30]
        assert np.isfinite(change[2]) == known
        assert not known or change[2] == pytest.approx(0.0)


def test_random_moments_keep_thirty_minutes_from_every_act_and_from_the_ends():
    one = labour([1] * 200, [0.4] * 200)
    # minutes 30 to 169 have two whole sides; 70 to 130 lie within 30 minutes of the act
    assert len(pools([one], [])[1]) == 140
    assert len(pools([one], [(0, 100)])[1]) == 140 - 61
    assert len(pools([one], [(0, 10)])[1]) == 140 - 11  # minutes 30 to 40
    assert len(pools([one], [])[0]) == 0


def test_a_decision_that_ends_a_millionth_of_a_second_early_is_in_force_for_that_is_rounding():
    # NICE NG192, category 1: within 30 minutes (from memory); the millionth is our choice
    for begun_s, told in ((1e-6, True), (2e-6, False)):
        (response,) = respond(
            [Episode("figo-2015", "pathological", begun_s, 60.0, 3600.0)],
            [CareEvent(-1800.0, "decision_for_birth", 1)],
            birth_s=None, second_stage_s=None, mode_of_birth=None, tracing_end_s=7200.0, events_recorded=True,
            settings=SETTINGS,
        )  # fmt: skip
        assert (response.standing_decision_s is not None) is told


@pytest.mark.parametrize(
    ("rounding_min", "at_s", "answers"),
    [(0.0, 0.0, True), (0.0, -0.1, False), (2.0, -119.9, True), (2.0, -120.1, False)],
)
def test_an_act_answers_from_the_patterns_start_on_less_the_rounding_of_notes(rounding_min, at_s, answers):
    (response,) = respond(
        [Episode("figo-2015", "pathological", 1e-6, 60.0, 3600.0)], [CareEvent(at_s, "decision_for_birth", 1)],
        birth_s=None, second_stage_s=None, mode_of_birth=None, tracing_end_s=7200.0, events_recorded=True,
        settings=changed(SETTINGS, note_rounding_minutes=rounding_min),
    )  # fmt: skip
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
        [Episode("figo-2015", "pathological", 0.0, 60.0, 180.0, True, unseen_minutes=1.0)], [], birth_s=None,
        second_stage_s=None, mode_of_birth=None, tracing_end_s=9000.0, events_recorded=True, settings=SETTINGS,
    )  # fmt: skip
    assert response.note == "no usable signal for 1 of its 2 min"
