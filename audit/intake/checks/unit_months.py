"""Rows of a unit months file: what the unit counted in a month, whether it was exported or not."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.cases import period_of, unit_of
from audit.intake.checks.codes import as_code
from audit.intake.checks.fields import BadValue
from audit.intake.checks.rows import checked_rows, kept, needed, once
from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.tables import UNIT_COUNTS, SmallTable
from audit.setting_tables.intake import ImportOptions
from audit.settings import Settings

MOST_BIRTHS = 5000  # of one unit in a month; more is a slip. Our choice.


@dataclass(frozen=True)
class UnitMonthRow:
    """One checked month. `counts`: one per name of UNIT_COUNTS; None = not given."""

    period: str
    unit: str
    counts: dict[str, int | None]
    row_number: int

    @property
    def key(self) -> tuple[str, str]:
        """What makes two rows the same month."""
        return self.period, self.unit

    def content(self) -> dict[str, int | None]:
        """What two rows of the same month must agree on."""
        return self.counts


def read_unit_months(table: SmallTable, remarks: Remarks, settings: Settings) -> list[UnitMonthRow]:
    """The rows that can be stored, each month of a unit once."""
    options = settings.import_
    rows = checked_rows(table, remarks, lambda values, number: _row(values, number, remarks, options))
    return once(rows, remarks, "period", _told)


def _told(_row: UnitMonthRow, count: int, unlike: bool) -> str:
    how = "that differ; none is kept" if unlike else "with the same counts"
    return f"found {count} rows of one month {how}; expected one"


def _row(values: dict[str, Any], number: int, remarks: Remarks, options: ImportOptions) -> UnitMonthRow:
    period, typed = period_of(values), as_code(values.get("unit"))
    with needed("unit", typed):
        unit = unit_of(typed, options)
    births = _count("births", values["births"])
    counts = {name: kept(name, _part(name, births), values, number, remarks) for name in UNIT_COUNTS[1:]}
    together = [counts[name] for name in ("continuously_monitored", "auscultated")]
    if None not in together and sum(count or 0 for count in together) > births:
        remarks.flag(
            number, "auscultated", counts["auscultated"],
            f"found {together[0]} monitored and {together[1]} auscultated only, expected at most {births} births"
            " together",
        )  # fmt: skip
    urgencies = [counts[f"caesareans_category_{k}"] or 0 for k in (1, 2, 3, 4)]
    every = counts["caesareans"]
    if every is not None and sum(urgencies) > every:
        remarks.flag(
            number, "caesareans", every, f"found {sum(urgencies)} by urgency, expected at most {every} in all"
        )  # fmt: skip
    return UnitMonthRow(period, unit, {"births": births, **counts}, number)


def _count(name: str, value: Any) -> int:
    with needed(name, value):
        found = fields.as_whole(value)
        if found is None:
            raise BadValue("found no number, expected how many births there were")
        fields.check_range(name, found, 0, MOST_BIRTHS)
    return found


def _part(name: str, births: int) -> Callable[[Any], int | None]:
    """The check of a count: twins are two newborns of one birth, so newborns may be more than births."""
    most = 2 * births if name in ("neonatal_unit_admissions", "deaths") else births

    def checked(value: Any) -> int | None:
        found = fields.as_whole(value)
        if found is not None and not 0 <= found <= most:
            raise BadValue(f"found {shape(found)}, expected 0 to {most}, as there were {births} births")
        return found

    return checked
