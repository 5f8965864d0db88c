"""The strips of a case on paper: the whole labour at a glance, then true scale around the concern and before birth."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from audit import words
from audit.charts import wait_parts
from audit.charts.strip.agreed import agreed_rows
from audit.charts.strip.drawn import EDGE_PX, LEFT_PX, RIGHT_PX, strip_scene
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
from audit.charts.vector import FACE
from audit.pack import drawing
from audit.pack.model import Picture
from audit.pack.options import PackOptions
from audit.people.agreed import Agreed
from audit.questions.case_file import CaseFile
from audit.tables import bedside
from audit.words import hh_mm

LAYERS = (
    "baseline", "decelerations", "accelerations", "contractions", "spans", "events", "clock", "categories", "agreed",
)  # fmt: skip
_OVERVIEW_LAYERS = ("baseline", "categories")
_PAGE_PX = 590
_ROW_PX = 14  # of a timeline
# rows of a page: two at the full height of the scale, three flatter ones where the stretch needs them; our choice
_MOST_ROWS = 3
_PAPER_MM = 190.0  # between the margins of the narrower paper
_FLAT_BPM_PER_CM, _FLAT_TOCO_CM = 40.0, 1.0
# what a page has between its margins (ISO 216; ANSI Y14.1), and what stands on it besides rate and toco, in cm
_PAGE_CM = {"a4": 29.7 - 3.6, "us-letter": 27.94 - 3.6}
_AROUND_ROW_CM, _HEADING_CM, _NOTE_CM, _LINE_CM, _BETWEEN_CM = 1.6, 1.2, 0.9, 0.45, 0.28
_LETTERS_A_LINE = 105

Span = tuple[float, float]


def discussed(case: CaseFile, standard: str) -> Span | None:
    """The concern under discussion: of those under the standard the one that weighs most, from its pattern's start to
    its end; None without one."""
    clock = case.frame("clock")
    concerns = clock[clock["standard"] == standard]
    if concerns.empty:
        return None
    first = concerns.iloc[0]
    return float(first["pattern_start_s"]), float(first["end_s"])


def span_to_print(case: CaseFile, standard: str, paper: PackOptions) -> Span:
    """What is printed: the concern under discussion with some minutes before and after it; seconds.

    Without a concern the last stretch. Cut to the tracing.
    """
    concern = discussed(case, standard)
    if concern is None:
        low, high = case.end_s - 60 * paper.last_minutes, case.end_s
    else:
        low, high = concern[0] - 60 * paper.before_minutes, concern[1] + 60 * paper.after_minutes
    return max(low, case.start_s), min(high, case.end_s)


def row_minutes(paper: PackOptions) -> float:
    """Minutes of tracing in a row: the unit's, but no more than stand between the margins at its scale."""
    beside_cm = (EDGE_PX + LEFT_PX + RIGHT_PX) / CSS_PX_PER_CM
    most = (_PAPER_MM / 10 - beside_cm) / paper.cm_per_min
    return min(paper.row_minutes, math.floor(most) if most >= 1 else most)


def rows_of(span: Span, minutes: float) -> list[Span]:
    """A span as rows of equal length on paper, on one page; the last one may be shorter.

    A span of more rows than a page holds is squeezed into as many as it does.
    """
    count = max(1, math.ceil((span[1] - span[0]) / (60 * minutes) - 1e-9))
    step = 60 * minutes if count <= _MOST_ROWS else (span[1] - span[0]) / _MOST_ROWS
    count = min(count, _MOST_ROWS)
    return [(span[0] + k * step, min(span[0] + (k + 1) * step, span[1])) for k in range(count)]


def with_room(rows: int, paper: PackOptions, said: Sequence[str]) -> PackOptions:
    """The paper, its heart rate on a flatter scale where rows at its own leave no room for what is said above them."""
    lines = sum(math.ceil(len(text) / _LETTERS_A_LINE) for text in said)
    text_cm = _HEADING_CM + lines * _LINE_CM + len(said) * _BETWEEN_CM + _NOTE_CM
    room_cm = (_PAGE_CM[paper.paper] - text_cm) / rows - _AROUND_ROW_CM - paper.toco_cm
    scales = [scale for scale in (30.0, _FLAT_BPM_PER_CM) if scale > paper.bpm_per_cm]
    fitting = (scale for scale in (paper.bpm_per_cm, *scales) if _fhr_cm(scale) <= room_cm)
    return paper.changed(bpm_per_cm=next(fitting, max(paper.bpm_per_cm, _FLAT_BPM_PER_CM)))


def _fhr_cm(bpm_per_cm: float) -> float:
    return (FHR_HIGHEST_BPM - FHR_LOWEST_BPM) / bpm_per_cm


def paper_of_strips(case: CaseFile, standard: str, paper: PackOptions, said: Sequence[str]) -> PackOptions:
    """The paper on which the bare strips of a case stand on one page with what is said above them."""
    rows = rows_of(span_to_print(case, standard, paper), row_minutes(paper))
    return with_room(len(rows), paper, said) if len(rows) == _MOST_ROWS - 1 else paper


def strip_pictures(case: CaseFile, standard: str, paper: PackOptions) -> list[Picture]:
    """The bare strip of the stretch under discussion, one picture per row of paper, all on one page."""
    span = span_to_print(case, standard, paper)
    rows = rows_of(span, row_minutes(paper))
    scaled = _scale(rows, paper)
    drawn = [
        _strip(case, standard, _true_scale(row, scaled), StripLayers(), f"strip{k}") for k, row in enumerate(rows, 1)
    ]
    return drawn if len(rows) > 1 else [*drawn, _glance(case, standard)]


