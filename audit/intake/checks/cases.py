"""Rows of a cases file: facts of a labour and outcomes of each newborn, checked value by value.

A value that cannot be true is kept out and the rest of its row stored; a row without a usable case_id or period is
kept out whole. What is unusual, or does not fit its neighbours, is stored with a remark.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.codes import as_code, first_missing, is_unit
from audit.intake.checks.cord_gases import check_gases
from audit.intake.checks.fields import BadValue, refuse_calendar_times
from audit.intake.checks.rows import case_of, checked_rows, fetus_of, refuse
from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.door.words import CASE_WORDS, coded
from audit.intake.formats.tables import CASE_FIELDS, OUTCOME_FIELDS, SmallTable
from audit.setting_tables.intake import ImportOptions, plain_word
from audit.settings import Settings
from audit.vocabulary import DIED, EQUITY_FIELDS, FHR_SENSORS, RISK_FACTORS, SWITCH_REASONS, TOCO_SENSORS

_WHOLE = {"parity", "plurality", "apgar_1", "apgar_5", "apgar_10", "encephalopathy_grade"}
_TRUTHS = {"neonatal_unit_admission", "cooled", "seizures", "transferred"}
_TIMES = {"second_stage_s", "birth_s", "auscultated_until_s"}
_DECIMALS = 4  # of what is measured; no analyser prints more (pH has 2 or 3), further ones come from a conversion
_PERIOD_FROM, _PERIOD_TO = 1990, 2100


@dataclass(frozen=True)
class CaseRow:
    """One checked row. `given` are the contract's columns that the file has; others are left as they are stored."""

    case_id: str
    fetus: str
    row_number: int
    facts: dict[str, Any]
    outcome: dict[str, Any]


@dataclass(frozen=True)
class Place:
    """Where a column's value stands, for remarks: the file's row and the file's own name for the column."""

    row_number: int
    names: Mapping[str, tuple[int, str]] = field(default_factory=dict)

    def of(self, column: str) -> tuple[int, str]:
        """Row and name to show for a column."""
        return self.names.get(column, (self.row_number, column))


def read_cases(table: SmallTable, remarks: Remarks, settings: Settings) -> list[CaseRow]:
    """The rows that can be stored, one for each case and fetus."""
    refuse_calendar_times(table, settings.import_.calendar_from_s)
    _drop_base_excess_column(table, remarks)
    _drop_parts_of_weeks_beside_days(table, remarks)
    rows = checked_rows(table, remarks, lambda values, number: _read_row(values, number, remarks, settings))
    return _one_row_each(rows, remarks)


def check_facts(values: Mapping[str, Any], place: Place, remarks: Remarks, settings: Settings) -> dict[str, Any]:
    """The facts of a labour among `values`, checked one by one and against each other. Period is not looked at."""
    facts = {name: _checked(name, values[name], place, remarks, settings) for name in CASE_FIELDS[1:] if name in values}
    birth_s, second_stage_s = facts.get("birth_s"), facts.get("second_stage_s")
    if birth_s is not None and second_stage_s is not None and second_stage_s > birth_s:
        reason = f"found the second stage at {second_stage_s:g} s and birth at {birth_s:g} s, expected birth after it"
        for name in ("second_stage_s", "birth_s"):
            remarks.reject_value(*place.of(name), facts[name], f"{reason}; neither is stored")
            facts[name] = None
    return facts


def check_outcome(values: Mapping[str, Any], place: Place, remarks: Remarks, settings: Settings) -> dict[str, Any]:
    """The outcome fields among `values`, checked one by one and against each other."""
    outcome = {
        name: _checked(name, values[name], place, remarks, settings) for name in OUTCOME_FIELDS if name in values
    }
    check_gases(outcome, place.of, remarks, settings)
    one, five = outcome.get("apgar_1"), outcome.get("apgar_5")
    if one is not None and five is not None and five < one - 3:
        odd = f"found {five} after {one} at one minute, expected no fall of more than 3"
        remarks.flag(*place.of("apgar_5"), five, odd)
    _check_death(outcome, place, remarks)
    return outcome


def _check_death(outcome: Mapping[str, Any], place: Place, remarks: Remarks) -> None:
    """What was done for a newborn, or how it was, does not fit a fetus that died before birth."""
    if outcome.get("died") not in ("antepartum", "intrapartum"):
        return
    alive = [name for name in ("cooled", "seizures", "transferred", "neonatal_unit_admission") if outcome.get(name)]
    alive += [name for name in ("apgar_1", "apgar_5", "apgar_10") if outcome.get(name)]
    if alive:
        odd = f"found a death before birth beside {', '.join(alive)}, expected none of these"
        remarks.flag(*place.of("died"), outcome["died"], odd)


