"""What waits for somebody before a month's meeting: batches to read, the agenda, findings, families, actions."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from audit.people import actions, agenda, batches, family_questions, findings
from audit.words import words


def waiting(db: Path, period: str | None, effects: Sequence[Mapping[str, Any]] = ()) -> list[dict[str, Any]]:
    """One row per thing that waits: what it is, how far it is, and on which page.

    `period`: the month of the meeting, YYYY-MM; None = no month is chosen, then only the batches are listed. `effects`:
    rows of `action_effects.effects`; what comes back is listed.
    """
    rows = [
        _row(f"reading batch {batch['name']}", f"{batch['reads']} of {batch['reads_expected']} reads in", "Read strips")
        for batch in batches.everything(db)
        if batch["state"] == "open"
    ]
    if period is None:
        return rows
    listed = agenda.items(db, period)
    recorded = findings.in_period(db, period)
    rows.append(
        _row(
            "agenda", f"{len(listed)} case{'' if len(listed) == 1 else 's'}" if listed else "empty", "Cases to discuss"
        )
    )
    if listed:
        done = sum(row["case_id"] in recorded for row in listed)
        rows.append(_row("findings", f"{done} of {len(listed)} cases have one", "Meeting"))
    rows += _asked_by_families(family_questions.in_period(db, period), {row["case_id"] for row in listed})
    for action in actions.for_meeting(db, period):
        if action["state"] in actions.OPEN_STATES:
            due = f"{'overdue since' if action['overdue'] else 'due'} {action['due_period']}, {action['state']}"
            rows.append(_row(f"action: {action['action']} ({action['owner_role']})", due, "Actions"))
    for row in effects:
        if row["comes_back"]:
            seen = f"{row['verdict']}: {words(row['measure'])}"
            rows.append(_row(f"action: {row['action']} (back)", seen, "Actions"))
    return rows


def _asked_by_families(asked: Sequence[Mapping[str, Any]], on_agenda: set[str]) -> list[dict[str, Any]]:
    """Questions without an answer, and whose cases the meeting would not come to."""
    unanswered = [row for row in asked if row["answer"] is None]
    if not unanswered:
        return []
    missing = sorted({row["case_id"] for row in unanswered} - on_agenda)
    beside = f"; not on the agenda: {', '.join(missing)}" if missing else ""
    return [_row("questions of families", f"{len(unanswered)} of {len(asked)} not answered{beside}", "Meeting")]


def _row(what: str, state: str, page: str) -> dict[str, Any]:
    return {"what": what, "state": state, "page": page}
