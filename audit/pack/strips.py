"""The strips of a case on paper: the whole labour at a glance, then true scale around the concern and before birth."""

import math
from collections.abc import Sequence
from dataclasses import replace

from audit import words
from audit.charts.strip.drawn import strip_scene
from audit.charts.strip.rows import strip_rows
from audit.charts.strip.to_svg import svg_text
from audit.charts.strip.types import (
    CSS_PX_PER_CM,
    FHR_HIGHEST_BPM,
    FHR_LOWEST_BPM,
    StripLayers,
    StripWindow,
    fitted_window,
)
from audit.pack import drawing
from audit.pack.model import Picture
from audit.pack.options import PackOptions
from audit.questions.case_file import CaseFile
from audit.words import hh_mm

LAYERS = ("baseline", "decelerations", "accelerations", "contractions", "spans", "events", "clock", "categories")
_OVERVIEW_LAYERS = ("baseline", "clock", "categories")
_OVERVIEW_PX = 590


Span = tuple[float, float]


def spans_to_print(case: CaseFile, standard: str, paper: PackOptions) -> list[Span]:
    """What is printed at true scale: around the first concern under the standard, and the last hour; seconds.

    Two spans that meet become one; both are cut to the tracing.
    """
    last = (case.end_s - 60 * paper.last_minutes, case.end_s)
    spans = [last]
    clock = case.frame("clock")
    concerns = clock[clock["standard"] == standard]
    if not concerns.empty:
        at_s = float(concerns["recognisable_s"].min())
        spans.insert(0, (at_s - 60 * paper.before_minutes, at_s + 60 * paper.after_minutes))
    cut = [(max(low, case.start_s), min(high, case.end_s)) for low, high in spans]
    return _merged([span for span in cut if span[1] > span[0]])


def rows_of(span: Span, row_minutes: float) -> list[Span]:
    """A span as rows of equal length on paper; the last one may be shorter."""
    step = 60 * row_minutes
    count = max(1, math.ceil((span[1] - span[0]) / step - 1e-9))
    return [(span[0] + k * step, min(span[0] + (k + 1) * step, span[1])) for k in range(count)]


def strip_pictures(case: CaseFile, standard: str, paper: PackOptions) -> list[Picture]:
    """One picture per row of paper."""
    spans = [row for span in spans_to_print(case, standard, paper) for row in rows_of(span, paper.row_minutes)]
    layers = StripLayers.chosen(LAYERS)
    return [_strip(case, standard, _true_scale(span, paper), layers, f"strip{k}") for k, span in enumerate(spans, 1)]


def overview(case: CaseFile, standard: str) -> Picture:
    """The whole tracing squeezed to the width of the page; not to scale."""
    window = fitted_window(case.start_s, case.end_s, _OVERVIEW_PX)
    window = StripWindow(window.start_s, window.end_s, window.px_per_min, 120, 50)
    return _strip(case, standard, window, StripLayers.chosen(_OVERVIEW_LAYERS), "overview", to_scale=False)


def slide_strip(case: CaseFile, standard: str, paper: PackOptions) -> Picture:
    """The stretch for a slide: an hour that holds the first concern, else the last hour; not to scale."""
    low, high = spans_to_print(case, standard, paper)[0]
    high = min(max(high, low + 3600), case.end_s)
    window = fitted_window(max(case.start_s, high - 3600), high, 1000)
    window = StripWindow(window.start_s, window.end_s, window.px_per_min, 230, 90)
    drawn = _strip(case, standard, window, StripLayers.chosen(LAYERS), "slide", to_scale=False)
    # made here, where cases are drawn side by side, and not one after another when the slides are put together
    return replace(drawn, png=drawing.png(drawn))


def whole_strip(case: CaseFile, paper: PackOptions) -> Picture:
    """The whole tracing in one row at true scale, for a roll of paper or a screen."""
    window = _true_scale((case.start_s, case.end_s), paper)
    return _strip(case, paper.standard, window, StripLayers.chosen(LAYERS), "strip")


def scale_words(paper: PackOptions) -> str:
    """The scale, in words for the page."""
    return (
        f"Scale {paper.cm_per_min:g} cm/min, {paper.bpm_per_cm:g} bpm/cm when printed at 100 %; toco not to scale."
        " E early, L late, V variable, P prolonged, U unclassified deceleration; A acceleration; triangles mark peaks"
        " of contractions. Bands below: minute categories (I II III; N normal, S suspicious, P pathological)."
    )


def _true_scale(span: Span, paper: PackOptions) -> StripWindow:
    fhr_cm = (FHR_HIGHEST_BPM - FHR_LOWEST_BPM) / paper.bpm_per_cm
    return StripWindow(
        span[0],
        span[1],
        paper.cm_per_min * CSS_PX_PER_CM,
        round(fhr_cm * CSS_PX_PER_CM),
        round(paper.toco_cm * CSS_PX_PER_CM),
    )


def _strip(
    case: CaseFile, standard: str, window: StripWindow, layers: StripLayers, name: str, *, to_scale: bool = True
) -> Picture:
    rows = strip_rows(case, window, standard=standard)
    rows = replace(rows, categories=rows.categories[rows.categories["standard"] == standard])
    svg = svg_text(strip_scene(rows, window, layers), face=drawing.FACE)
    span = f"{hh_mm(window.start_s)} to {hh_mm(window.end_s)}"
    scale = "" if to_scale else ", not to scale"
    return drawing.of_svg(
        svg,
        name=f"{case.case_id}-{case.fetus}-{name}",
        alt_text=f"Strip of case {case.case_id}, fetus {case.fetus}, {span}: fetal heart rate above toco",
        caption=f"{span} from the first sample{scale}; clock of {words.standard_name(standard)}",
    )


def _merged(spans: Sequence[Span]) -> list[Span]:
    found: list[Span] = []
    for low, high in sorted(spans):
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(high, found[-1][1]))
        else:
            found.append((low, high))
    return found
