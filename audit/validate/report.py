"""The short report of a validation: one HTML file with inline drawings, nothing from the network."""

from pathlib import Path
from typing import Any

import altair as alt
import jinja2
import pandas as pd
import vl_convert

from audit.validate.footing_words import CLASS_NAMES, words_of
from audit.validate.outcomes import PUBLISHED
from audit.validate.result import ValidationResult, equal_lines, second_lines, sorting_lines

_WIDTH = 460
_ROW = 22

_PAGE = Path(__file__).with_name("report.html")


def html_of(result: ValidationResult) -> str:
    """The report as one HTML text."""
    environment = jinja2.Environment(autoescape=True)
    rows = _rows(result)
    return environment.from_string(_PAGE.read_text(encoding="utf-8")).render(
        r=result,
        rows=rows,
        classes=CLASS_NAMES,
        confusions=[
            {
                "name": name,
                "lines": [
                    {"name": words, "cells": list(line)}
                    for words, line in zip(CLASS_NAMES, reading.whole.confusion, strict=True)
                ],
            }
            for name, reading in result.readings.items()
        ],
        footings=[(r.standard, "\n".join(equal_lines(r, r.equal))) for r in result.readings.values() if r.equal],
        second="\n".join(second_lines(result.second, result.part)).strip(),
        sorting=sorting_lines(result.sorting),
        chairs_svg=_svg(_intervals(pd.DataFrame(_chairs(result)), "kappa (linear)", 0.0, [-0.1, 1.0])),
        areas_svg=_svg(_intervals(pd.DataFrame(_areas(result)), "area under the ROC curve", 0.5, [0.2, 1.0])),
        published=PUBLISHED,
    )


def _rows(result: ValidationResult) -> list[dict[str, Any]]:
    named = []
    for reading in result.readings.values():
        named.append((f"computed, {reading.standard}", reading.whole))
        named += [(f"– {group}", found) for group, found in reading.by_group.items()]
    return [
        {
            "name": name,
            "kappa": words_of(found.kappa_linear),
            "agreement": "" if found.agreement.value is None else f"{found.agreement.value:.0%}",
            "windows": found.windows,
            "refused": found.not_assessable or "",
        }
        for name, found in named
    ]


def _chairs(result: ValidationResult) -> list[dict[str, Any]]:
    """Each expert, and the computed reading in that expert's place, against the same panel of the others."""
    equal = result.readings[result.headline].equal
    return [
        {"name": f"chair of expert {name}", "group": group, "value": k.value, "low": k.low, "high": k.high}
        for name, chair in (equal.chairs.items() if equal else ())
        for group, k in (("computed", chair.reading), ("expert", chair.expert))
        if k.value is not None
    ]


def _areas(result: ValidationResult) -> list[dict[str, Any]]:
    return [
        {"name": a.measure, "group": a.outcome, "value": a.estimate, "low": a.low, "high": a.high}
        for a in result.areas
        if a.estimate is not None
    ]


def _intervals(
    rows: pd.DataFrame, title: str, reference: float, domain: list[float]
) -> alt.LayerChart | alt.FacetChart:
    """Points with intervals, one row a name, one shape and colour a group."""
    groups = list(dict.fromkeys(rows["group"])) if len(rows) else []
    across = alt.X("value:Q", title=title, scale=alt.Scale(domain=domain, clamp=True))
    down = alt.Y("name:N", title=None, sort=None, axis=alt.Axis(labelLimit=330))
    offset = alt.YOffset("group:N")
    colour = alt.Color("group:N", title=None, scale=alt.Scale(domain=groups, range=["#0b4f8a", "#b3541e"]))
    base = alt.Chart(rows if len(rows) else pd.DataFrame(columns=["name", "group", "value", "low", "high"]))
    rule = base.mark_rule(strokeWidth=2).encode(
        x=alt.X("low:Q", title=title, scale=alt.Scale(domain=domain, clamp=True)),
        x2="high:Q",
        y=down,
        yOffset=offset,
        color=colour,
    )
    point = base.mark_point(filled=True, size=70, opacity=1).encode(
        x=across,
        y=down,
        yOffset=offset,
        color=colour,
        shape=alt.Shape("group:N", title=None, scale=alt.Scale(domain=groups)),
    )
    line = alt.Chart(pd.DataFrame({"at": [reference]})).mark_rule(strokeDash=[4, 4], color="#777").encode(x="at:Q")
    height = _ROW * max(rows["name"].nunique() if len(rows) else 1, 1) * (1.3 if len(groups) > 1 else 1.0)
    return alt.layer(line, rule, point).properties(width=_WIDTH, height=height)


def _svg(chart: alt.LayerChart | alt.FacetChart) -> str:
    return str(vl_convert.vegalite_to_svg(chart.to_dict()))
