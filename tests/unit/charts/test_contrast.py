"""What is drawn can be seen and what is written on it read: contrast ratios of every colour of the charts.

Source: W3C, Web Content Accessibility Guidelines 2.2 (Recommendation, 2023): contrast ratio and relative luminance as
its terms define them; 1.4.3 Contrast (Minimum), 4.5 to 1 for text; 1.4.11 Non-text Contrast, 3 to 1 for graphics.
"""

import itertools

import pandas as pd
import pytest

from audit import vocabulary, words
from audit.charts import palette
from audit.charts.agreement import pair_matrix
from audit.charts.disagreement import beside, window_by_window
from audit.charts.month import category_shares
from audit.charts.quality import signal_seen
from audit.charts.strip.bands import BAND_ROW_PX, BARS, category_labels
from audit.charts.strip.drawn import strip_scene
from audit.charts.strip.scene import Box, Line, Word
from audit.charts.strip.types import SCALE_1, StripLayers, StripRows
from audit.charts.waits import how_they_ended
from tests.chart_specs import spec_of

TEXT, GRAPHIC = 4.5, 3.0
CAPITAL_PX = 0.72 * 11  # height of a capital of 11 px text; of the fonts that are asked for, from memory


def luminance(colour: str) -> float:
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def ratio(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def minutes(*categories: str, each: int = 6) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {"minute": float(k), "end_minute": k + 1.0, "at": f"00:{k + 1:02d}", "standard": "figo-2015",
             "category": name, "severity": palette.CATEGORIES[name][0], "reasons": "none"}
            for k, name in enumerate(name for name in categories for _ in range(each))
        ]
    )  # fmt: skip


def lane(rows: pd.DataFrame, minutes_shown: float):
    scene = strip_scene(
        StripRows(categories=rows), SCALE_1.window(0, 60 * minutes_shown), StripLayers.chosen(["categories"])
    )
    return next(pane for pane in scene.panes if pane.name == "categories").inside


def test_ratios_are_those_of_the_definition() -> None:
    assert ratio("#000000", "#FFFFFF") == pytest.approx(21)  # "contrast ratios can range from 1 to 21"
    assert ratio("#FFFFFF", "#FFFFFF") == 1


def test_lines_of_the_paper_and_what_is_drawn_on_it_can_be_seen() -> None:
    drawn_in = [
        palette.PAPER_LIGHT, palette.PAPER_HEAVY, palette.INK, palette.ACCELERATION, palette.CONTRACTION,
        palette.BASELINE, palette.OTHER_HEART, palette.LOST, palette.UNUSED, palette.EDGE,
        *(colour for _, colour, _ in palette.KINDS.values()), *(colour for colour, _ in palette.ROLES.values()),
    ]  # fmt: skip
    for colour in drawn_in:
        assert ratio(palette.PAPER, colour) >= GRAPHIC, colour


FILLS = [
    *palette.SEVERITY_COLOURS.values(),
    *palette.SHADES,
    *palette.SHARES,
    palette.SKY,
    *(
        colour
        for colour, _ in palette.STATUS_MARKS.values()
        if colour not in (palette.BLACK, palette.BLUE, palette.GREY)
    ),
]


@pytest.mark.parametrize("fill", FILLS)
def test_the_edge_of_a_fill_stands_out_from_the_fill_and_from_the_ground(fill: str) -> None:
    assert ratio(palette.EDGE, palette.PAPER) >= GRAPHIC
    assert ratio(palette.EDGE, fill) >= GRAPHIC


@pytest.mark.parametrize("colour", [palette.BLACK, palette.BLUE, palette.GREY])
def test_fills_too_dark_for_an_edge_stand_out_by_themselves(colour: str) -> None:
    assert ratio(colour, palette.PAPER) >= GRAPHIC


@pytest.mark.parametrize(
    "ground",
    [palette.PAPER, *palette.SEVERITY_COLOURS.values(), *palette.SHADES, *palette.SHARES, palette.LOST, palette.UNUSED],
)
def test_ink_can_be_read_on_every_fill_that_carries_text(ground: str) -> None:
    assert ratio(palette.INK, ground) >= TEXT


def test_curves_and_the_names_in_their_colour_can_be_read() -> None:
    assert len(set(palette.SERIES)) == len(palette.SERIES)
    for colour in (*palette.SERIES, palette.QUIET_INK, palette.BASELINE):
        assert ratio(colour, palette.PAPER) >= TEXT, colour


