"""Charts of reader agreement: a forest of intervals, the pair matrix, categories by reader, agreement over months."""

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt
import pandas as pd

from audit.charts import palette
from audit.charts.tips import tips
from audit.words import words

_CELL_PX = 62
_LABEL_PX = 250
_AXIS_PX = 44  # below a chart that is fitted to its place: the axis with its title counts
PAIR_MEASURES = {
    "weighted_kappa_linear": "linear weighted kappa",
    "weighted_kappa_quadratic": "quadratic weighted kappa",
    "kappa": "kappa",
    "agreement": "proportion of agreement",
}


# What belongs on one axis (GRRAS, Kottner et al. 2011; de Vet et al., BMJ 2013;346:f2125: agreement as such and
# agreement beyond chance are different questions; Cicchetti and Feinstein 1990: agreement on one category at a time).
# How often a category was chosen is no agreement: the table has it, the forest has not.
FOREST = {
    "agreement as such, with 95 % interval": ("proportion_of_agreement",),
    "agreement beyond chance (0 = chance), with 95 % interval": (
        "fleiss_kappa", "krippendorff_alpha_nominal", "krippendorff_alpha_ordinal", "krippendorff_alpha_interval",
        "gwet_ac1", "gwet_ac2", "brennan_prediger",
    ),
    "agreement on one category, with 95 % interval": ("specific_agreement", "jaccard_agreement"),
}  # fmt: skip


