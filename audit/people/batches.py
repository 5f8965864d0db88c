"""Batches of strips for blind reading: which windows, for which readers, in which order for each of them."""

import random
import secrets
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from audit import months, vocabulary
from audit.errors import AuditError, UsageError, one_of
from audit.people import log, rules, verify
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database

# other strips between the two showings of one: always the first number, the share of the batch where it allows that
_LEAST_BETWEEN = 5
_APART = 1 / 3
_TRIES = 500


@dataclass(frozen=True)
class Window:
    """A stretch of one fetus's tracing to be read, seconds from the first sample."""

    case_id: str
    fetus: str
    start_s: float
    end_s: float
    control: bool = False


@dataclass(frozen=True)
class Plan:
    """What the lead decided about a batch. `seed` None draws one, which is then kept with the batch."""

    name: str
    standard: str
    windows: tuple[Window, ...]
    readers: tuple[str, ...]
    period: str | None = None
    repeat_fraction: float = 0.0
    show_gestation: bool = False
    show_stage: bool = False
    outcome_shown: bool = False
    seed: int | None = None


def make(db: Path, plan: Plan, *, who: str) -> int:
    """Store a batch and return its number. Raises UsageError naming what is wrong with the plan."""
    _check(plan)
    seed = secrets.randbits(32) if plan.seed is None else plan.seed
    numbered = numbered_windows(plan.windows, plan.repeat_fraction, seed)
    row: database.Row = {
        "name": rules.checked_text("batch name", plan.name),
        "period": plan.period,
        "standard": plan.standard,
        "show_gestation": int(plan.show_gestation),
        "show_stage": int(plan.show_stage),
        "outcome_shown": int(plan.outcome_shown),
        "seed": seed,
    }
    with writing(db, who, Deed.KEEP_BATCHES) as con:
        added = database.execute(con, "batch_add", {**row, "who": who, "at": log.utc_now()})
        batch_id = int(added.lastrowid or 0)
        strips = [
            {"batch_id": batch_id, "strip_number": number, "occasion": occasion, **_window_row(window)}
            for number, (window, occasion) in enumerate(numbered, start=1)
        ]
        for strip in strips:
            database.execute(con, "batch_window_add", strip)
        places = []
        for reader in plan.readers:
            database.execute(con, "batch_reader_add", {"batch_id": batch_id, "reader": reader})
            order = reading_order([occasion for _, occasion in numbered], _partners(numbered), seed, reader)
            for position, number in enumerate(order, start=1):
                place = {"batch_id": batch_id, "reader": reader, "position": position, "strip_number": number}
                database.execute(con, "reading_order_add", place)
                places.append(place)
        held = {"windows_sha256": verify.windows_sha256(strips), "orders_sha256": verify.orders_sha256(places)}
        new = {**row, **held, "windows": len(numbered), "readers": list(plan.readers)}
        log.append(con, who, "made", "batch", {"batch_id": batch_id}, new=new)
    return batch_id


def numbered_windows(windows: Sequence[Window], repeat_fraction: float, seed: int) -> list[tuple[Window, int]]:
    """Windows with their occasion, in an order that tells nothing; the place in the list is the strip's number.

    A batch that is too small to keep the two showings of a strip apart has none twice.
    """
    draw = random.Random(f"{seed}:windows")
    wanted = round(repeat_fraction * len(windows)) if len(windows) > _LEAST_BETWEEN else 0
    repeats = draw.sample(range(len(windows)), wanted)
    listed = [(window, 1) for window in windows] + [(windows[index], 2) for index in repeats]
    draw.shuffle(listed)
    return listed


def reading_order(occasions: Sequence[int], partner: dict[int, int], seed: int, reader: str) -> list[int]:
    """Strip numbers in the order in which one reader sees them; the same seed and reader give the same order.

    A repeat comes after its first showing with at least five other strips between and, where the batch is long enough,
    a third of it. `partner` gives, for the number of each second showing, the number of the first.
    """
    draw = random.Random(f"{seed}:{reader}")
    numbers = list(range(1, len(occasions) + 1))
    gap = max(int(_APART * len(numbers)), _LEAST_BETWEEN + 1)
    best, best_gap = numbers, -1
    for _ in range(_TRIES):
        draw.shuffle(numbers)
        order = list(numbers)
        place = {number: index for index, number in enumerate(order)}
        for second, first in partner.items():
            if place[second] < place[first]:
                order[place[second]], order[place[first]] = first, second
        found = min((abs(place[second] - place[first]) for second, first in partner.items()), default=gap)
        if found > best_gap:
            best, best_gap = order, found
        if found >= gap:
            break
    if best_gap <= _LEAST_BETWEEN:
        # many repeats: what comes twice comes first, the others follow, then the second showings in the same order
        firsts = [partner[number] for number in numbers if number in partner]
        once = [number for number in numbers if number not in partner and number not in firsts]
        best = [*firsts, *once, *(number for number in numbers if number in partner)]
    return best


