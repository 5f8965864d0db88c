"""One page for those who were not there: when the meeting was, each case with what was decided, what was agreed."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit.pack.agenda import AgendaCase
from audit.people.findings import Finding
from audit.tables.definition import Column, Table, TableDefinition, numbers
from audit.tables.episodes import CASE

# characters of a cell, so that twenty cases stay on one page; the case's own page has the whole; our choice
_MOST = 96
SUMMARY = TableDefinition(
    "summary",
    (
        *numbers(position="No."),
        CASE,
        Column("question", "Question"),
        Column("decided", "What was decided", missing="not yet discussed"),
        Column("actions", "Actions (owner, due)"),
    ),
    title="The meeting in one page",
    empty="No case is on the agenda, and none was found that asks for discussion.",
)


def summary_table(
    agenda: Sequence[AgendaCase],
    findings: Mapping[str, Finding],
    issues: Sequence[Mapping[str, Any]],
    agreed: Sequence[Mapping[str, Any]],
) -> Table:
    """The agenda's cases in a line each; agreed actions of no case come last."""
    rows: list[dict[str, Any]] = []
    for place, item in enumerate(agenda, start=1):
        own = [row for row in issues if row["case_id"] == item.case_id]
        rows.append(
            {
                "position": place,
                "case_id": item.case_id,
                "question": _short(item.question or ""),
                "decided": _short(decided(findings.get(item.case_id), own)),
                "actions": _short(_actions([row for row in agreed if row["case_id"] == item.case_id])),
            }
        )
    named = {item.case_id for item in agenda}
    if others := [row for row in agreed if row["case_id"] not in named]:
        rows.append(
            {"question": "the meeting as a whole", "decided": "see actions", "actions": _short(_actions(others))}
        )
    return SUMMARY.filled(rows)


def decided(finding: Finding | None, issues: Sequence[Mapping[str, Any]]) -> str:
    """What the meeting found in a case, in one line; empty before it found anything."""
    parts = []
    if finding is not None and finding.learning_point:
        parts.append(finding.learning_point)
    if issues:
        parts.append("issues: " + ", ".join(str(row["what"]) for row in issues))
    if finding is not None and finding.went_well:
        parts.append(f"went well: {finding.went_well}")
    if finding is not None and finding.care_grade is not None:
        parts.append(f"care grade {finding.care_grade}")
    if finding is not None and finding.factors:
        parts.append("factors: " + ", ".join(finding.factors))
    return "; ".join(parts)


def _actions(rows: Sequence[Mapping[str, Any]]) -> str:
    return "; ".join(f"{row['action']} ({row['owner_role']}, {row['due_period']})" for row in rows)


def _short(text: str) -> str:
    return text if len(text) <= _MOST else text[: _MOST - 2].rsplit(" ", 1)[0] + " …"
