"""The strip: paper conventions and true scale, bare by default, each finding with letter, text and evidence."""

import itertools
import json
import math
import re

import numpy as np
import pandas as pd
import pytest

from audit import words
from audit.charts import palette
from audit.charts.strip import axes
from audit.charts.strip.chart import strip_chart
from audit.charts.strip.drawn import strip_scene
from audit.charts.strip.rows import deceleration_rows, duration, hh_mm_ss, strip_rows
from audit.charts.strip.scene import Word
from audit.charts.strip.types import SCALE_1, SCALE_3, StripLayers, StripRows, StripWindow, fitted_window
from tests.chart_specs import spec_of

pytestmark = pytest.mark.slow


# what the chart of a notebook lays over the bare strip; the printed one (test_scene.py) has more
LAYERS = ("baseline", "decelerations", "accelerations", "contractions", "excluded", "categories")
EVERY = StripLayers.chosen(LAYERS)


def drawn(case, window, layers):
    return spec_of(strip_chart(strip_rows(case, window, standard="figo-2015"), window, layers))


def texts(spec):
    return [row["text"] for rows in spec["datasets"].values() for row in rows if isinstance(row.get("text"), str)]


def rows_with(spec, column):
    return [row for rows in spec["datasets"].values() for row in rows if column in row]


def rows_of(spec, layer):
    return spec["datasets"][layer["data"]["name"]]


def panes(spec):
    return spec["vconcat"]


def test_paper_scale_is_true_at_96_pixels_to_the_inch():
    # CSS: 96 px = 1 in = 2.54 cm (CSS Values and Units 3). 10 min at 1 cm/min = 10 cm = 377.95 px, at 3 cm/min 30 cm.
    assert SCALE_1.window(0, 600).width_px == round(10 * 96 / 2.54) == 378
    assert SCALE_3.window(0, 600).width_px == round(30 * 96 / 2.54) == 1134
    # 160 bpm at 20 bpm/cm are 8 cm, at 30 bpm/cm 5.33 cm (arithmetic)
    assert SCALE_1.window(0, 600).fhr_height_px == 302
    assert SCALE_3.window(0, 600).fhr_height_px == 202


def test_every_pane_has_the_window_as_its_time_axis_and_the_width_of_the_paper(case):
    window = SCALE_1.window(2400, 4800)
    spec = drawn(case, window, EVERY)
    assert {pane["width"] for pane in panes(spec)} == {window.width_px}
    scales = [
        layer["encoding"]["x"]["scale"]["domain"] for pane in panes(spec) for layer in pane.get("layer", [pane])
        if "x" in layer.get("encoding", {})
    ]  # fmt: skip
    assert scales
    assert all(domain == [40.0, 80.0] for domain in scales)


def test_fhr_runs_from_50_to_210_with_lines_every_10_and_heavy_ones_every_30(case):
    # common practice, no source; of 320 px each of 16 steps takes 20
    spec = drawn(case, StripWindow(0, 600, 60.0, fhr_height_px=320), StripLayers())
    levels = {
        layer["mark"]["color"]: {row["top"] for row in rows_of(spec, layer) if row["minute"] == 10.0}
        for layer in panes(spec)[0]["layer"]
        if layer["mark"]["type"] == "line"
    }
    heavy = {60.0 * k for k in range(6)}  # 210, 180 ... 60 bpm
    assert levels[palette.PAPER_HEAVY] >= heavy
    assert levels[palette.PAPER_LIGHT] == {20.0 * k for k in range(17)} - heavy
    named = {row["text"]: row["top"] for row in rows_with(spec, "text") if row["minute"] < 0}
    assert [named[level] for level in ("210", "180", "150", "120", "90")] == [0, 60, 120, 180, 240]


@pytest.mark.parametrize(
    ("px_per_min", "light", "heavy"), [(113.4, 1 / 6, 1.0), (37.8, 1.0, 10.0), (16.0, 1.0, 10.0), (1.3, 10.0, 60.0)]
)
def test_the_time_grid_follows_the_scale(px_per_min, light, heavy):
    assert axes.grid_steps_min(px_per_min) == (light, heavy)


