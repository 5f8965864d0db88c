"""Readers' clocks by hand. Times in minutes."""

from dataclasses import replace

import pytest

from audit.response.readers import reader_clocks
from audit.response.responses import labour_of
from audit.response.types import CareEvent, Read
from audit.setting_types import changed, plain
from audit.settings import load_settings

SETTINGS = load_settings().response


def read(window: int, category: str, reader: str = "r1", **more: object) -> Read:
    """The k-th half hour."""
    fields: dict[str, object] = {"standard": "figo-2015", "outcome_hidden": True, **more}
    return Read(reader=reader, start_s=1800.0 * (window - 1), end_s=1800.0 * window, category=category, **fields)


def clocks(reads, *events, birth: float | None = 300.0, recorded: bool = True, settings=SETTINGS):
    return reader_clocks(
        reads,
        labour_of(
            [CareEvent(60 * minute, event) for minute, event in events],
            birth_s=None if birth is None else 60 * birth,
            second_stage_s=None,
            mode_of_birth=None,
            tracing_end_s=60 * 300.0,
            events_recorded=recorded,
            settings=settings,
        ),
    )


def test_the_clock_starts_at_the_end_of_the_first_concerning_window():
    (clock,) = clocks([read(3, "pathological"), read(1, "normal"), read(2, "pathological")], (70.0, "senior_called"))
    assert clock.recognisable_s == 3600
    assert (clock.status, clock.minutes_to_response) == ("in_time", pytest.approx(10))


@pytest.mark.parametrize(
    ("category", "would_act", "starts"),
    [
        ("pathological", None, True),
        ("III", False, True),
        ("suspicious", True, True),
        ("suspicious", None, False),
        ("II", False, False),
        ("normal", None, False),
        ("not assessable", None, False),
    ],
)
def test_which_reads_are_concerning(category, would_act, starts):
    assert bool(clocks([read(2, category, would_act=would_act)])) is starts


def test_late_and_resolved_by_the_readers_own_later_read():
    going_on = [read(2, "pathological"), read(3, "pathological")]
    assert clocks(going_on, (76, "senior_called"))[0].status == "late"
    assert clocks(going_on, (-60, "epidural"))[0].status == "none_recorded"
    soon_over = [read(2, "pathological"), replace(read(3, "normal"), end_s=3600 + 600.0)]
    assert clocks(soon_over, (-60, "epidural"))[0].status == "resolved"
    not_said = [read(2, "pathological"), replace(read(3, "not assessable"), end_s=3600 + 600.0)]
    assert clocks(not_said, (-60, "epidural"))[0].status == "none_recorded"
    assert clocks(going_on, (62, "senior_called"), recorded=False)[0].status == "not_assessable"


def test_what_was_done_within_the_window_answers():
    (clock,) = clocks([read(2, "pathological")], (40, "senior_called"))
    assert (clock.status, clock.minutes_to_response) == ("in_time", pytest.approx(-20))
    (alone,) = clocks([read(2, "pathological")], (40, "oxytocin_stopped"))
    assert (alone.status, alone.first_act_event, alone.escalation_event) == ("none_recorded", "oxytocin_stopped", None)
    assert clocks([read(2, "pathological")], (28.9, "senior_called"))[0].status == "none_recorded"


def test_repeat_reads_and_reads_with_the_outcome_open_start_no_clock():
    assert clocks([read(2, "pathological", occasion=2)]) == []
    assert clocks([read(2, "pathological", outcome_hidden=False)]) == []
    assert len(clocks([read(2, "pathological", outcome_hidden=None)])) == 1
    lenient = changed(SETTINGS, readers={**plain(SETTINGS)["readers"], "must_be_blind": False})
    assert len(clocks([read(2, "pathological", outcome_hidden=False)], settings=lenient)) == 1


def test_one_clock_per_reader_and_standard_in_order():
    reads = [
        read(2, "pathological", reader="r2"),
        read(3, "pathological", reader="r1"),
        read(2, "III", reader="r1", standard="nichd-2008"),
        read(1, "normal", reader="r3"),
    ]
    found = [(clock.reader, clock.standard, clock.recognisable_s / 1800) for clock in clocks(reads)]
    assert found == [("r1", "figo-2015", 3), ("r1", "nichd-2008", 2), ("r2", "figo-2015", 2)]
    assert clocks([]) == []


def test_of_two_concerning_windows_the_one_that_ends_first_starts_the_clock_and_one_begun_before_ends_nothing():
    def part(start: float, end: float, category: str) -> Read:
        return replace(read(1, category), start_s=60 * start, end_s=60 * end)

    reads = [part(0, 60, "pathological"), part(10, 40, "pathological"), part(5, 50, "normal"), part(40, 44, "normal")]
    (clock,) = clocks(reads, (-60.0, "epidural"))
    assert (clock.recognisable_s, clock.status) == (60 * 40, "resolved")
    (earlier_only,) = clocks(reads[1:3], (-60.0, "epidural"))
    assert earlier_only.status == "none_recorded"
