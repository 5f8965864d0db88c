"""From issues to actions to what their measures did: how many of each, in the coded words of the unit's settings alone.

For the annual report, which leaves the unit: no words of the meeting, and no count that could point at a case.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from audit import months
from audit.measures.suppression import hidden_rows, is_small
from audit.people import actions
from audit.questions.action_effects import AS_MEANT
from audit.store import people_database

_COUNTS = ("issues", "with_action", "actions", "done", "with_measure", "as_meant")


def rows(db: Path, period: str, effects: Sequence[Mapping[str, Any]], *, least: int) -> list[dict[str, Any]]:
    """One row per kind of issue that meetings of a span noted, the commonest first.

    `period`: a span of months. `effects`: rows of `action_effects.effects`. `least`: the smallest count shown.
    Gives rows: `what`, `hidden`, and counts, None where hidden: `issues`, `with_action` (issues from which an action
    follows), `actions`, `done`, `with_measure` (actions that name one) and `as_meant` (whose measure moved as meant).
    """
    noted = [row for row in people_database.ask(db, "everything_issues") if months.within(row["period"], period)]
    following = [row for row in actions.everything(db) if row["issue_id"] is not None and row["state"] != "dropped"]
    moved = {row["action_id"] for row in effects if row["verdict"] == AS_MEANT}
    found = []
    for what in {row["what"] for row in noted}:
        numbers = {row["issue_id"] for row in noted if row["what"] == what}
        own = [row for row in following if row["issue_id"] in numbers]
        counts = (
            len(numbers), len({row["issue_id"] for row in own}), len(own), sum(row["state"] == "done" for row in own),
            sum(row["measure"] is not None for row in own), sum(row["action_id"] in moved for row in own),
        )  # fmt: skip
        found.append({"what": what, **dict(zip(_COUNTS, counts, strict=True))})
    found.sort(key=lambda row: (-row["issues"], row["what"]))
    parts = [(row["with_action"], row["issues"] - row["with_action"]) for row in found]
    hidden = hidden_rows(parts, least=least)
    return [_told(row, least, hidden=k in hidden) for k, row in enumerate(found)]


def _told(row: Mapping[str, Any], least: int, *, hidden: bool) -> dict[str, Any]:
    shown = {name: None if hidden else row[name] for name in _COUNTS}
    if not hidden and any(is_small(row[name], least) for name in _COUNTS[2:]):
        shown |= dict.fromkeys(_COUNTS[2:])
    return {"what": row["what"], "hidden": hidden, **shown}
