"""What the meeting found in a case: care grade, contributory factors, learning point, what went well."""

import json
from dataclasses import dataclass, fields
from pathlib import Path

from audit import months
from audit.errors import UsageError
from audit.people import log, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database

# Grades of the confidential enquiry into stillbirths and deaths in infancy (CESDI), as summarised in our own words.
ENQUIRY_SCALE = "confidential enquiry 0-3"


@dataclass(frozen=True)
class Finding:
    """One meeting's finding about one case; None = not decided or nothing said."""

    care_grade: str | None = None
    care_scale: str = ENQUIRY_SCALE
    factors: tuple[str, ...] = ()
    learning_point: str | None = None
    went_well: str | None = None


def save(db: Path, period: str, case_id: str, finding: Finding, *, who: str) -> None:
    """Store the finding, keeping the former one in the log.

    Raises UsageError for text that may not be stored, and for a grade before the outcome was opened in this meeting.
    """
    key = {"period": months.checked_period(period), "case_id": case_id}
    row = {
        **key,
        "care_scale": finding.care_scale,
        "care_grade": finding.care_grade,
        "factors": json.dumps(sorted(finding.factors), ensure_ascii=False),
        "learning_point": rules.checked_text("learning point", finding.learning_point),
        "went_well": rules.checked_text("what went well", finding.went_well),
    }
    with writing(db, who, Deed.HOLD_MEETING) as con:
        old = database.rows(con, "finding", key)
        if old and all(old[0][name] == value for name, value in row.items()):
            return
        graded = finding.care_grade is not None and (not old or old[0]["care_grade"] != finding.care_grade)
        opened = {one["case_id"] for one in database.rows(con, "disclosures_in_meeting", {"period": period})}
        if graded and case_id not in opened:
            raise UsageError("care grade: open the outcome first; nothing was stored")
        database.execute(con, "finding_save", {**row, "who": who, "at": log.utc_now()})
        log.append(con, who, "changed" if old else "added", "finding", key, old=old[0] if old else None, new=row)


def of_case(db: Path, period: str, case_id: str) -> Finding | None:
    """The finding as it stands, or None."""
    found = database.ask(db, "finding", {"period": period, "case_id": case_id})
    return _as_finding(found[0]) if found else None


def in_period(db: Path, period: str) -> dict[str, Finding]:
    """Every finding of a meeting, by case."""
    return {row["case_id"]: _as_finding(row) for row in database.ask(db, "findings_in_period", {"period": period})}


def _as_finding(row: database.Row) -> Finding:
    told = {each.name: row[each.name] for each in fields(Finding)}
    return Finding(**told | {"factors": tuple(json.loads(row["factors"]))})
