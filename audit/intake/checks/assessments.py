"""Rows of an assessments file: what staff wrote down of the tracing at the time, and in which role."""

from dataclasses import dataclass
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.classed import ClassedRow, classed, features
from audit.intake.checks.fields import refuse_calendar_times
from audit.intake.checks.rows import BadRow, case_of, checked_rows, fetus_of, kept, once, time_of
from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.tables import SmallTable
from audit.setting_tables.intake import ImportOptions, plain_word
from audit.settings import Settings
from audit.vocabulary import RISK_FACTORS


@dataclass(frozen=True)
class AssessmentRow(ClassedRow):
    """One checked assessment, under the column names of `assessments`."""

    KEYS = ("case_id", "fetus", "at_s", "standard", "assessor")

    at_s: float
    assessor: str
    risk: str | None = None


def read_assessments(table: SmallTable, remarks: Remarks, settings: Settings) -> list[AssessmentRow]:
    """The rows that can be stored, each assessment once."""
    options = settings.import_
    refuse_calendar_times(table, options.calendar_from_s)
    rows = checked_rows(table, remarks, lambda values, number: _row(values, number, remarks, options))
    return once(rows, remarks, "at_s", _told)


def _told(row: AssessmentRow, count: int, unlike: bool) -> str:
    why = "which differ; none is kept" if unlike else "the same twice"
    return f"found {count} assessments of one role at {row.at_s:g} s, {why}; expected one"


def _row(values: dict[str, Any], number: int, remarks: Remarks, options: ImportOptions) -> AssessmentRow:
    case_id, fetus = case_of(values, remarks), fetus_of(values)
    return AssessmentRow(
        case_id,
        fetus,
        time_of("at_s", values, options.earliest_event_s, options.latest_s),
        **classed(values),
        assessor=_role(values["assessor"], options.assessors),
        **features(values, number, remarks),
        risk=kept("risk", lambda value: fields.as_several_of(value, RISK_FACTORS), values, number, remarks),
        row_number=number,
    )


def _role(value: Any, roles: dict[str, str]) -> str:
    word = "" if fields.is_none(value) else fields.as_text(value)
    role = roles.get(plain_word(word))
    if role is None:
        known = ", ".join(dict.fromkeys(roles.values()))
        found = shape(word) if word else "nothing"
        raise BadRow(
            f"found {found}, expected a role ({known}); map a role of your own in [import.assessor_words]",
            "assessor",
            word or None,
        )
    return role
