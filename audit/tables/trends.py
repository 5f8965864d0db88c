"""Tables of the monthly measures; shares stand as percent, and the unit says so."""

from collections.abc import Mapping
from typing import Any

from audit.charts.control import measure_title, unit_words
from audit.tables.definition import Column, Kind, Row, Table, TableDefinition, numbers, shares, texts
from audit.words import counted


def in_its_unit(name: str, heading: str) -> Column:
    """A figure in the unit of its row's measure; shares stand as percent."""

    def value(row: Row) -> Any:
        known = row.get(name)
        return 100 * known if known is not None and row["unit"] == "share" else known

    return Column(name, heading, Kind.NUMBER, None, value=value)


def with_unit(measure: str, unit: str) -> str:
    """The title of a measure with its unit."""
    return f"{measure_title(measure)}, {unit_words(unit)}"


_FIGURES = (
    in_its_unit("value", "Value"),
    *numbers(None, numerator="Part", denominator="Of"),
    in_its_unit("centre", "Centre"),
    in_its_unit("low", "Lower limit"),
    in_its_unit("high", "Upper limit"),
)
POINTS = TableDefinition(
    "trend",
    (
        Column("period", "Month", width="small"),
        *_FIGURES,
        *texts(signal="Signal", reason="Why there is no figure"),
        *numbers(phase="Phase", stale="Readings missing or out of date"),
    ),
    empty="No point.",
    first_columns=("period", "value", "numerator", "denominator", "signal"),
)


def _remark(row: Row) -> str | None:
    """The signal, or why there is no figure; and how many of the month's readings are not as they would be now.

    Where `stale` is no number but true (for outside) it says that some are.
    """
    many = row.get("stale")
    said = "some readings" if many is True else counted(many, "reading") if many else None
    stale = f"{said} missing or out of date" if said else None
    return "; ".join(filter(None, [row.get("signal") or row.get("reason"), stale])) or None


_REMARK = Column("signal", "Signal, or why no figure", value=_remark)
POINTS_ON_TERMINAL = TableDefinition("trend", (Column("period", "Month", width="small"), *_FIGURES, _REMARK))
MEASURES = TableDefinition(
    "trends",
    (
        Column("name", "Measure", value=lambda row: measure_title(row["name"])),
        Column("unit", "Unit", value=lambda row: unit_words(row["unit"])),
        *_FIGURES,
        _REMARK,
    ),
)
GROUPS = TableDefinition(
    "funnel",
    (
        *texts(Kind.CODE, group="Group"),
        *numbers(numerator="Part", denominator="Of"),
        *shares(share="Share, %", low="Interval from, %", high="Interval to, %"),
    ),
)
FUNNEL_LIMITS = TableDefinition(
    "funnel",
    (
        *GROUPS.columns,
        *shares(low_95="95 % from, %", high_95="95 % to, %", low_998="99.8 % from, %", high_998="99.8 % to, %"),
    ),
    first_columns=("group", "numerator", "denominator", "share", "low", "high"),
)
COMPARED_SOURCES = (
    "Shares: all births or episodes of a period together, with Newcombe's interval of the difference (Stat Med"
    " 1998;17:873-90, method 10), or where it is wider one that takes months as clusters (Cochran 1977). Others:"
    " mean of the months, Welch's interval (Biometrika 1947;34:28-35). An interval that holds 0 leaves open whether"
    " anything changed; one that does not says that something did, not why. Of 20 such intervals one lies beside the"
    " truth by chance."
)
COMPARED = TableDefinition(
    "periods_compared",
    (
        Column("name", "Measure", value=lambda row: with_unit(row["name"], row["unit"])),
        in_its_unit("before", "First period"), in_its_unit("after", "Second period"),
        in_its_unit("difference", "Second less first"), in_its_unit("low", "95 % from"), in_its_unit("high", "95 % to"),
        Column("why_not", "Why there is no difference", value=lambda row: row["reason"]),
        *numbers(months_before="Months, first", months_after="Months, second"),
    ),
    empty="No measure to compare.",
    first_columns=("name", "before", "after", "difference", "low", "high"),
)  # fmt: skip
ADJUSTED = TableDefinition(
    "adjusted",
    (
        *texts(Kind.CODE, group="Group"),
        *numbers(observed="Observed"),
        *numbers(1, expected="Expected of its case mix"),
        *numbers(births="Of"),
        *shares(
            share="Adjusted, %",
            low_95="95 % from, %",
            high_95="95 % to, %",
            low_998="99.8 % from, %",
            high_998="99.8 % to, %",
        ),
    ),
    first_columns=("group", "observed", "expected", "births", "share", "low_95", "high_95"),
)
CHANGES = TableDefinition(
    "changes",
    (Column("from_period", "From", width="small"), *texts(label="What changed", measure="Charts")),
    empty="No change was entered yet.",
)


def funnel_table(funnel: Mapping[str, Any], name: str = "funnel") -> Table:
    """The groups of a document of `audit.questions.funnels`."""
    definition = FUNNEL_LIMITS if funnel["chart"] == "funnel" else GROUPS
    return definition.filled(funnel["points"], name=name, note=funnel["note"])


def points_table(measure: Mapping[str, Any], definition: TableDefinition = POINTS) -> Table:
    """The points of one measure of the document of `audit.questions.trends`."""
    rows = [{**point, "unit": measure["unit"]} for point in measure["points"]]
    return definition.filled(rows, name=f"trend_{measure['name']}")
