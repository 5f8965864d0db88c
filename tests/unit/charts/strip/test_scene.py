"""The strip as shapes: everything stands where the paper's scale puts it, and nothing covers the tracing.

Scale: CSS Values and Units 3, 96 px to the inch of 2.54 cm; so one minute at 1 cm/min, and 20 bpm, are 37.795 px.
"""

import math
import xml.etree.ElementTree as ElementTree

import numpy as np
import pandas as pd
import pytest
import vl_convert

from audit.charts import palette
from audit.charts.strip.agreed import agreed_rows
from audit.charts.strip.drawn import strip_scene
from audit.charts.strip.scene import Box, Line, Pane, Scene, Shape, Word
from audit.charts.strip.to_svg import svg_text
from audit.charts.strip.types import SCALE_1, SCALE_3, StripLayers, StripRows, StripWindow
from audit.people.agreed import Agreed
from audit.response.agreed import Mark

CM = 96 / 2.54
WINDOW = SCALE_1.window(3600, 3600 + 900)  # 01:00 to 01:15
SVG = "{http://www.w3.org/2000/svg}"


def line(*points: tuple[float, float], column: str = "bpm") -> pd.DataFrame:
    return pd.DataFrame(points, columns=["minute", column])


def deceleration(minute: float, end: float, kind: str = "late") -> pd.DataFrame:
    return pd.DataFrame([{"minute": minute, "end_minute": end, "kind": kind}])


def scene(window: StripWindow = WINDOW, layers: tuple[str, ...] = (), **rows: pd.DataFrame) -> Scene:
    return strip_scene(StripRows(**rows), window, StripLayers.chosen(layers))


def pane(found: Scene, name: str) -> Pane:
    return next(pane for pane in found.panes if pane.name == name)


def names(found: Scene) -> list[str]:
    return [pane.name for pane in found.panes]


def tracing(found: Pane) -> Line:
    (only,) = [item for item in found.inside if isinstance(item, Line) and item.colour == palette.INK]
    return only


@pytest.mark.parametrize(("scale", "cm_per_min", "bpm_per_cm"), [(SCALE_1, 1.0, 20.0), (SCALE_3, 3.0, 30.0)])
def test_a_sample_stands_where_its_time_and_rate_are_on_paper(
    scale: object, cm_per_min: float, bpm_per_cm: float
) -> None:
    window = scale.window(3600, 4500)  # type: ignore[attr-defined]
    found = tracing(pane(scene(window, fhr=line((60, 210), (62.5, 140), (75, 50))), "fhr"))
    assert found.x == pytest.approx([0, 2.5 * cm_per_min * CM, 15 * cm_per_min * CM], abs=0.5)
    assert found.y == pytest.approx([0, 70 / bpm_per_cm * CM, 160 / bpm_per_cm * CM], abs=0.5)


def test_every_ten_beats_and_every_minute_have_a_line_heavy_ones_every_thirty_and_every_ten() -> None:
    # common practice, no source
    inside = pane(scene(), "fhr").inside
    light, heavy = (item for item in inside if isinstance(item, Line))
    assert (light.colour, heavy.colour) == (palette.PAPER_LIGHT, palette.PAPER_HEAVY)
    uprights = {colour: [] for colour in (palette.PAPER_LIGHT, palette.PAPER_HEAVY)}
    levels = {colour: [] for colour in (palette.PAPER_LIGHT, palette.PAPER_HEAVY)}
    for item in (light, heavy):
        for k in range(0, item.x.size, 3):
            if item.x[k] == item.x[k + 1]:
                uprights[item.colour].append(round(item.x[k] / CM, 2))
            else:
                levels[item.colour].append(210 - item.y[k] / CM * 20)
    assert uprights[palette.PAPER_HEAVY] == pytest.approx([0, 10], abs=0.02)  # 01:00 and 01:10
    assert uprights[palette.PAPER_LIGHT] == pytest.approx([k for k in range(16) if k % 10], abs=0.02)
    assert levels[palette.PAPER_HEAVY] == pytest.approx([60, 90, 120, 150, 180, 210], abs=0.3)
    assert levels[palette.PAPER_LIGHT] == pytest.approx([b for b in range(50, 210, 10) if b % 30], abs=0.3)


