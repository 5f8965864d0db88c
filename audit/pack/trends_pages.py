"""What changed: one control chart a measure, with a sentence on the month under review."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit import words as words_
from audit.charts import printed
from audit.months import next_period
from audit.pack import drawing
from audit.pack.model import Cell, Column, Picture, Section, Table, number, table
from audit.pack.options import PackOptions
from audit.pack.suppression import hides_share, is_small

_CHART_PX = (262, 110)


def trends_section(document: Mapping[str, Any] | None, period: str, options: PackOptions) -> Section:
    """The measures up to the month under review; later months are left out. `document` is that of `trends --json`."""
    title = "Trends"
    measures = [] if document is None else [_until(measure, period, options) for measure in document["measures"]]
    drawn = [measure for measure in measures if any(point["value"] is not None for point in measure["points"])]
    if not drawn:
        return Section(title=title, paragraphs=("There are no monthly measures yet.",))
    changed = [words for measure in drawn for words in (*_signals(measure, period), *_phases(measure, period))]
    lead = "What changed: " + " ".join(changed) if changed else f"No chart shows a signal in {period}."
    return Section(
        title=title,
        paragraphs=(lead, "Solid: the measure. Thin: centre. Dashed: control limits. A square marks a signal."),
        pictures=tuple(_picture(measure) for measure in drawn),
        tables=(_table(measures, period),),
        new_page=True,
    )


def _until(measure: Mapping[str, Any], period: str, options: PackOptions) -> dict[str, Any]:
    """The measure up to the month, shares as percentages; for outside without small numbers."""
    percent = measure["unit"] == "share"
    points = [_scaled(point, 100.0 if percent else 1.0) for point in measure["points"] if point["period"] <= period]
    if options.for_outside and measure["chart"] == "g":
        points = []  # each point is one event: the chart is a list of single cases
    for point in points:
        if options.for_outside and _is_hidden(point, options.min_cell):
            hidden = ("value", "numerator", "denominator", "centre", "low", "high", "signal")
            point |= dict.fromkeys(hidden) | {"reason": "Hidden: a small number."}
    return {**measure, "unit": "%" if percent else measure["unit"], "points": points}


def _scaled(point: Mapping[str, Any], factor: float) -> dict[str, Any]:
    names = ("value", "centre", "low", "high")
    return dict(point) | {name: None if point[name] is None else point[name] * factor for name in names}


def _is_hidden(point: Mapping[str, Any], least: int) -> bool:
    numerator, denominator = point["numerator"], point["denominator"]
    if numerator is not None and denominator is not None:
        return hides_share(numerator, denominator, least=least)
    if denominator is not None:
        return is_small(denominator, least)
    value = point["value"]
    return value is not None and float(value).is_integer() and is_small(int(value), least)


def _signals(measure: Mapping[str, Any], period: str) -> list[str]:
    name = words_.words(str(measure["name"])).capitalize()
    points = [point for point in measure["points"] if point["period"] == period and point["signal"]]
    return [f"{name}: {_words(point['signal'])} in {point['period']}." for point in points]


def _phases(measure: Mapping[str, Any], period: str) -> list[str]:
    """Phases that begin this month or in the eleven before it; the first one of a chart is no change."""
    name = words_.words(str(measure["name"])).capitalize()
    since = next_period(period, -11)
    recent = [phase for phase in measure["phases"][1:] if since <= phase["from"] <= period]
    return [f"{name}: new phase from {phase['from']} ({phase['label']})." for phase in recent]


def _words(signal: Any) -> str:
    parts = signal if isinstance(signal, list | tuple) else [signal]
    return ", ".join(words_.words(str(part)) for part in parts)


def _picture(measure: Mapping[str, Any]) -> Picture:
    name = str(measure["name"])
    chart = printed.trend(measure, width_px=_CHART_PX[0], height_px=_CHART_PX[1])
    caption = f"{words_.words(name).capitalize()}, {measure['unit']} ({measure['chart']} chart)"
    return drawing.picture(chart, name=f"trend-{name}", alt_text=f"{caption}, month by month", caption=caption)


def _table(measures: Sequence[Mapping[str, Any]], period: str) -> Table:
    rows: list[list[Cell]] = []
    for measure in measures:
        points = [point for point in measure["points"] if point["period"] == period]
        point = points[-1] if points else {}
        rows.append(
            [
                words_.words(str(measure["name"])),
                measure.get("unit"),
                point.get("value"),
                point.get("numerator"),
                point.get("denominator"),
                point.get("centre"),
                point.get("low"),
                point.get("high"),
                _words(point["signal"]) if point.get("signal") else point.get("reason"),
            ]
        )
    columns = (
        Column("measure", "Measure"),
        Column("unit", "Unit"),
        number("value", "Value", 1),
        number("numerator", "Of these"),
        number("denominator", "Out of"),
        number("centre", "Centre", 1),
        number("low", "Lower limit", 1),
        number("high", "Upper limit", 1),
        Column("signal", "Signal, or why there is no point"),
    )
    return table("trends", f"Measures of {period}", columns, rows)
