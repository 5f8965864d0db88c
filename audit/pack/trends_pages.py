"""What changed: one control chart a measure, with a sentence on the month under review."""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from audit import words as words_
from audit.charts.control import control_chart, measure_title, unit_words
from audit.control_charts.options import TrendOptions
from audit.measures.suppression import hides_share, is_small, told_together
from audit.months import is_span, last_of, next_period, within, words
from audit.pack import drawing
from audit.pack.model import Picture, Section
from audit.pack.options import PackOptions
from audit.pack.outside import NOTHING, Untold
from audit.questions.trends import luck
from audit.tables import trends as trend_tables
from audit.tables.definition import Table

CAUTION = (
    "Limits of shares take labours and episodes as independent, which those of one day or one labour are not: the true"
    " limits are wider. A month keeps the limits by which it was judged."
)

_OF_HOURS = ("hours_assessed", "hours_assessed_by_two")  # of few labours however many hours these took


def trends_section(
    document: Mapping[str, Any] | None, period: str, options: PackOptions, rules: TrendOptions, untold: Untold = NOTHING
) -> Section:
    """The measures up to the month under review, or the last of a span; later months are left out.

    `document` is that of `trends --json`. Signals are those of the month or the span, the table is of its last month
    with a figure.
    """
    title = "Trends"
    last = last_of(period)
    measures = [] if document is None else [_until(measure, last, options, untold) for measure in document["measures"]]
    drawn = [(measure, chart) for measure in measures if (chart := control_chart(measure, size="small"))]
    if not drawn:
        return Section(title=title, paragraphs=("There are no monthly measures yet.",))
    changed = [said for measure, _ in drawn for said in (*_signals(measure, period), *_phases(measure, last))]
    lead = "What changed: " + " ".join(changed) if changed else f"No chart shows a signal in {words(period)}."
    return Section(
        title=title,
        paragraphs=(
            lead,
            luck([measure for measure, _ in drawn], rules)["says"],
            "Black: the measure. Green: centre. Dashed: control limits. Diamond: a signal. Upright line: a change."
            " Triangle on the top edge: fewer than half answered.",
            CAUTION,
        ),
        pictures=tuple(_picture(measure, chart) for measure, chart in drawn),
        tables=(_table(measures, _newest(measures, period)),),
    )


def _newest(measures: Sequence[Mapping[str, Any]], period: str) -> str:
    """The month, or the last one of a span that has a point."""
    if not is_span(period):
        return period
    there = [point["period"] for measure in measures for point in measure["points"] if within(point["period"], period)]
    return max(there, default=last_of(period))


def _until(measure: Mapping[str, Any], period: str, options: PackOptions, untold: Untold = NOTHING) -> dict[str, Any]:
    """The measure up to the month; for outside without small numbers."""
    points = [dict(point) for point in measure["points"] if point["period"] <= period]
    if options.for_outside and (measure["chart"] == "g" or measure.get("single_births")):
        points = []  # each point is one birth: the chart is a list of single cases
    if options.for_outside:
        for point in points:
            point["stale"] = bool(point.get("stale"))  # few old readings could point at a labour
        few = untold.few_assessed if measure["name"] in _OF_HOURS else ()
        small = [point["period"] in few or _is_hidden(point, options.min_cell) for point in points]
        for point in [] if _centre_told(points, small, options.min_cell) else points:
            # the centre is a sum of all months: less the shown ones it would tell a hidden one
            point |= dict.fromkeys(("centre", "low", "high", "signal"))
        for point in (point for point, hidden in zip(points, small, strict=True) if hidden):
            names = ("value", "numerator", "denominator", "centre", "low", "high", "signal")
            point |= dict.fromkeys(names) | {"reason": "Hidden: a small number.", "beyond_scale": False}
    return {**measure, "points": points}


def _centre_told(points: Sequence[Mapping[str, Any]], small: Sequence[bool], least: int) -> bool:
    """Whether the hidden months add up to enough, in the order in which the reports of the months came out."""
    counts = [
        (point["numerator"] or 0, max(0, (point["denominator"] or 0) - (point["numerator"] or 0))) for point in points
    ]
    if not any(point["numerator"] is not None for point in points):
        counts = [(int(point["value"] or point["denominator"] or 0),) for point in points]  # type: ignore[misc]
    return sum(map(len, told_together(counts, small, least=least))) == len(points)


def _is_hidden(point: Mapping[str, Any], least: int) -> bool:
    numerator, denominator = point["numerator"], point["denominator"]
    if numerator is not None and denominator is not None:
        return hides_share(numerator, denominator, least=least)
    if denominator is not None:
        return is_small(denominator, least)
    value = point["value"]
    return value is not None and float(value).is_integer() and is_small(int(value), least)


def _signals(measure: Mapping[str, Any], period: str) -> list[str]:
    name = measure_title(measure["name"])
    points = [point for point in measure["points"] if within(point["period"], period) and point["signal"]]
    return [f"{name}: {_words(point['signal'])} in {point['period']}." for point in points]


def _phases(measure: Mapping[str, Any], period: str) -> list[str]:
    """Phases that begin this month or in the eleven before it; the first one of a chart is no change."""
    name = measure_title(measure["name"])
    since = next_period(period, -11)
    recent = [phase for phase in measure["phases"][1:] if since <= phase["from"] <= period]
    return [f"{name}: new phase from {phase['from']} ({phase['label']})." for phase in recent]


def _words(signal: Any) -> str:
    parts = signal if isinstance(signal, list | tuple) else [signal]
    return ", ".join(words_.words(str(part)) for part in parts)


def _picture(measure: Mapping[str, Any], chart: alt.LayerChart) -> Picture:
    caption = f"{measure_title(measure['name'])}, {unit_words(measure['unit'])} ({measure['chart']} chart)"
    name = f"trend-{measure['name']}"
    return drawing.picture(chart, name=name, alt_text=f"{caption}, month by month", caption=caption)


def _table(measures: Sequence[Mapping[str, Any]], period: str) -> Table:
    rows = []
    for measure in filter(_has_something, measures):
        own = [point for point in measure["points"] if point["period"] == period]
        rows.append({**(own[-1] if own else {}), "name": measure["name"], "unit": measure["unit"]})
    return trend_tables.MEASURES.filled(rows, title=f"Measures of {period}")


def _has_something(measure: Mapping[str, Any]) -> bool:
    """Whether any month has a figure, or something to take a share of; what nobody recorded has no row."""
    return any(
        point["value"] is not None or point["denominator"] or (point["reason"] or "").startswith("Hidden")
        for point in measure["points"]
    )
