"""What a pack for outside the unit may tell of a month, and of several months without telling one that is hidden.

The packs of its months may have gone out before: a sum is told only where `suppression.months_add_up`. Figures that
stand in two tables are settled once, so that neither tells what the other hides.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from audit.measures.linked_sums import told
from audit.measures.suppression import hide_parts, hides_share, is_small, months_add_up
from audit.months import within
from audit.questions import bedside
from audit.store import database
from audit.store.database import Record, records
from audit.vocabulary import STANDARDS

HIDDEN = "hidden"
TOTAL = "cases"
_REST = ("late", "none_recorded", "resolved", "born_first")
_BESIDE = ("under_way", "not_assessable")
_STATUSES = ("in_time", *_REST, *_BESIDE)
EPISODES = "episodes"
_Columns = Sequence[Sequence[int]]


@dataclass(frozen=True)
class Untold:
    """What is hidden: of the labours by the names of the query `pack/counts`, of episodes by standard and status
    (`episodes`: all of them), of the hourly audit by its fields, and of its charts the months with few labours."""

    labours: frozenset[str] = frozenset()
    episodes: Mapping[str, frozenset[str]] = field(default_factory=dict)
    hours: frozenset[str] = frozenset()
    few_assessed: frozenset[str] = frozenset()


NOTHING = Untold()


def untold(con: database.Connection, period: str, *, standard: str, names: Sequence[str], least: int) -> Untold:
    """What a report of some months hides.

    `period`: a month or a span of months. `standard`: whose concerns `pack/counts` counts. `names`: the counts shown.
    """
    months = sorted({row["period"] for row in records(con, "month/months") if within(row["period"], period)})
    counts = [records(con, "pack/counts", {"period": month, "standard": standard})[0] for month in months]
    statuses = [records(con, "month/statuses", {"period": month}) for month in months]
    noted = records(con, "bedside/hours", {"period": None})
    hours = (
        [bedside.hourly(noted, period=month, least=1)[0] for month in months]
        if any(row["times_s"] for row in noted)
        else []
    )
    assessed = Counter(row["period"] for row in noted if row["times_s"])
    return Untold(
        frozenset(untold_labours(counts, names, least)),
        {name: frozenset(untold_episodes([_by_status(own, name) for own in statuses], least)) for name in STANDARDS},
        frozenset(untold_hours(hours, least)) if hours else frozenset(),
        frozenset(month for month, labours in assessed.items() if is_small(labours, least)),
    )


def untold_labours(months: Sequence[Mapping[str, Any]], names: Sequence[str], least: int) -> set[str]:
    """Names of the counts of labours that are hidden, `cases` (their total) among them.

    `months`: rows of `pack/counts`, of each month that is added up. `names`: the counts that are shown beside the
    total.
    """
    own = [_few_labours(month, names, least) for month in months]
    added = {name: sum(month[name] for month in months) for name in (TOTAL, *names)}
    hidden = _few_labours(added, names, least)
    if not months_add_up([(m[TOTAL],) for m in months], [TOTAL in few for few in own], least=least):
        return {TOTAL, *names}
    for name in names:
        pairs = [(month[name], month[TOTAL] - month[name]) for month in months]
        if not months_add_up(pairs, [name in few for few in own], least=least):
            hidden |= _with_reading({name}, names)
    return hidden


def _few_labours(counts: Mapping[str, Any], names: Sequence[str], least: int) -> set[str]:
    if is_small(counts[TOTAL], least):
        return {TOTAL, *names}
    hidden = {name for name in names if hides_share(counts[name], counts[TOTAL], least=least)}
    if "with_tracing" in names and "with_tracing" not in hidden:
        # tracings less those that were read would tell those that could not be
        unread = counts["with_tracing"] - counts["analysed"]
        if "failed" in hidden or "analysed" in hidden or is_small(unread, least):
            hidden |= {"failed", "analysed"}
    return hidden


def _with_reading(hidden: set[str], names: Sequence[str]) -> set[str]:
    both = {"failed", "analysed"} & set(names)
    return hidden | both if hidden & both else hidden


def _by_status(rows: Sequence[Record], standard: str) -> dict[str, int]:
    found = dict.fromkeys(_STATUSES, 0)
    return found | {row["status"]: row["episodes"] for row in rows if row["standard"] == standard}


def untold_episodes(months: Sequence[Mapping[str, int]], least: int) -> set[str]:
    """Statuses that are hidden, and `episodes` (their total); `in_time` is hidden with the share in time.

    Trends tell answers in time and those that can be assessed, so what is in neither is hidden among itself.
    """
    own = [_few_episodes(month, set(), least) for month in months]
    columns: dict[str, _Columns] = {name: [(month[name],) for month in months] for name in _STATUSES}
    columns |= {
        EPISODES: [(sum(month.values()),) for month in months],
        "in_time": [(month["in_time"], _assessed(month) - month["in_time"]) for month in months],
    }
    already = {
        name for name, counts in columns.items() if not months_add_up(counts, [name in few for few in own], least=least)
    }
    added = {name: sum(month[name] for month in months) for name in _STATUSES}
    hidden = _few_episodes(added, already, least)
    return {EPISODES, *_STATUSES} if _worked_out([*months, added], [*own, hidden], least) else hidden


def _worked_out(tables: Sequence[Mapping[str, int]], hidden: Sequence[set[str]], least: int) -> bool:
    """Whether months and all of them together, which is last, tell a small count by their sums."""
    every = [{**table, EPISODES: sum(table.values()), "assessed": _assessed(table)} for table in tables]
    counts = {(k, name): count for k, table in enumerate(every) for name, count in table.items()}
    gone = {(k, name) for k, names in enumerate(hidden) for name in names}
    gone |= {(k, "assessed") for k, names in enumerate(hidden) if "in_time" in names}
    sums = [
        {(k, total): -1, **{(k, name): 1 for name in parts}}
        for k in range(len(tables))
        for total, parts in (("assessed", ("in_time", *_REST)), (EPISODES, ("assessed", *_BESIDE)))
    ]
    last = len(tables) - 1
    sums += [{(k, name): -1 if k == last else 1 for k in range(len(tables))} for name in every[0]]
    return bool(told(counts, sums, gone, [key for key in gone if is_small(counts[key], least)]))


def _assessed(counts: Mapping[str, int]) -> int:
    return sum(counts[name] for name in ("in_time", *_REST))


def _few_episodes(counts: Mapping[str, int], already: set[str], least: int) -> set[str]:
    if is_small(sum(counts.values()), least):
        return {EPISODES, *_STATUSES}
    assessed, beside = _assessed(counts), sum(counts[name] for name in _BESIDE)
    hidden = set(already)
    if "in_time" in already or hides_share(counts["in_time"], assessed, least=least):
        hidden |= {"in_time", *(name for name in _REST if counts[name])}
    else:
        hidden |= _hidden(_REST, counts, hidden, least)
    hidden |= _hidden(_BESIDE, counts, hidden, least)
    if "in_time" in hidden:
        return hidden | _hidden(_STATUSES, counts, hidden, least)
    if is_small(beside, least) or (EPISODES in already and hidden & set(_BESIDE)):
        return hidden | {EPISODES}  # less those that can be assessed it would tell them
    return hidden - {EPISODES}


def _hidden(names: Sequence[str], counts: Mapping[str, int], already: set[str], least: int) -> set[str]:
    """Which of some parts, whose total may be known, are hidden."""
    places = {place for place, name in enumerate(names) if name in already}
    shown = hide_parts([counts[name] for name in names], least=least, already=places)
    return {name for name, count in zip(names, shown, strict=True) if count is None}


def untold_hours(months: Sequence[Mapping[str, Any]], least: int) -> set[str]:
    """Fields of the hourly audit that are hidden; `labours` stands for the whole row. Trends tell the shares too.

    `months`: the rows of all labours together of `bedside.hourly`, month by month.
    """
    few = [is_small(month["labours"], least) for month in months]
    columns: dict[str, _Columns] = {name: [(month[name],) for month in months] for name in ("labours", "without")}
    for name, whole in (("gap_over_hour", "labours"), ("assessed", "hours"), ("second_person", "hours")):
        columns[name] = [(month[name], month[whole] - month[name]) for month in months]
    hidden = set()
    for name, counts in columns.items():
        own = [gone or any(is_small(n, least) for n in row) for row, gone in zip(counts, few, strict=True)]
        added = [sum(column) for column in zip(*counts, strict=True)]
        if any(is_small(count, least) for count in added) or not months_add_up(counts, own, least=least):
            hidden.add(name)
    return hidden
