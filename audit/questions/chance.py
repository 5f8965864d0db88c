"""The share of answers in time beside what chance gives, for all concerns and for each trigger."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from audit.questions.waits import grouped
from audit.response.chance import Chance, Tally, chance_of_tallies, tally_of
from audit.store import database
from audit.store.database import Record, records

Row = Mapping[str, Any]


def told(con: database.Connection, period: str | None, standard: str | None) -> list[Record]:
    """What merged summaries count: a row per unit, month and trigger; a month of birth and a standard, None = all."""
    return records(con, "summaries/chance", {"period": period, "standard": standard})


def document(episodes: Sequence[Row], merged: Sequence[Row] = ()) -> dict[str, Any]:
    """The part `chance` of `delays --json`: `share_in_time`, `share`, `low`, `high` of all episodes, and per trigger.

    `episodes`: rows of the query `response/delays`. One that was already there when the recording began is left out.
    `merged`: rows of `told`.
    """

    def of_trigger(rows: Sequence[Row], key: tuple[str, str]) -> list[Row]:
        return [row for row in rows if (row["standard"], row["trigger"]) == key]

    triggers = sorted({(row["standard"], row["trigger"]) for row in (*episodes, *merged)})
    return {
        **fields(of(episodes, merged)),
        "triggers": [
            {"standard": key[0], "trigger": key[1], **fields(of(of_trigger(episodes, key), of_trigger(merged, key)))}
            for key in triggers
        ],
    }


def tally(episodes: Sequence[Row]) -> Tally:
    """Counts of these episodes, without those whose beginning nobody saw."""
    seen = [row for row in episodes if not row["at_start"]]
    return tally_of([row["status"] for row in seen], [row["chance_statuses"] for row in seen])


def of(episodes: Sequence[Row], merged: Sequence[Row] = ()) -> Chance:
    """Shares of these episodes, without those whose beginning nobody saw, and of what summaries told (`told`)."""
    counted = [
        Tally(row["in_time"], row["counted"], np.array(row["shifts_in_time"], np.int64),
              np.array(row["shifts_counted"], np.int64))
        for row in merged
    ]  # fmt: skip
    return chance_of_tallies([tally(episodes), *counted])


def fields(chance: Chance) -> dict[str, Any]:
    """The shares under the names of the document."""
    return {
        "episodes": chance.episodes,
        "share_in_time": chance.in_time,
        "share": chance.share,
        "low": chance.low,
        "high": chance.high,
        "chance": chance.share,
        "chance_low": chance.low,
        "chance_high": chance.high,
    }


def from_fields(found: Row) -> Chance:
    """The shares that stand under the names of the document."""
    return Chance(found["share_in_time"], found["share"], found["low"], found["high"], found["episodes"])


def of_groups(episodes: Sequence[Row], by: str | None, merged: Sequence[Row] = ()) -> dict[str, Chance]:
    """Shares of each group's episodes, by the group's name; `by` as for `audit.questions.waits.wait_groups`."""
    own, others = (dict(grouped([dict(row) for row in rows], by)) for rows in (episodes, merged))
    return {name: of(own.get(name, ()), others.get(name, ())) for name in {**own, **others}}


def words(chance: Chance | None) -> str:
    """'48 (40 to 57)', in percent: the share by chance with 95 % of the shifts."""
    if chance is None or chance.share is None or chance.low is None or chance.high is None:
        return "not known"
    return f"{100 * chance.share:.0f} ({100 * chance.low:.0f} to {100 * chance.high:.0f})"


def sentence(chance: Chance) -> str:
    """'61 % in time; by chance 48 % (40 to 57 %)'."""
    if chance.in_time is None:
        return "no answer can be judged"
    text = f"{100 * chance.in_time:.0f} % in time"
    if chance.share is None or chance.low is None or chance.high is None:
        return f"{text}; by chance not known"
    return f"{text}; by chance {100 * chance.share:.0f} % ({100 * chance.low:.0f} to {100 * chance.high:.0f} %)"
