"""Rows of an assessments file: what staff wrote down of the tracing at the time, and in which role."""

from dataclasses import dataclass
from dataclasses import fields as dataclass_fields
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.codes import as_code, bad_case_id, bad_fetus
from audit.intake.checks.fields import BadValue, refuse_calendar_times
from audit.intake.checks.reads import BadRow, features, kept, needed_word
from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.tables import SmallTable
from audit.setting_tables.intake import ImportOptions, plain_word
from audit.vocabulary import READ_CATEGORIES, RISK_FACTORS

AssessmentKey = tuple[str, str, float, str, str]  # case, fetus, time, standard, assessor


@dataclass(frozen=True)
class AssessmentRow:
    """One checked assessment, under the column names of `assessments`."""

    case_id: str
    fetus: str
    at_s: float
    standard: str
    category: str
    assessor: str
    baseline_bpm: float | None = None
    variability: str | None = None
    accelerations: str | None = None
    decelerations: str | None = None
    contractions_per_10_min: float | None = None
    risk: str | None = None
    row_number: int = 0

    @property
    def key(self) -> AssessmentKey:
        """What makes two rows the same assessment."""
        return self.case_id, self.fetus, self.at_s, self.standard, self.assessor

    def content(self) -> dict[str, Any]:
        """The columns of `assessments`."""
        return {name: getattr(self, name) for name in COLUMNS}


COLUMNS = tuple(each.name for each in dataclass_fields(AssessmentRow) if each.name != "row_number")


def read_assessments(table: SmallTable, remarks: Remarks, options: ImportOptions) -> list[AssessmentRow]:
    """The rows that can be stored, each assessment once."""
    refuse_calendar_times(table, options.calendar_from_s)
    roles = options.assessors
    rows: dict[AssessmentKey, list[AssessmentRow]] = {}
    for k, number in enumerate(table.row_numbers):
        values = {name: column[k] for name, column in table.columns.items()}
        try:
            row = _row(values, number, roles, remarks, options)
            rows.setdefault(row.key, []).append(row)
        except BadRow as error:
            remarks.reject_row(number, error.reason, error.column, error.value)
    return [row for same in rows.values() for row in _once(same, remarks)]


def _once(same: list[AssessmentRow], remarks: Remarks) -> list[AssessmentRow]:
    """The same twice counts once; two that contradict each other are both kept out."""
    unlike = any(row.content() != same[0].content() for row in same)
    for row in same if unlike else same[1:]:
        remarks.reject_row(
            row.row_number,
            f"found {len(same)} assessments of one role at {row.at_s:g} s"
            + (", which differ; none is kept" if unlike else ", the same twice")
            + "; expected one",
            "at_s",
            row.at_s,
        )
    return [] if unlike else same[:1]


def _row(
    values: dict[str, Any], number: int, roles: dict[str, str], remarks: Remarks, options: ImportOptions
) -> AssessmentRow:
    case_id = as_code(values.get("case_id"))
    fetus = "A" if fields.is_none(values.get("fetus")) else fields.as_text(values["fetus"])
    for reason, column, value in ((bad_case_id(case_id), "case_id", case_id), (bad_fetus(fetus), "fetus", fetus)):
        if reason is not None:
            raise BadRow(reason, column, value)
    standard = needed_word("standard", values["standard"], tuple(READ_CATEGORIES))
    return AssessmentRow(
        remarks.case_id(case_id),
        fetus.upper(),
        _time(values["at_s"], options),
        standard,
        needed_word("category", values["category"], READ_CATEGORIES[standard]),
        _role(values["assessor"], roles),
        **features(values, number, remarks),
        risk=kept("risk", lambda value: fields.as_several_of(value, RISK_FACTORS), values, number, remarks),
        row_number=number,
    )


def _time(value: Any, options: ImportOptions) -> float:
    try:
        at_s = fields.as_number(value)
        if at_s is None:
            raise BadValue("found no time, expected seconds from the case's first sample")
        fields.check_range("at_s", at_s, options.earliest_event_s, options.latest_s)
    except BadValue as error:
        raise BadRow(str(error), "at_s", value) from error
    return at_s


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
