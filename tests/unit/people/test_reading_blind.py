"""Reading blind: repeats far apart, what comes next, a strip shown to its end, closing with a question, what waits.

The rules are those of blind reading as this program sets them (our choice, no source); expected orders are counted by
hand.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from audit.errors import NotAllowedError, UsageError
from audit.people import batches, blindness, log, next_strip, permissions, reads, verify
from audit.people.batches import Plan, Window
from audit.people.permissions import Deed
from audit.people.reads import Read
from audit.questions.chosen_windows import ChosenWindow, chosen_windows


@pytest.fixture
def db(tmp_path: Path) -> Path:
    return tmp_path / "unit.duckdb"


def made(db: Path, windows: int, repeat_fraction: float, seed: int = 7) -> int:
    strips = tuple(Window(f"C-{n}", "A", 600.0, 2400.0) for n in range(windows))
    plan = Plan("March", "figo-2015", strips, ("R1", "R2"), repeat_fraction=repeat_fraction, seed=seed)
    return batches.make(db, plan, who="lead")


@pytest.mark.parametrize("repeat_fraction", [0.15, 0.5, 1.0])
@pytest.mark.parametrize("windows", [6, 7, 12])
def test_five_other_strips_at_least_lie_between_the_showings_of_one(
    db: Path, windows: int, repeat_fraction: float
) -> None:
    batch_id = made(db, windows, repeat_fraction)
    for reader in ("R1", "R2"):
        order = [row["case_id"] for row in batches.strips(db, batch_id, reader)]
        twice = [case_id for case_id in set(order) if order.count(case_id) == 2]
        assert len(twice) == round(repeat_fraction * windows)
        for case_id in twice:
            first = order.index(case_id)
            assert order.index(case_id, first + 1) - first - 1 >= 5


def test_a_batch_too_small_to_keep_them_apart_shows_none_twice(db: Path) -> None:
    rows = batches.windows(db, made(db, 5, 1.0))
    assert [row["occasion"] for row in rows] == [1] * 5


def order(*windows: str, read: Sequence[str | None] = ()) -> list[dict[str, Any]]:
    at = [*read, *[None] * (len(windows) - len(read))]
    return [{"position": k + 1, "window": name, "read_at": at[k]} for k, name in enumerate(windows)]


def at(hour: int, minute: int = 0, day: int = 1) -> str:
    return f"2031-03-{day:02d}T{hour:02d}:{minute:02d}:00.000+00:00"


MORNING = [at(9, minute) for minute in range(6)]


@pytest.mark.parametrize(
    ("rows", "now", "expected"),
    [
        (order("a", "b"), at(9), 1),
        (order("a", "b", read=MORNING[:1]), at(9, 1), 2),
        (order("a", "b", read=MORNING[:2]), at(9, 2), None),
        # a comes again, was read at this sitting: what is new comes first
        (order("a", "b", "c", "d", "e", "f", "a", "g", read=MORNING), at(9, 7), 8),
        # the next day it is another sitting
        (order("a", "b", "c", "d", "e", "f", "a", "g", read=MORNING), at(9, day=2), 7),
        # only repeats are left: it cannot be avoided
        (order("a", "b", "c", "d", "e", "f", "a", read=MORNING), at(9, 7), 7),
        # another day, but with three strips between only: the new one first
        (order("a", "b", "c", "d", "a", "e", read=MORNING[:4]), at(9, day=2), 6),
        # just under and just at the pause that ends a sitting, from the last save at 9:05
        (order("a", "b", "c", "d", "e", "f", "a", "g", read=MORNING), at(13, 4), 8),
        (order("a", "b", "c", "d", "e", "f", "a", "g", read=MORNING), at(13, 5), 7),
    ],
)
def test_what_a_reader_sees_next(rows: list[dict[str, Any]], now: str, expected: int | None) -> None:
    assert next_strip.next_position(rows, now) == expected


def test_the_stores_order_says_what_was_read(db: Path) -> None:
    batch_id = made(db, 8, 0.25)
    first, second = (row["strip_number"] for row in batches.strips(db, batch_id, "R1")[:2])
    assert next_strip.position(db, batch_id, "R1") == 1
    reads.save(db, batch_id, first, "R1", Read("normal"))
    assert next_strip.position(db, batch_id, "R1") == 2
    reads.save(db, batch_id, second, "R1", Read("normal"))
    assert next_strip.position(db, batch_id, "R2") == 1


@pytest.mark.parametrize(("shown_s", "stored"), [(0.0, False), (1794.0, False), (1796.0, True), (1800.0, True)])
def test_a_strip_of_half_an_hour_is_saved_once_it_was_shown_to_its_end(db: Path, shown_s: float, stored: bool) -> None:
    batch_id = made(db, 2, 0.0)
    if stored:
        reads.save(db, batch_id, 1, "R1", Read("normal"), shown_s=shown_s)
    else:
        with pytest.raises(UsageError, match=r"of 00:30; look at it to its end"):
            reads.save(db, batch_id, 1, "R1", Read("normal"), shown_s=shown_s)
    assert (reads.latest(db, batch_id, 1, "R1") is not None) is stored


def test_closing_an_incomplete_batch_asks_and_opening_it_again_is_in_the_log(db: Path) -> None:
    batch_id = made(db, 1, 0.0)
    reads.save(db, batch_id, 1, "R1", Read("normal"))
    with pytest.raises(UsageError, match="1 of 2 reads are still missing"):
        batches.close(db, batch_id, who="lead")
    assert batches.one(db, batch_id)["state"] == "open"
    batches.close(db, batch_id, who="lead", incomplete=True)
    batches.reopen(db, batch_id, who="lead")
    batches.reopen(db, batch_id, who="lead")
    assert [row["deed"] for row in log.entries(db)] == ["made", "read", "closed", "reopened"]
    reads.save(db, batch_id, 1, "R2", Read("suspicious"))
    batches.close(db, batch_id, who="lead")
    assert {row["reader"]: row["category"] for row in reads.of_closed_batches(db)} == {
        "R1": "normal",
        "R2": "suspicious",
    }
    assert verify.problems(db) == []


def test_agreement_waits_until_the_reader_has_read_and_for_nobody_else(db: Path) -> None:
    batch_id = made(db, 1, 0.0)
    with pytest.raises(NotAllowedError, match="waits"):
        blindness.required(db, "reader:R1", Deed.SEE_AGREEMENT)
    for who in ("lead", "chair", "viewer", "unit", "reader:R9", None):
        blindness.required(db, who, Deed.SEE_AGREEMENT)
    reads.save(db, batch_id, 1, "R1", Read("normal"))
    blindness.required(db, "reader:R1", Deed.SEE_AGREEMENT)
    assert blindness.waits(db, "reader:R2", Deed.SEE_AGREEMENT)


def test_the_table_gives_a_reader_nothing_else_that_tells() -> None:
    """What the table of deeds gives a reader and time does not keep from them: their own strips and PIN."""
    given = {deed for deed in Deed if permissions.may("reader", deed)}
    assert given - set(blindness.AFTER_READING) == {Deed.READ_STRIPS, Deed.CHANGE_OWN_PIN}


def test_windows_chosen_by_hand_one_a_line() -> None:
    found = chosen_windows("C-001 03:26\n\n C-003 B at 1:10 \nC-001 03:26")
    assert found == (ChosenWindow("C-001", None, 12360.0), ChosenWindow("C-003", "B", 4200.0))
    for line in ("C-001", "C-001 3.26", "C-001 03:60", "03:26", "C-001 BB 03:26"):
        with pytest.raises(UsageError, match="line 2"):
            chosen_windows(f"C-001 01:00\n{line}")