def test_the_bare_strip_shows_no_finding(case):
    spec = drawn(case, SCALE_1.window(2400, 5400), StripLayers())
    assert rows_with(spec, "what") == []
    assert rows_with(spec, "category") == []
    assert all(re.fullmatch(r"FHR|bpm|Toco|\d+|\d\d:\d\d", text) for text in texts(spec))


def test_the_whole_drawing_is_valid_vega_lite(case):
    window = SCALE_1.window(0, 1200)
    rows = strip_rows(case, SCALE_1.window(2400, 3600), standard="figo-2015")
    spec = spec_of(strip_chart(rows, window, EVERY), checked=True)
    assert spec["$schema"].startswith("https://vega.github.io/schema/vega-lite/v6")


def test_each_layer_can_be_switched_on_alone(case):
    window = SCALE_1.window(0, 5400)
    bare = drawn(case, window, StripLayers())
    for name in LAYERS:
        spec = drawn(case, window, StripLayers.chosen([name]))
        assert sum(len(rows) for rows in spec["datasets"].values()) > sum(len(r) for r in bare["datasets"].values()), (
            name
        )


def test_decelerations_have_letter_dash_and_evidence_beside_colour(case):
    spec = drawn(case, SCALE_1.window(0, 5400), StripLayers.chosen(["decelerations"]))
    assert {"E", "L", "V", "P", "U"} <= set(texts(spec))
    dashes = {tuple(layer["mark"].get("strokeDash", ())) for layer in panes(spec)[0]["layer"]}
    assert {tuple(dash) for _, _, dash in palette.KINDS.values()} <= dashes
    found = rows_with(spec, "judged_fall")
    late = next(row for row in found if row["what"] == "late deceleration")
    assert late["depth"] == "40 bpm, from 140 down to 100"
    assert late["lasts"] == "75 s"
    assert late["area"] == "1600 bpm·s"
    assert late["onset_to_nadir"] == "35 s"
    assert {row["judged_fall"] for row in found} == {
        "33 s", "33 s, could be abrupt or gradual", "not known",
    }  # fmt: skip
    assert "late or variable deceleration" in {row["what"] for row in found}
    assert '{"field": "judged_fall", "title": "fall as judged", "type": "nominal"}' in json.dumps(spec)
    assert late["lag"] == "+30 s"
    assert late["toco"] == "usable"


def test_a_fall_near_ten_minutes_says_what_it_could_be(case):
    # NICHD 2008: from 10 min on a change of the baseline
    rows = (
        case.frame("decelerations")
        .iloc[:1]
        .assign(kind="prolonged", other_kind="level_change", onset_s=0.0, end_s=594.0, open_end=False, shallow=False)
    )
    (said,) = deceleration_rows(rows).to_dict("records")
    assert said["what"].startswith("prolonged deceleration or change of baseline")
    assert said["lasts"].endswith("could be 10 min or more")


def test_categories_have_text_height_and_reasons_beside_colour(case):
    spec = drawn(case, SCALE_1.window(0, 5400), StripLayers.chosen(["categories"]))
    rows = [row for row in rows_with(spec, "reasons") if row["name"] == "FIGO 2015"]
    assert len(rows) == 90
    bars = [
        layer for layer in panes(spec)[-1]["layer"] if layer["mark"].get("color") in palette.SEVERITY_COLOURS.values()
    ]
    heights = {
        layer["mark"]["color"]: round(row["foot"] - row["top"], 2) for layer in bars for row in rows_of(spec, layer)
    }
    none, mild, worse, worst = (heights[palette.SEVERITY_COLOURS[severity]] for severity in range(4))
    assert mild < worse < worst < none
    last = max(rows, key=lambda row: row["minute"])
    assert (last["category"], last["at"]) == ("pathological", "01:30")
    assert last["reasons"] == "late decelerations with 5 of 5 contractions"
    assert {"n.a.", "N", "S", "P", "I", "II", "III"} <= set(texts(spec))


