"""Which stretches are printed, in which rows, and that a minute on paper is as long as the scale says."""

import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from audit.pack import strips
from audit.pack.options import PackOptions
from audit.pack.strips import rows_of, span_to_print
from audit.questions.case_file import load_case
from audit.settings import load_settings
from audit.store import database
from tests.page_databases import small_database

PAPER = PackOptions.of(load_settings()).changed(
    cm_per_min=1.0,
    bpm_per_cm=20.0,
    toco_cm=1.5,
    row_minutes=15.0,
    before_minutes=2.0,
    after_minutes=3.0,
    last_minutes=60.0,
)


def labour(end_min: float, *concerns_min: tuple[float, float]) -> Any:
    """A labour with concerns under one standard, the weightiest first."""
    clock = pd.DataFrame(
        {
            "standard": "figo-2015",
            "pattern_start_s": [60 * low for low, _ in concerns_min],
            "end_s": [60 * high for _, high in concerns_min],
        }
    )
    return SimpleNamespace(start_s=0.0, end_s=60 * end_min, frame=lambda name: clock)


@pytest.mark.parametrize(
    ("end_min", "concerns_min", "expected_min"),
    [
        (300, (), (240, 300)),
        (330, ((206, 238),), (204, 241)),  # 03:26 to 03:58, and two minutes before and three after
        (300, ((150, 160), (100, 110)), (148, 163)),  # the one that weighs most, not the first
        (300, ((1, 20),), (0, 23)),  # cut to the tracing
        (300, ((280, 299),), (278, 300)),
        (40, (), (0, 40)),
    ],
)
def test_the_stretch_under_discussion_is_printed_whole_with_its_bounds(
    end_min: float, concerns_min: tuple[tuple[float, float], ...], expected_min: tuple[float, float]
) -> None:
    low, high = span_to_print(labour(end_min, *concerns_min), "figo-2015", PAPER)
    assert (low / 60, high / 60) == expected_min


def test_another_standards_concern_does_not_count() -> None:
    assert span_to_print(labour(300, (100, 110)), "nichd-2008", PAPER) == (14400, 18000)


def test_the_words_say_which_stretch_and_at_which_scale() -> None:
    words = strips.scale_words(labour(330, (206, 238)), "figo-2015", PAPER)
    assert words.startswith("03:24 to 04:01: the concern under FIGO 2015, which ran 03:26 to 03:58. Scale 1 cm/min, 40")
    long = strips.scale_words(labour(330, (100, 185)), "figo-2015", PAPER)
    assert "Scale 0.5 cm/min, 40 bpm/cm" in long


@pytest.mark.parametrize(
    ("span", "rows"),
    [
        ((0, 900), [(0, 900)]),
        ((0, 901), [(0, 900), (900, 901)]),
        ((600, 2400), [(600, 1500), (1500, 2400)]),
        ((0, 2700), [(0, 900), (900, 1800), (1800, 2700)]),
        ((0, 5400), [(0, 1800), (1800, 3600), (3600, 5400)]),  # squeezed into three rows
    ],
)
def test_rows_of_equal_length_on_one_page(span: tuple[float, float], rows: list[tuple[float, float]]) -> None:
    assert rows_of(span, 15.0) == rows


@pytest.mark.slow
def test_a_minute_is_a_centimetre_and_20_bpm_are_one_too(tmp_path: Path) -> None:
    with database.open_for_reading(small_database(tmp_path)) as con:
        case = load_case(con, "C-001")
    assert case is not None
    # without a concern under the standard: the last minutes, two rows
    first = strips.strip_pictures(case, "figo-1986", PAPER.changed(last_minutes=34.0, row_minutes=18.0))[0]
    # the frame of the FHR pane; sizes are CSS pixels, 96 to the inch of 25.4 mm
    pane = re.search(r'<g class="fhr".*?<rect width="([\d.]+)" height="([\d.]+)"', first.svg)
    assert pane is not None
    width, height = float(pane.group(1)), float(pane.group(2))
    assert width * 25.4 / 96 == pytest.approx(170.0, abs=0.3)  # 17 minutes: a row of 18 would stand in the margin
    assert height * 25.4 / 96 == pytest.approx(80.0, abs=0.3)  # 160 bpm
    outer = re.search(r'<svg[^>]*width="([\d.]+)"', first.svg)
    assert outer is not None
    assert first.width_mm == pytest.approx(float(outer.group(1)) * 25.4 / 96, abs=0.01)
    assert first.width_mm <= 190


@pytest.mark.parametrize(
    ("paper", "words", "bpm_per_cm"),
    # 60 to 210 bpm are 7.5 cm at 20 bpm/cm and 5 cm at 30; A4 is 29.7 cm high (ISO 216), letter 27.94 cm (ANSI Y14.1)
    [("a4", 1, 20.0), ("a4", 5, 30.0), ("us-letter", 2, 30.0), ("us-letter", 30, 40.0)],
)
def test_two_rows_are_drawn_flatter_where_much_is_said_above_them(paper: Any, words: int, bpm_per_cm: float) -> None:
    said = ["Why it is here: " + "the deceleration area ranks high in its month; " * 3] * words
    found = strips.with_room(2, PAPER.changed(paper=paper, bpm_per_cm=20.0, toco_cm=1.5), said)
    assert found.bpm_per_cm == bpm_per_cm
