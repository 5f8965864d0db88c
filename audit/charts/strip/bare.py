"""The bare strip of a blind reading: the tracing, and nothing that could tell more."""

import dataclasses
from typing import Any

import altair as alt

from audit.charts.strip.chart import strip_chart
from audit.charts.strip.rows import line_rows
from audit.charts.strip.types import PaperScale, StripLayers, StripRows, StripWindow
from audit.tracing.types import Tracing
from audit.words import hh_mm


def bare_strip(tracing: Tracing, start_s: float, end_s: float, scale: PaperScale) -> alt.VConcatChart:
    """FHR over toco on paper, its time counted from the strip's own start; nothing else is in the drawing's data."""
    moved = dataclasses.replace(tracing, start_s=tracing.start_s - start_s)
    window: StripWindow = scale.window(0.0, end_s - start_s)
    rows = StripRows(
        fhr=line_rows(moved, moved.fhr_bpm, window, "bpm"),
        toco=line_rows(moved, moved.toco, window, "toco"),
    )
    return strip_chart(rows, window, StripLayers())


def what_may_be_known(facts: dict[str, Any], start_s: float, *, gestation: bool, stage: bool) -> list[str]:
    """What the lead lets readers know beside the strip."""
    known: list[str] = []
    if gestation:
        weeks = facts.get("gestation_weeks")
        known.append("gestation not given" if weeks is None else f"{int(weeks)} completed weeks")
    if stage:
        second = facts.get("second_stage_s")
        if second is None:
            known.append("stage not given")
        elif second <= start_s:
            known.append("second stage")
        else:
            known.append(f"first stage, second stage begins {hh_mm(second - start_s)} after the strip's start")
    return known