def test_a_gap_is_a_gap() -> None:
    found = tracing(pane(scene(fhr=line((60, 140), (61, math.nan), (62, 140))), "fhr"))
    drawn = svg_text(scene(fhr=line((60, 140), (61, math.nan), (62, 140), (63, 141))), face="x")
    assert np.isnan(found.y).tolist() == [False, True, False]
    # two strokes: one that stands alone, one from 62 to 63
    path = next(p for p in ElementTree.fromstring(drawn).iter(f"{SVG}path") if p.get("stroke") == palette.INK)
    assert (path.get("d", "").count("M"), path.get("d", "").count("L")) == (2, 1)


@pytest.mark.parametrize(("bpm", "kind"), [(40, "down"), (215, "up")])
def test_where_the_line_leaves_the_paper_a_triangle_says_so(bpm: float, kind: str) -> None:
    found = pane(scene(fhr=line((60, 140), (61, bpm), (62, 140))), "fhr")
    (shape,) = [item for item in found.inside if isinstance(item, Shape)]
    assert (shape.kind, shape.x) == (kind, pytest.approx(CM, abs=0.5))
    assert 0 <= shape.y <= found.height


def test_a_level_on_the_edge_is_still_on_the_paper() -> None:
    found = pane(scene(fhr=line((60, 50), (61, 210))), "fhr")
    assert not [item for item in found.inside if isinstance(item, Shape)]


def test_findings_stay_off_until_asked_for() -> None:
    rows = {"fhr": line((60, 140), (75, 140)), "decelerations": deceleration(62, 64)}
    assert scene(**rows) is not None
    bare = pane(scene(**rows), "fhr").inside
    assert not [item for item in bare if isinstance(item, Box | Word)]
    shown = pane(scene(layers=("decelerations",), **rows), "fhr").inside
    tint, foot = (item for item in shown if isinstance(item, Box))
    assert (tint.x, tint.width) == (pytest.approx(2 * CM, abs=0.3), pytest.approx(2 * CM, abs=0.3))
    assert foot.fill == tint.fill == palette.KINDS["late"][1]
    assert [item.text for item in shown if isinstance(item, Word)] == ["L"]


def test_the_tracing_lies_over_what_was_found() -> None:
    shown = pane(
        scene(layers=("decelerations",), fhr=line((60, 140), (75, 140)), decelerations=deceleration(62, 64)), "fhr"
    ).inside
    kinds = [item.colour if isinstance(item, Line) else type(item).__name__ for item in shown]
    assert kinds.index(palette.INK) > max(k for k, kind in enumerate(kinds) if kind == "Box")


def test_letters_that_would_touch_are_thinned_and_their_bars_are_not() -> None:
    two = pd.concat([deceleration(62.0, 62.1), deceleration(62.1, 62.2)], ignore_index=True)
    shown = pane(scene(layers=("decelerations",), fhr=line((60, 140), (75, 140)), decelerations=two), "fhr").inside
    assert len([item for item in shown if isinstance(item, Word)]) == 1
    assert len([item for item in shown if isinstance(item, Box)]) == 4


def test_a_category_is_told_by_height_and_word_as_well_as_colour() -> None:
    minutes = pd.DataFrame(
        [
            {"minute": 60.0 + k, "end_minute": 61.0 + k, "at": "", "standard": "figo-2015", "category": category,
             "severity": severity, "reasons": ""}
            for k, (category, severity) in enumerate([("normal", 1)] * 5 + [("pathological", 3)] * 5)
        ]
    )  # fmt: skip
    found = pane(scene(layers=("categories",), fhr=line((60, 140), (75, 140)), categories=minutes), "categories")
    normal, pathological = (item for item in found.inside if isinstance(item, Box))
    assert normal.width == pytest.approx(5 * CM, abs=0.5)
    assert pathological.height > 2 * normal.height
    assert [item.text for item in found.inside if isinstance(item, Word)] == ["N", "P"]


def test_panes_stand_one_below_the_other_and_share_the_time_axis() -> None:
    events = pd.DataFrame([{"minute": 61.0, "text": "senior called", "what": "senior called", "at": "01:01:00"}])
    found = scene(layers=("events",), fhr=line((60, 140), (75, 140)), toco=line((60, 10), (75, 10), column="toco"),
                  events=events)  # fmt: skip
    assert [p.name for p in found.panes] == ["marks", "fhr", "time", "toco"]
    for upper, lower in zip(found.panes, found.panes[1:], strict=False):
        assert upper.top + upper.height < lower.top
    assert found.panes[-1].top + found.panes[-1].height < found.height
    # the mark's line goes through both channels at the same place
    for name in ("marks", "fhr", "toco"):
        xs = [item.x[0] for item in pane(found, name).inside if isinstance(item, Line) and item.x.size == 2]
        assert pytest.approx(CM, abs=0.5) in xs