def test_the_clock_marks_recognition_target_response_and_birth(case):
    clock = strip_rows(case, SCALE_1.window(2000, 5460), standard="figo-2015").clock
    marks = dict(zip(clock["role"], clock["at"], strict=True))
    # recognisable at 3000 s, target 15 min later, response at 4800 s, birth at 5400 s (see page_databases)
    assert marks == {
        "pattern_start": "00:40:00", "recognisable": "00:50:00", "target": "01:05:00", "response": "01:20:00",
        "birth": "01:30:00",
    }  # fmt: skip


def test_unused_samples_are_shown_with_why(case):
    # 3000 to 3006 s the rate is halved, 1500 to 1620 s there is no signal (see page_databases)
    spec = drawn(case, SCALE_1.window(0, 5400), StripLayers.chosen(["excluded"]))
    why = {row["why"] for row in rows_with(spec, "why")}
    assert "no signal" in why
    gap = next(row for row in rows_with(spec, "why") if row["why"] == "no signal" and "lasts" in row)
    assert gap["from_to"] == "00:25:00 – 00:27:00"
    crosses = strip_rows(case, SCALE_1.window(0, 5400), standard="figo-2015").excluded
    assert len(crosses)
    assert crosses["minute"].between(50.0, 50.11).all()


def test_the_line_is_thinned_but_keeps_the_lowest_sample(case):
    window = fitted_window(0, 5400, 400)
    rows = strip_rows(case, window, standard="figo-2015")
    assert len(rows.fhr) <= 5 * 400
    assert rows.fhr["bpm"].min() == np.nanmin(case.tracing.fhr_bpm)
    assert rows.fhr["bpm"].isna().sum() == 1  # one gap


def test_a_line_that_leaves_the_paper_is_marked_on_its_edge(case):
    window = SCALE_1.window(0, 600)
    rows = StripRows(fhr=pd.DataFrame({"minute": [1.0, 2.0, 3.0], "bpm": [140.0, 45.0, 230.0]}))
    spec = spec_of(strip_chart(rows, window, StripLayers()))
    assert sorted(row["was"] for row in rows_with(spec, "was")) == [45.0, 230.0]


def test_a_strip_without_any_signal_says_so():
    spec = spec_of(strip_chart(StripRows(), SCALE_1.window(0, 600), EVERY))
    assert "No fetal heart rate in this stretch" in texts(spec)
    assert "No toco in this stretch" in texts(spec)


@pytest.mark.parametrize(
    ("seconds", "text"), [(0, "00:00"), (59.9, "00:00"), (60, "00:01"), (45 * 3600, "45:00"), (-90, "-00:01")]
)
def test_clock_times_are_hours_and_minutes_from_zero(seconds, text):
    assert words.hh_mm(seconds) == text


def test_unknown_times_are_said_to_be_unknown():
    assert words.hh_mm(math.nan) == "not known"
    assert hh_mm_ss(math.nan) == "not known"
    assert duration(119.4) == "119 s"
    assert duration(125) == "2 min 05 s"


def test_the_palette_is_that_of_okabe_and_ito():
    # Source: Okabe & Ito, Color Universal Design (values as in several public colour packages)
    published_values = {"000000", "E69F00", "56B4E9", "009E73", "F0E442", "0072B2", "D55E00", "CC79A7"}
    used = {colour for _, colour, _ in palette.KINDS.values()} - {palette.GREY}
    assert {colour.lstrip("#") for colour in used} <= published_values


@pytest.mark.parametrize(("fhr_px", "toco_px"), [(302, 151), (150, 60), (90, 24), (40, 12)])
def test_no_figure_beside_the_paper_stands_in_another_however_flat_it_is_drawn(fhr_px, toco_px):
    """A pack squeezes a whole labour into the width of a page; a line of type is as high as its size, 11 px."""
    window = StripWindow(0, 3600, 10.0, fhr_px, toco_px)
    for pane in strip_scene(StripRows(), window, StripLayers()).panes:
        levels = sorted(item.y for item in pane.beside if isinstance(item, Word) and item.anchor == "end")
        assert all(later - one >= 11 for one, later in itertools.pairwise(levels)), pane.name
        if pane.name in ("fhr", "toco"):
            assert levels