def _read_row(values: dict[str, Any], number: int, remarks: Remarks, settings: Settings) -> CaseRow:
    case_id, fetus = case_of(values, remarks), fetus_of(values)
    period = period_of(values)
    place = Place(number)
    facts = {"period": period, **check_facts(values, place, remarks, settings)}
    if fetus != "A" and facts.get("plurality") == 1:
        remarks.flag(number, "plurality", 1, f"found plurality 1 and fetus {fetus}, expected 2 or more")
    return CaseRow(case_id, fetus, number, facts, check_outcome(values, place, remarks, settings))


def _checked(name: str, value: Any, place: Place, remarks: Remarks, settings: Settings) -> Any:
    row, column = place.of(name)
    try:
        found = _converted(name, value, settings)
        if isinstance(found, int | float) and not isinstance(found, bool):
            _check_number(name, found, settings)
    except BadValue as error:
        remarks.reject_value(row, column, value, str(error))
        return None
    usual = settings.import_.usual.of(name)
    if usual is not None and found is not None and not usual[0] <= found <= usual[1]:
        remarks.flag(row, column, found, f"found {found:g}, expected {usual[0]:g} to {usual[1]:g}")
    return found


def _converted(name: str, value: Any, settings: Settings) -> Any:
    if name in _WHOLE:
        return fields.as_whole(value)
    if name in CASE_WORDS:
        return _word(name, value, settings)
    if name == "fhr_sensor":
        return fields.as_one_of(value, FHR_SENSORS)
    if name == "toco_sensor":
        return fields.as_one_of(value, TOCO_SENSORS)
    if name == "risk_factors":
        return fields.as_several_of(value, RISK_FACTORS)
    if name == "monitored_because":
        return fields.as_one_of(fields.underscored(value), SWITCH_REASONS)
    if name in EQUITY_FIELDS:
        return _band(name, value, settings)
    if name == "died":
        return _died(value)
    if name == "unit":
        return unit_of(value, settings.import_) or None
    if name in _TRUTHS:
        return fields.as_yes_or_no(value)
    number = fields.as_weeks(value) if name == "gestation_weeks" else fields.as_number(value)
    return None if number is None else round(number, _DECIMALS)


def unit_of(value: Any, options: ImportOptions) -> str:
    """A unit's code; '' where none is given. Raises BadValue for what may be a name."""
    code = as_code(value)
    if code and not is_unit(code, options.reader_pattern):
        raise BadValue(f"found {shape(code)}, expected a code such as U1, never a name")
    return code


def _band(name: str, value: Any, settings: Settings) -> str | None:
    """One of the bands that the settings list, never other text. Raises BadValue for any other."""
    try:
        return fields.as_one_of(fields.underscored(value), settings.equity.bands.of(name))
    except BadValue as error:
        raise BadValue(f"{error}, as [equity.bands] lists them") from error


def _died(value: Any) -> str | None:
    """When it died; None also where the file says that it did not, as nothing more is stored of that."""
    if not fields.is_none(value) and fields.as_text(value).casefold() in ("no", "false", "0", "alive"):
        return None
    return fields.as_one_of(value, DIED)


def _word(name: str, value: Any, settings: Settings) -> str | None:
    """A word of the unit's own, or one that the program knows. Raises BadValue for any other."""
    if fields.is_none(value):
        return None
    text = fields.as_text(value)
    own = settings.import_.words.of(name).get(plain_word(text))
    found = coded(name, text) if own is None else own
    if found is None:
        raise BadValue(
            f"found {shape(text)} with a word that is not known; map a word of your own in [import.words.{name}]"
        )
    return found


def _check_number(name: str, number: float, settings: Settings) -> None:
    if name == "birth_s" and number < 0:
        raise BadValue("found birth before the tracing's first sample, expected 0 s or later")
    if name in _TIMES:
        low = 0.0 if name == "birth_s" else settings.import_.earliest_event_s
        fields.check_range(name, number, low, settings.import_.latest_s)
        return
    span = settings.range_of(name)
    if span is not None:
        fields.check_range(name, number, *span)


def period_of(values: dict[str, Any]) -> str:
    """The month of birth. Raises BadRow for what is none."""
    period = "" if fields.is_none(values["period"]) else fields.as_text(values["period"])
    refuse(_bad_period(period), "period", period)
    return period


