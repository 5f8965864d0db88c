"""Oxytocin of one labour, counted by hand. What counts: NICE NG207 and ACOG Practice Bulletin 116, from memory."""

from audit.response.oxytocin import OxytocinWait, on_oxytocin, oxytocin_use, tachysystole_spans
from audit.response.types import CareEvent
from audit.settings import load_settings

H, M = 3600.0, 60.0


def events(*pairs):
    return [CareEvent(at, f"oxytocin_{what}") for at, what in pairs]


def test_hours_run_from_start_to_stop_and_from_a_restart_to_birth():
    found = on_oxytocin(
        events((1 * H, "started"), (1.5 * H, "increased"), (3 * H, "stopped"), (4 * H, "started")), 6 * H
    )
    assert found == [(1 * H, 3 * H), (4 * H, 6 * H)]
    assert on_oxytocin(events((1 * H, "increased"), (7 * H, "stopped")), 6 * H) == [(1 * H, 6 * H)]
    assert on_oxytocin(events((2 * H, "stopped"), (7 * H, "started")), 6 * H) == []


def test_no_oxytocin_is_nothing_to_tell_of():
    assert oxytocin_use([CareEvent(5.0, "epidural")], [(0.0, H)], [], end_s=2 * H) is None


def test_increases_in_a_concern_and_the_wait_until_it_was_reduced():
    own = events((0.5 * H, "started"), (1 * H + 10 * M, "increased"), (1 * H + 25 * M, "reduced"), (3 * H, "increased"))
    found = oxytocin_use(own, [(1 * H, 2 * H)], [], end_s=4 * H)
    assert (found.hours, found.increases_in_concern) == (3.5, 1)
    assert found.waits == (OxytocinWait("concern", 1 * H, 25.0, True),)
    assert oxytocin_use(own, [(1 * H, 2 * H), (2.5 * H, 2.6 * H)], [], end_s=4 * H).increases_in_concern == 1


def test_a_wait_without_a_reduction_ends_with_the_concern_or_with_birth():
    own = events((0.0, "started"))
    found = oxytocin_use(own, [(1 * H, 1.5 * H), (3 * H, 9 * H)], [], end_s=4 * H)
    assert [(wait.minutes, wait.reduced) for wait in found.waits] == [(30.0, False), (60.0, False)]


def test_started_within_a_concern_counts_from_then_and_stopped_before_it_does_not_count():
    own = events((0.0, "started"), (0.5 * H, "stopped"), (1.25 * H, "started"))
    found = oxytocin_use(own, [(1 * H, 2 * H)], [], end_s=3 * H)
    assert [(wait.from_s, wait.minutes) for wait in found.waits] == [(1.25 * H, 45.0)]
    assert oxytocin_use(own[:2], [(1 * H, 2 * H)], [], end_s=3 * H).waits == ()


def test_less_before_a_concern_had_to_be_recognised_is_the_best_answer_unless_it_was_taken_back():
    """As the response clock has it: acts from the pattern's start on count; before recognition they are the best."""

    def waits(*own):
        every = events((0.0, "started"), *own)
        (wait,) = oxytocin_use(every, [(2 * H, 3 * H)], [], end_s=4 * H, pattern_starts_s=[1.5 * H]).waits
        return wait.minutes, wait.reduced

    assert waits((1.75 * H, "reduced")) == (0.0, True)
    assert waits((1.75 * H, "stopped")) == (0.0, True)
    assert waits((1.5 * H - 1, "reduced")) == (60.0, False)  # before the pattern: no answer to it
    assert waits((1.6 * H, "reduced"), (1.75 * H, "increased")) == (60.0, False)
    assert waits((1.6 * H, "stopped"), (1.75 * H, "started"), (2.5 * H, "stopped")) == (30.0, True)
    assert oxytocin_use(
        events((1 * H, "started"), (1.4 * H, "stopped"), (1.6 * H, "stopped")), [(2 * H, 3 * H)], [],
        end_s=4 * H, pattern_starts_s=[1.5 * H],
    ).waits == ()  # fmt: skip


