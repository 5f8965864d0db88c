"""The share of answers in time beside what chance gives, for all concerns and for each trigger."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit.questions.waits import grouped
from audit.response.chance import Chance, chance_of

Row = Mapping[str, Any]


def document(episodes: Sequence[Row]) -> dict[str, Any]:
    """The part `chance` of `delays --json`: `share_in_time`, `share`, `low`, `high` of all episodes, and per trigger.

    Parameters
    ----------
    episodes : rows of the query `response/delays`. One that was already there when the recording began is left out.
    """
    triggers = sorted({(row["standard"], row["trigger"]) for row in episodes})
    return {
        **fields(of(episodes)),
        "triggers": [
            {
                "standard": standard,
                "trigger": trigger,
                **fields(of([row for row in episodes if (row["standard"], row["trigger"]) == (standard, trigger)])),
            }
            for standard, trigger in triggers
        ],
    }


def of(episodes: Sequence[Row]) -> Chance:
    """Shares of these episodes, without those whose beginning nobody saw."""
    seen = [row for row in episodes if not row["at_start"]]
    return chance_of([row["status"] for row in seen], [row["chance_statuses"] for row in seen])


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


def of_groups(episodes: Sequence[Row], by: str | None) -> dict[str, Chance]:
    """Shares of each group's episodes, by the group's name; `by` as for `audit.questions.waits.wait_groups`."""
    return {name: of(own) for name, own in grouped([dict(row) for row in episodes], by)}


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