def _bad_period(period: str) -> str | None:
    """Why this is no month of birth, or None when it is one."""
    year, _, month = period.partition("-")
    plain = len(year) == 4 and len(month) == 2 and (year + month).isascii() and (year + month).isdigit()
    if not plain or not 1 <= int(month) <= 12 or not _PERIOD_FROM <= int(year) <= _PERIOD_TO:
        return f"found {shape(period)}, expected the month of birth as YYYY-MM"
    return None


def _one_row_each(rows: list[CaseRow], remarks: Remarks) -> list[CaseRow]:
    """One row for each case and fetus: equal rows count once, rows that contradict each other are all kept out."""
    together: dict[tuple[str, str], list[CaseRow]] = {}
    for row in rows:
        together.setdefault((row.case_id, row.fetus), []).append(row)
    kept = []
    for (case_id, fetus), same in together.items():
        first = same[0]
        differ = sorted({n for row in same for n in _differing(first, row)})
        unlike = f" that differ in {', '.join(differ)}; none is kept" if differ else ", the same twice"
        reason = f"found {len(same)} rows for case {case_id}, fetus {fetus}{unlike}; expected one row each"
        for row in same if differ else same[1:]:
            remarks.reject_row(row.row_number, reason, "case_id", case_id)
        if not differ:
            kept.append(first)
    return _facts_of_first_fetus(kept, remarks)


def _facts_of_first_fetus(rows: list[CaseRow], remarks: Remarks) -> list[CaseRow]:
    """Twins are one case: the first fetus's row gives its facts; what the others say differently is a remark."""
    rows = sorted(rows, key=lambda row: (row.case_id, row.fetus))
    out: list[CaseRow] = []
    for row in rows:
        if not out or out[-1].case_id != row.case_id:
            remarks.flag(row.row_number, "fetus", None, first_missing([row.fetus]))
            out.append(row)
            continue
        leading = next(r for r in out if r.case_id == row.case_id)
        for name, value in row.facts.items():
            stored = leading.facts.get(name)
            if stored is None and value is not None:
                leading.facts[name] = value
            elif value is not None and value != stored:
                remarks.flag(
                    row.row_number, name, value,
                    f"found {fields.as_text(value)} for fetus {row.fetus}; a case has one value,"
                    f" {fields.as_text(stored)} of fetus {leading.fetus} is stored",
                )  # fmt: skip
        out.append(CaseRow(row.case_id, row.fetus, row.row_number, leading.facts, row.outcome))
    return out


def _differing(a: CaseRow, b: CaseRow) -> list[str]:
    one, other = {**a.facts, **a.outcome}, {**b.facts, **b.outcome}
    return [name for name in one if one[name] != other[name]]


def _drop_base_excess_column(table: SmallTable, remarks: Remarks) -> None:
    """A column in which most of five numbers or all of a few are negative holds base excess: none of it is stored."""
    name = "cord_artery_base_deficit_mmol_l"
    numbers = []
    for value in table.columns.get(name, []):
        try:
            numbers.append(fields.as_number(value))
        except BadValue:
            numbers.append(None)
    given = [number for number in numbers if number is not None]
    negative = sum(number < 0 for number in given)
    if negative < 2 or (negative < len(given) and (len(given) < 5 or 2 * negative <= len(given))):
        return
    for k, (number, row) in enumerate(zip(numbers, table.row_numbers, strict=True)):
        if number is not None:
            remarks.reject_value(
                row, name, number,
                "found in a column of mostly negative numbers: this looks like base excess,"
                " expected base deficit (change the sign of the whole column)",
            )  # fmt: skip
            table.columns[name][k] = None


def _drop_parts_of_weeks_beside_days(table: SmallTable, remarks: Remarks) -> None:
    """Where some weeks are written with days (39+4), 39.4 beside them may be either: it is not stored."""
    name = "gestation_weeks"
    column = table.columns.get(name, [])
    if not any(fields.is_weeks_and_days(value) for value in column):
        return
    for k, (value, row) in enumerate(zip(column, table.row_numbers, strict=True)):
        try:
            number = None if fields.is_weeks_and_days(value) else fields.as_number(value)
        except BadValue:
            continue
        if number is not None and number != int(number):
            remarks.reject_value(
                row, name, value,
                "found weeks with decimals beside weeks and days in one column: is it 39.4 weeks or 39+4? Expected one"
                " of them throughout",
            )  # fmt: skip
            column[k] = None
