"""What a family asks the meeting about its labour, and the answer, in words that name nobody."""

from pathlib import Path
from typing import Any

from audit import months
from audit.errors import UsageError
from audit.people import log, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database


def add(db: Path, period: str, case_id: str, question: str, *, who: str, answer: str | None = None) -> int:
    """Carry a question to the meeting about a month and return its number.

    Raises UsageError for no question, and for text that may not be stored.
    """
    row = {"period": months.checked_period(period), "case_id": case_id, **_checked(question, answer)}
    with writing(db, who, Deed.KEEP_AGENDA) as con:
        cursor = database.execute(con, "family_question_add", {**row, "who": who, "at": log.utc_now()})
        number = int(cursor.lastrowid or 0)
        log.append(con, who, "added", "family_question", {"question_id": number}, new=row)
    return number


def change(db: Path, question_id: int, *, who: str, question: str | None = None, answer: str | None = None) -> None:
    """Answer a question, or say it otherwise; None leaves what stands, an empty answer opens it again."""
    with writing(db, who, Deed.HOLD_MEETING) as con:
        old = _one(con, question_id)
        said = old["answer"] if answer is None else answer
        new = {**old, **_checked(question or old["question"], said)}
        if new == old:
            return
        database.execute(con, "family_question_change", {**new, "who": who, "at": log.utc_now()})
        log.append(con, who, "changed", "family_question", {"question_id": question_id}, old=old, new=new)


def remove(db: Path, question_id: int, *, who: str) -> None:
    """Take a question back; the log keeps it."""
    with writing(db, who, Deed.KEEP_AGENDA) as con:
        old = _one(con, question_id)
        database.execute(con, "family_question_remove", {"question_id": question_id})
        log.append(con, who, "removed", "family_question", {"question_id": question_id}, old=old)


def in_period(db: Path, period: str) -> list[database.Row]:
    """`question_id, period, case_id, question, answer` (None = not yet answered) of a month, case by case."""
    return database.ask(db, "family_questions_in_period", {"period": months.checked_period(period)})


def of_case(db: Path, period: str | None, case_id: str) -> list[database.Row]:
    """Those of one case; none for a case without a month."""
    return [row for row in in_period(db, period) if row["case_id"] == case_id] if period else []


def _checked(question: str, answer: str | None) -> dict[str, Any]:
    text = rules.checked_text("question of the family", question)
    if text is None:
        raise UsageError("question of the family: found nothing, expected what they ask")
    return {"question": text, "answer": rules.checked_text("answer", answer)}


def _one(con: Any, question_id: int) -> database.Row:
    found = database.rows(con, "family_question", {"question_id": question_id})
    if not found:
        raise UsageError(f"question {question_id}: there is none")
    return found[0]