def test_a_stretch_without_signal_says_so() -> None:
    found = scene()
    words = [item.text for p in found.panes for item in p.inside if isinstance(item, Word)]
    assert words == ["No fetal heart rate in this stretch", "No toco in this stretch"]


def test_the_drawing_is_well_formed_whatever_a_text_holds_and_a_converter_draws_it() -> None:
    events = pd.DataFrame([{"minute": 61.0, "text": '<b> & "c"', "what": "", "at": ""}])
    drawn = svg_text(scene(layers=("events",), fhr=line((60, 140), (75, 130)), events=events), face="Liberation Sans")
    root = ElementTree.fromstring(drawn)
    assert '<b> & "c"' in [text.text for text in root.iter(f"{SVG}text")]
    assert vl_convert.svg_to_pdf(drawn).startswith(b"%PDF")
    assert vl_convert.svg_to_png(drawn).startswith(b"\x89PNG")


@pytest.mark.parametrize("minute", [59.2, 60.0, 74.9])
def test_a_letter_at_an_edge_stands_whole_inside_it_and_over_the_part_that_is_seen(minute: float) -> None:
    rows = deceleration(minute, minute + 1.0)
    inside = pane(scene(layers=("decelerations",), decelerations=rows), "fhr").inside
    (letter,) = [item for item in inside if isinstance(item, Word) and item.bold]
    half = letter.size_px / 2 - 1  # a capital is narrower than its size
    assert half <= letter.x <= WINDOW.width_px - half
    seen = max(minute, 60.0), min(minute + 1.0, 75.0)
    assert (seen[0] - 60) * CM - half <= letter.x <= (seen[1] - 60) * CM + half


def test_the_meetings_clock_stands_in_a_lane_of_its_own_below_the_computed_categories() -> None:
    """Minute 62 and 65 of a window from 60 at 1 cm/min; an event struck out and one added above the flags."""
    agreed = Agreed(
        True, "III", 3720.0, 3900.0, None, None, 3900.0, "senior_called", "artefact",
        (Mark("struck_out", "deceleration", 3660.0, 3690.0, "artefact", "late"),
         Mark("added", "contraction", 4080.0, 4140.0, "toco_not_usable")),
    )  # fmt: skip
    computed = pd.DataFrame(
        [{"minute": 60.0, "end_minute": 75.0, "standard": "nichd-2008", "category": "II", "severity": 2, "at": "",
          "reasons": ""}]
    )  # fmt: skip
    found = scene(layers=("categories", "agreed"), categories=computed, agreed=agreed_rows(agreed))
    lane, above = pane(found, "agreed"), pane(found, "categories")
    assert found.panes[-1] is lane
    assert lane.top >= above.top + above.height
    flags = {item.text: item.x for item in lane.inside if isinstance(item, Word)}
    assert flags == pytest.approx(
        {"III from here": 2 * CM + 7, "recognisable, escalation: senior called": 5 * CM + 7}, abs=0.5
    )
    marks = {item.kind: item.x for item in lane.inside if isinstance(item, Shape) and item.y == 7.5}
    assert marks == pytest.approx({"cross": 1.25 * CM, "up": 8.5 * CM}, abs=0.5)
    assert [(box.x, box.width) for box in lane.inside if isinstance(box, Box)] == [pytest.approx((8 * CM, CM), abs=0.5)]
    assert "agreed" not in names(scene(layers=("categories",), categories=computed, agreed=agreed_rows(agreed)))
    assert "agreed" not in names(scene(SCALE_1.window(7200, 7500), ("agreed",), agreed=agreed_rows(agreed)))


def test_a_scale_is_narrowed_where_the_strip_would_be_wider_than_its_room() -> None:
    # counted by hand: 30 min at 1 cm/min take 30 cm, in 21 cm they have 0.7 cm a minute; 20 min take 20 cm as they are
    assert SCALE_1.narrowed(1800.0, 21.0).cm_per_min == pytest.approx(0.7)
    assert SCALE_1.narrowed(1800.0, 21.0).bpm_per_cm == SCALE_1.bpm_per_cm
    assert SCALE_1.narrowed(1200.0, 21.0) is SCALE_1