def test_categories_are_told_apart_without_hues() -> None:
    """1.4.1 Use of Color: lightness falls with severity; height and text differ; equal heights differ 3 to 1."""
    shades = [luminance(palette.SEVERITY_COLOURS[severity]) for severity in range(4)]
    assert shades == sorted(shades, reverse=True)
    for one, other in itertools.combinations(range(4), 2):
        higher = abs((BARS[one][1] - BARS[one][0]) - (BARS[other][1] - BARS[other][0])) * BAND_ROW_PX >= 3
        assert higher or ratio(palette.SEVERITY_COLOURS[one], palette.SEVERITY_COLOURS[other]) >= GRAPHIC
    for names in (vocabulary.THREE_TIERS, ("I", "II", "III")):
        assert len({palette.CATEGORIES[name][1] for name in (*names, "not assessable")}) == 4
    used = {*(colour for _, colour, _ in palette.KINDS.values()), palette.ACCELERATION, palette.CONTRACTION,
            palette.BASELINE, palette.OTHER_HEART, palette.LOST, palette.UNUSED}  # fmt: skip
    assert not used & set(palette.SEVERITY_COLOURS.values())  # one colour, one meaning


def test_every_run_on_paper_has_its_edge_and_no_edge_goes_through_a_text() -> None:
    names = ("normal", "suspicious", "pathological", "not assessable")
    found = lane(minutes(*names), 24)
    boxes = [item for item in found if isinstance(item, Box)]
    (edge,) = [item for item in found if isinstance(item, Line)]
    texts = [item for item in found if isinstance(item, Word)]
    assert edge.colour == palette.EDGE
    assert (len(boxes), len(texts)) == (4, 4)
    for box in boxes:
        within = (edge.x >= box.x - 1.01) & (edge.x <= box.x + box.width + 1.01)
        for level in (box.y + 0.5, box.y + box.height - 0.5):
            assert (abs(edge.y[within] - level) < 0.01).any()
        for text in texts:
            if box.x <= text.x < box.x + box.width:
                for level in (box.y + 0.5, box.y + box.height - 0.5):
                    assert abs(level - text.y) > CAPITAL_PX / 2
    assert found.index(edge) > max(found.index(box) for box in boxes)
    assert found.index(edge) < min(found.index(text) for text in texts)


def test_a_run_too_narrow_for_sides_keeps_its_colour() -> None:
    narrow = minutes("normal", "pathological", "normal", each=1).assign(
        minute=[0.0, 5.0, 5.05], end_minute=[5.0, 5.05, 10.0]
    )
    (edge,) = [item for item in lane(narrow, 10) if isinstance(item, Line)]
    upright = [k for k in range(len(edge.x) - 1) if edge.x[k] == edge.x[k + 1] and edge.y[k] != edge.y[k + 1]]
    assert len(upright) == 4  # two sides of each wide run, none of the narrow one


def test_labels_say_where_in_the_row_they_stand() -> None:
    labels = category_labels(minutes("normal", "pathological").assign(row="FIGO 2015"), SCALE_1.window(0, 720))
    assert labels["level"].tolist() == [BARS[1][2], BARS[3][2]]


def strokes(spec: object) -> set[str]:
    """The stroke of every mark of a chart that fills."""
    found: set[str] = set()
    if isinstance(spec, dict):
        mark = spec.get("mark")
        if isinstance(mark, dict) and mark.get("type") in ("rect", "bar"):
            found.add(str(mark.get("stroke")))
        for value in spec.values():
            found |= strokes(value)
    elif isinstance(spec, list):
        for value in spec:
            found |= strokes(value)
    return found


def test_fills_of_the_other_charts_have_the_same_edge() -> None:
    shares = pd.DataFrame({"standard": ["figo-2015"] * 2, "category": ["normal", "not assessable"],
                           "fraction": [0.7, 0.3], "minutes": [70, 30], "standard_minutes": [100] * 2})  # fmt: skip
    pairs = pd.DataFrame([{"one": "normal", "other": "normal", "pairs": 3, "of": 3, "share": 1.0}])
    reads = pd.DataFrame([{"place": 1, "case_id": "C1", "fetus": "", "start_s": 0.0, "end_s": 1800.0, "reader": "R1",
                           "answer": "normal"}])  # fmt: skip
    charts = {
        "month": category_shares(shares, width_px=400),
        "seen": signal_seen(pd.DataFrame({"seen_fraction": [0.5]}), width_px=400),
        "ended": how_they_ended(pd.DataFrame({"status": list(words.STATUSES), "episodes": 1}), width_px=300),
        "beside": beside(pairs, ["normal"]),
        "windows": window_by_window(reads, ["normal"]),
        "pairs": pair_matrix([{"reader_a": "R1", "reader_b": "R2", "kappa": 0.5, "windows": 9}], "kappa"),
    }
    for name, chart in charts.items():
        assert strokes(spec_of(chart)) == {palette.EDGE}, name