def close(db: Path, batch_id: int, *, who: str, incomplete: bool = False) -> None:
    """No read can be added from now on. Closing a closed batch changes nothing.

    Raises UsageError, with nothing done, where strips are still unread, unless `incomplete` says that this is meant.
    """
    with writing(db, who, Deed.KEEP_BATCHES) as con:
        found = [row for row in database.rows(con, "batches_all") if row["batch_id"] == batch_id]
        missing = found[0]["reads_expected"] - found[0]["reads"] if found else 0
        if missing and not incomplete and found[0]["state"] == "open":
            raise UsageError(f"batch {batch_id}: {missing} of {found[0]['reads_expected']} reads are still missing")
        database.execute(con, "batch_close", {"batch_id": batch_id, "who": who, "at": log.utc_now()})
        if con.execute("select changes()").fetchone()[0]:
            log.append(con, who, "closed", "batch", {"batch_id": batch_id}, new={"reads_missing": missing})


def reopen(db: Path, batch_id: int, *, who: str) -> None:
    """Take reads again; those that joined the figures stay there, and join anew when the batch is closed again.

    Reopening an open batch changes nothing.
    """
    with writing(db, who, Deed.KEEP_BATCHES) as con:
        database.execute(con, "batch_reopen", {"batch_id": batch_id})
        if con.execute("select changes()").fetchone()[0]:
            log.append(con, who, "reopened", "batch", {"batch_id": batch_id})


def everything(db: Path) -> list[database.Row]:
    """Every batch, the newest first: its plan, state, `windows, readers, reads, reads_expected`."""
    return database.ask(db, "batches_all")


def one(db: Path, batch_id: int) -> database.Row:
    """One batch as in `everything`. Raises AuditError when there is none."""
    found = [row for row in everything(db) if row["batch_id"] == batch_id]
    if not found:
        raise AuditError(f"batch {batch_id}: there is none")
    return found[0]


def progress(db: Path, batch_id: int) -> list[database.Row]:
    """`reader, strips, read, minutes_spent` of a batch."""
    return database.ask(db, "batch_progress", {"batch_id": batch_id})


def for_reader(db: Path, reader: str) -> list[database.Row]:
    """The open batches that wait for this reader: `batch_id, name, standard, strips, read` and what may be shown."""
    return database.ask(db, "batches_for_reader", {"reader": reader})


def strips(db: Path, batch_id: int, reader: str) -> list[database.Row]:
    """The reader's strips in order: `position, strip_number, case_id, fetus, start_s, end_s, read_id` (NULL = unread).

    The case id is there to load the signal by; a page never shows it.
    """
    return database.ask(db, "strips_for_reader", {"batch_id": batch_id, "reader": reader})


def windows(db: Path, batch_id: int) -> list[database.Row]:
    """The strips of a batch with what they are, for the lead and for after closing."""
    return database.ask(db, "batch_windows", {"batch_id": batch_id})


def _check(plan: Plan) -> None:
    one_of("standard", plan.standard, vocabulary.CATEGORIES)
    if not plan.windows:
        raise UsageError("batch: no strip to read; put cases on the agenda or add controls first")
    if len(set(plan.windows)) != len(plan.windows):
        raise UsageError("batch: the same window twice; repeats are drawn by the program")
    if not plan.readers:
        raise UsageError("batch: no reader; give at least one reader code")
    if len(set(plan.readers)) != len(plan.readers):
        raise UsageError("batch: the same reader code twice")
    for reader in plan.readers:
        rules.checked_code(reader)
    if not 0 <= plan.repeat_fraction <= 1:
        raise UsageError(f"share repeated: found {plan.repeat_fraction}, expected 0 to 1")
    if rules.checked_text("batch name", plan.name) is None:
        raise UsageError("batch: give it a name")
    if plan.period is not None:
        months.checked_period(plan.period)


def _window_row(window: Window) -> database.Row:
    return {**asdict(window), "control": int(window.control)}


def _partners(numbered: Sequence[tuple[Window, int]]) -> dict[int, int]:
    first = {window: number for number, (window, occasion) in enumerate(numbered, start=1) if occasion == 1}
    return {number: first[window] for number, (window, occasion) in enumerate(numbered, start=1) if occasion == 2}