def forest_rows(measures: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """The figures of agreement that could be estimated, by the axis they belong on.

    Columns: axis (of FOREST), label, estimate, low, high (None = no interval), windows.
    """
    rows = [
        {
            "axis": axis,
            "label": words(row["name"]) + (f", {words(row['category'])}" if row["category"] else ""),
            "estimate": row["estimate"],
            "low": row["low"],
            "high": row["high"],
            "windows": row["n"],
        }
        for axis, names in FOREST.items()
        for name in names
        for row in measures
        if row["name"] == name and row["estimate"] is not None
    ]
    return pd.DataFrame(rows, columns=["axis", "label", "estimate", "low", "high", "windows"])


def forest(measures: Sequence[Mapping[str, Any]]) -> list[alt.LayerChart]:
    """Each figure as a point with its interval, a chart for each axis with those it can be held against.

    What has no interval is a point alone. The axes have one scale, so that equal lengths are equal differences, and
    the charts, as wide as their place, stand below each other.
    """
    rows = forest_rows(measures)
    scale = alt.Scale(domain=[min([0.0, *rows["low"].dropna(), *rows["estimate"]]), 1.0])
    return [_finished(_forest_of(part, str(axis), scale)) for axis, part in rows.groupby("axis", sort=False)]


def _forest_of(rows: pd.DataFrame, title: str, scale: alt.Scale) -> alt.LayerChart | alt.FacetChart:
    labels = alt.Axis(title=None, labelLimit=_LABEL_PX, minExtent=_LABEL_PX, maxExtent=_LABEL_PX)
    y = alt.Y("label:N", sort=list(rows["label"]), axis=labels)
    said = [
        alt.Tooltip("label:N", title="figure"),
        *(alt.Tooltip(f"{name}:Q", format=".2f") for name in ("estimate", "low", "high")),
        alt.Tooltip("windows:Q"),
    ]
    base = alt.Chart(rows)
    # the points tell the interval in words; a layer that may be empty would be a picture without any
    bars = base.transform_filter("isValid(datum.low) && isValid(datum.high)").mark_rule(
        color=palette.INK, strokeWidth=1.5, aria=False
    )
    bars = bars.encode(
        x=alt.X("low:Q", scale=scale, title=title, axis=alt.Axis(format=".1f", tickCount=10)), x2="high:Q", y=y
    )
    points = base.mark_point(filled=True, size=70, color=palette.INK, opacity=1).encode(
        x=alt.X("estimate:Q", scale=scale), y=y, tooltip=said
    )
    return alt.layer(bars, points).properties(height=22 * len(rows) + _AXIS_PX)


def pair_rows(pairs: Sequence[Mapping[str, Any]], measure: str) -> pd.DataFrame:
    """Both halves of the matrix: reader_a, reader_b, value (None = not estimable), text, windows."""
    rows = []
    for pair in pairs:
        value = pair[measure]
        text = "–" if value is None else f"{value:.2f}"
        for one, two in ((pair["reader_a"], pair["reader_b"]), (pair["reader_b"], pair["reader_a"])):
            rows.append({"reader_a": one, "reader_b": two, "value": value, "text": text, "windows": pair["windows"]})
    return pd.DataFrame(rows, columns=["reader_a", "reader_b", "value", "text", "windows"])


def pair_matrix(pairs: Sequence[Mapping[str, Any]], measure: str) -> alt.LayerChart:
    """A square per pair of readers; the figure is written in it, so that shade is not the only carrier."""
    rows = pair_rows(pairs, measure)
    names = sorted(set(rows["reader_a"]))
    x = alt.X("reader_a:N", sort=names, axis=alt.Axis(title=None, orient="top", labelAngle=0))
    y = alt.Y("reader_b:N", sort=names, axis=alt.Axis(title=None))
    titles = {"reader_a:N": "reader", "reader_b:N": "and reader", "text:N": PAIR_MEASURES[measure]}
    said = tips({**titles, "windows:Q": "windows read by both"})
    base = alt.Chart(rows)
    # from white to blue; below zero counts as none
    shade = alt.Color("value:Q", scale=alt.Scale(domain=[0, 1], range=list(palette.SHARES), clamp=True), legend=None)
    cells = base.mark_rect(stroke=palette.EDGE).encode(x=x, y=y, color=shade, tooltip=said)
    text = base.mark_text(color=palette.INK).encode(x=x, y=y, text=alt.Text("text:N"), tooltip=said)
    size = _CELL_PX * max(len(names), 1)
    return _finished(alt.layer(cells, text).properties(width=size, height=min(size, 34 * max(len(names), 1))))


def months(rows: pd.DataFrame, title: str) -> alt.LayerChart:
    """One figure month by month with its interval; `rows`: period, estimate, low, high, windows, readers."""
    x = alt.X(
        "period:N",
        sort=list(rows["period"]),
        axis=alt.Axis(title="month of birth", labelAngle=0, labelOverlap="greedy"),
    )
    scale = alt.Scale(domain=[min(0.0, float(rows[["estimate", "low"]].min(numeric_only=True).min())), 1.0])
    figures = (alt.Tooltip(f"{name}:Q", format=".2f") for name in ("estimate", "low", "high"))
    said = ["period:N", *figures, "windows:Q", "readers:Q"]
    base = alt.Chart(rows)
    line = base.mark_line(color=palette.INK, strokeWidth=1).encode(x=x, y=alt.Y("estimate:Q", scale=scale, title=title))
    bars = base.mark_rule(color=palette.INK, strokeWidth=1.5, aria=False).encode(
        x=x, y=alt.Y("low:Q", scale=scale), y2=alt.Y2("high:Q")
    )
    points = base.mark_point(filled=True, size=60, color=palette.INK, opacity=1).encode(
        x=x, y=alt.Y("estimate:Q", scale=scale), tooltip=said
    )
    return _finished(alt.layer(line, bars, points).properties(width=max(300, 70 * len(rows)), height=220))


def leaning(rows: pd.DataFrame, order: Sequence[str]) -> alt.Chart:
    """How often a reader chose each category beside the others' consensus; `rows`: who, category, share."""
    chart = (
        alt.Chart(rows)
        .mark_bar(stroke=palette.INK, strokeWidth=0.6)
        .encode(
            x=alt.X("share:Q", title="share of windows", axis=alt.Axis(format="%"), scale=alt.Scale(domain=[0, 1])),
            y=alt.Y("who:N", sort=["this reader", "the others"], title=None),
            row=alt.Row("category:N", sort=list(order), title=None, header=alt.Header(labelAngle=0, labelAlign="left")),
            color=alt.Color(
                "who:N",
                scale=alt.Scale(domain=["this reader", "the others"], range=[palette.INK, "#FFFFFF"]),
                legend=None,
            ),
            tooltip=[alt.Tooltip("who:N"), alt.Tooltip("category:N"), alt.Tooltip("share:Q", format=".0%")],
        )
        .properties(width=420, height=44)
    )
    return _finished(chart)


def _finished(chart: Any) -> Any:
    return (
        chart.configure(font=palette.FONT, background=palette.PAPER)
        .configure_view(stroke=None)
        .configure_axis(
            labelFontSize=12,
            titleFontSize=12,
            titleFontWeight="normal",
            labelColor=palette.INK,
            titleColor=palette.INK,
            gridColor=palette.GRID_LIGHT,
        )
        .configure_text(fontSize=12)
    )
