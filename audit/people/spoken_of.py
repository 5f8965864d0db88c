"""Which cases people have written about: what an import brought cannot simply go when somebody has read it."""

from pathlib import Path

from audit.store import people_database

_PLACES = {
    "batches of strips to read": "everything_windows",
    "agendas": "everything_agenda",
    "findings of meetings": "everything_findings",
    "actions": "everything_actions",
    "issues of meetings": "everything_issues",
    "clocks agreed in meetings": "everything_agreed",
    "questions of families": "everything_family_questions",
}


def cases_by_place(db: Path) -> dict[str, set[str]]:
    """Case ids by where they stand."""
    return {
        place: {str(row["case_id"]) for row in people_database.ask(db, query) if row["case_id"]}
        for place, query in _PLACES.items()
    }