def test_tachysystole_hours_are_those_on_oxytocin_and_counted_once():
    own = events((0.0, "started"), (2 * H, "stopped"))
    found = oxytocin_use(own, [], [(1 * H, 1.5 * H), (1.25 * H, 1.75 * H), (1.9 * H, 3 * H)], end_s=4 * H)
    assert round(found.hours_in_tachysystole, 9) == 0.85
    assert [(wait.reason, wait.minutes, wait.reduced) for wait in found.waits] == [
        ("tachysystole", 45.0, False), ("tachysystole", 6.0, True)
    ]  # fmt: skip


def test_tachysystole_between_two_runs_of_oxytocin_is_not_on_it():
    own = events((0.0, "started"), (1 * H, "stopped"), (2 * H, "started"))
    assert oxytocin_use(own, [], [(1.25 * H, 1.75 * H)], end_s=3 * H).hours_in_tachysystole == 0.0


def test_concerns_that_touch_are_one_to_wait_in():
    found = oxytocin_use(events((0.0, "started")), [(1 * H, 2 * H), (2 * H, 3 * H)], [], end_s=4 * H)
    assert found.waits == (OxytocinWait("concern", 1 * H, 120.0, False),)


def test_tachysystole_is_a_mean_over_half_an_hour_and_more_than_five():
    # NICHD 2008 (Macones): more than five contractions in 10 minutes, averaged over 30
    limit = load_settings().nichd_2008.tachysystole
    starts = [600.0 * k for k in range(6)]
    assert tachysystole_spans(starts, [4.0, 6.0, 6.0, 3.0, None, 9.0], limit) == [(0.0, 1800.0)]
    assert tachysystole_spans(starts, [5.0] * 6, limit) == []
    assert tachysystole_spans([0.0, 600.0, 1800.0], [7.0] * 3, limit) == []  # a segment is missing between


def test_oxytocin_at_the_moment_of_birth_is_none_and_a_reduction_begins_a_span():
    assert on_oxytocin(events((H, "started")), H) == []
    assert on_oxytocin(events((H - 1, "started")), H) == [(H - 1, H)]
    assert on_oxytocin(events((H, "reduced")), 2 * H) == [(H, 2 * H)]
    assert on_oxytocin(events((H, "started"), (2 * H, "stopped"), (2 * H, "started")), 3 * H) == [
        (H, 2 * H),
        (2 * H, 3 * H),
    ]


def test_an_increase_counts_from_the_concerns_first_moment_and_not_at_its_last():
    own = events((0.0, "started"), (H, "increased"), (2 * H, "increased"))
    assert oxytocin_use(own, [(H, 2 * H)], [], end_s=4 * H).increases_in_concern == 1
    assert oxytocin_use(own, [(H - 1, 2 * H + 1)], [], end_s=4 * H).increases_in_concern == 2


def test_a_reduction_at_either_end_of_a_concern_ends_its_wait():
    for at_s, minutes, reduced in ((H, 0.0, True), (2 * H, 60.0, True), (2 * H + 1, 60.0, False)):
        found = oxytocin_use(events((0.0, "started"), (at_s, "reduced")), [(H, 2 * H)], [], end_s=4 * H)
        assert found.waits == (OxytocinWait("concern", H, minutes, reduced),)


def test_oxytocin_that_stopped_as_a_concern_began_or_began_as_it_ended_is_not_counted():
    assert oxytocin_use(events((0.0, "started"), (H, "stopped")), [(H, 2 * H)], [], end_s=4 * H).waits == ()
    assert oxytocin_use(events((2 * H, "started")), [(H, 2 * H)], [], end_s=4 * H).waits == ()


def test_concerns_that_touch_are_one_wait_and_those_apart_are_two():
    own = events((0.0, "started"))
    for gap_s, count in ((0.0, 1), (1.0, 2)):
        spans = [(H, 2 * H), (2 * H + gap_s, 3 * H)]
        assert len(oxytocin_use(own, spans, [], end_s=4 * H).waits) == count


def test_half_hours_of_segments_that_follow_each_other_to_the_second():
    limit = load_settings().nichd_2008.tachysystole  # NICHD 2008: more than 5 in 10 minutes, over 30
    assert tachysystole_spans([0.0, 600.0, 1201.0], [6.0] * 3, limit) == [(0.0, 1801.0)]
    assert tachysystole_spans([0.0, 600.0, 1201.5], [6.0] * 3, limit) == []
    assert tachysystole_spans([0.0, 600.0], [9.0] * 2, limit) == []