def findings_strip(case: CaseFile, standard: str, paper: PackOptions, agreed: Agreed | None = None) -> Picture:
    """The same stretch with everything that was found on it, in the width of the page; not to scale."""
    window = fitted_window(*span_to_print(case, standard, paper), _PAGE_PX, (140, 44))
    return _strip(case, standard, window, StripLayers.chosen(LAYERS), "findings", to_scale=False, agreed=agreed)


def _glance(case: CaseFile, standard: str) -> Picture:
    """The whole tracing, bare, where one row leaves the page room for it."""
    window = fitted_window(case.start_s, case.end_s, _PAGE_PX, (96, 40))
    return _strip(case, standard, window, StripLayers(), "glance", to_scale=False)


def overview(case: CaseFile, standard: str) -> Picture:
    """The whole tracing squeezed to the width of the page; not to scale."""
    window = fitted_window(case.start_s, case.end_s, _PAGE_PX, (64, 24))
    return _strip(case, standard, window, StripLayers.chosen(_OVERVIEW_LAYERS), "overview", to_scale=False)


def timeline(case: CaseFile, wait: Mapping[str, Any]) -> Picture:
    """The parts of one wait, each where it lay on the tracing's clock."""
    rows = bedside.timeline_rows(wait)
    return drawing.picture(
        wait_parts.timeline(rows, width_px=_PAGE_PX, height_px=_ROW_PX * len(rows)),
        name=f"{case.case_id}-{case.fetus}-timeline",
        alt_text=bedside.timeline_words(wait),
        caption=f"Where the time went: {bedside.timeline_title(wait)}; not to scale",
    )


def slide_strips(
    case: CaseFile, standard: str, paper: PackOptions, agreed: Agreed | None = None
) -> tuple[Picture, Picture]:
    """The stretch under discussion for slides, bare and with what was found; not to scale."""
    window = fitted_window(*span_to_print(case, standard, paper), 1000, (230, 90))
    bare = _strip(case, standard, window, StripLayers(), "slide", to_scale=False)
    layers = StripLayers.chosen(LAYERS)
    found = _strip(case, standard, window, layers, "slide-findings", to_scale=False, agreed=agreed)
    # made here, where cases are drawn side by side, and not one after another when the slides are put together
    return replace(bare, png=drawing.png(bare)), replace(found, png=drawing.png(found))


def whole_strip(case: CaseFile, paper: PackOptions) -> Picture:
    """The whole tracing in one row at true scale, for a roll of paper or a screen."""
    window = _true_scale((case.start_s, case.end_s), paper)
    return _strip(case, paper.standard, window, StripLayers.chosen(LAYERS), "strip")


def scale_words(case: CaseFile, standard: str, paper: PackOptions) -> str:
    """What is printed and at which scale, in words for the page."""
    low, high = span_to_print(case, standard, paper)
    rows = rows_of((low, high), row_minutes(paper))
    scaled = _scale(rows, paper)
    concern = discussed(case, standard)
    what = "the end of the tracing, no concern under" if concern is None else "the concern under"
    bounds = "" if concern is None else f", which ran {hh_mm(concern[0])} to {hh_mm(concern[1])}"
    below = "" if len(rows) > 1 else " Below it the whole tracing, not to scale."
    return (
        f"{hh_mm(low)} to {hh_mm(high)}: {what} {words.standard_name(standard)}{bounds}."
        f" Scale {scaled.cm_per_min:.2g} cm/min, {scaled.bpm_per_cm:g} bpm/cm when printed at 100 %; toco not to"
        f" scale.{below}"
    )


LEGEND = (
    "E early, L late, V variable, P prolonged, U unclassified deceleration; A acceleration; triangles mark peaks of"
    " contractions. Bands below: minute categories (I II III; N normal, S suspicious, P pathological)."
)


def _scale(rows: list[Span], paper: PackOptions) -> PackOptions:
    """The scale of these rows: the unit's own, flatter for three rows, squeezed where a row holds more minutes."""
    squeezed = max(1.0, (rows[0][1] - rows[0][0]) / 60 / row_minutes(paper))
    if len(rows) < _MOST_ROWS:
        return paper
    return paper.changed(
        cm_per_min=paper.cm_per_min / squeezed,
        bpm_per_cm=max(paper.bpm_per_cm, _FLAT_BPM_PER_CM),
        toco_cm=min(paper.toco_cm, _FLAT_TOCO_CM),
    )


def _true_scale(span: Span, paper: PackOptions) -> StripWindow:
    return StripWindow(
        span[0],
        span[1],
        paper.cm_per_min * CSS_PX_PER_CM,
        round(_fhr_cm(paper.bpm_per_cm) * CSS_PX_PER_CM),
        round(paper.toco_cm * CSS_PX_PER_CM),
    )


def _strip(
    case: CaseFile,
    standard: str,
    window: StripWindow,
    layers: StripLayers,
    name: str,
    *,
    to_scale: bool = True,
    agreed: Agreed | None = None,
) -> Picture:
    rows = strip_rows(case, window, standard=standard, agreed=agreed_rows(agreed))
    rows = replace(rows, categories=rows.categories[rows.categories["standard"] == standard])
    svg = svg_text(strip_scene(rows, window, layers), face=FACE)
    span = f"{hh_mm(window.start_s)} to {hh_mm(window.end_s)}"
    scale = "" if to_scale else ", not to scale"
    return drawing.of_svg(
        svg,
        name=f"{case.case_id}-{case.fetus}-{name}",
        alt_text=f"Strip of case {case.case_id}, fetus {case.fetus}, {span}: fetal heart rate above toco",
        caption=f"{span} from the first sample{scale}; clock of {words.standard_name(standard)}",
    )
