"""Which stretches are printed, in which rows, and that a minute on paper is as long as the scale says."""

import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from audit.pack import strips
from audit.pack.options import PackOptions
from audit.pack.strips import rows_of, spans_to_print
from audit.questions.case_file import load_case
from audit.settings import load_settings
from audit.store import database
from tests.page_databases import small_database

PAPER = PackOptions.of(load_settings().pack).changed(
    cm_per_min=1.0,
    bpm_per_cm=20.0,
    toco_cm=1.5,
    row_minutes=15.0,
    before_minutes=15.0,
    after_minutes=15.0,
    last_minutes=60.0,
)


def labour(end_min: float, *recognisable_min: float) -> Any:
    clock = pd.DataFrame({"standard": "figo-2015", "recognisable_s": [60 * at for at in recognisable_min]})
    return SimpleNamespace(start_s=0.0, end_s=60 * end_min, frame=lambda name: clock)


@pytest.mark.parametrize(
    ("end_min", "recognisable_min", "expected_min"),
    [
        (300, (), [(240, 300)]),
        (300, (100,), [(85, 115), (240, 300)]),
        (300, (150, 100), [(85, 115), (240, 300)]),  # the first concern
        (300, (230,), [(215, 300)]),  # meets the last hour: one stretch
        (300, (5,), [(0, 20), (240, 300)]),  # cut to the tracing
        (40, (), [(0, 40)]),
    ],
)
def test_stretches_around_the_concern_and_before_the_end(
    end_min: float, recognisable_min: tuple[float, ...], expected_min: list[tuple[float, float]]
) -> None:
    found = spans_to_print(labour(end_min, *recognisable_min), "figo-2015", PAPER)
    assert [(low / 60, high / 60) for low, high in found] == expected_min


def test_another_standards_concern_does_not_count() -> None:
    assert spans_to_print(labour(300, 100), "nichd-2008", PAPER) == [(14400, 18000)]


@pytest.mark.parametrize(
    ("span", "rows"),
    [((0, 900), [(0, 900)]), ((0, 901), [(0, 900), (900, 901)]), ((600, 2400), [(600, 1500), (1500, 2400)])],
)
def test_rows_of_equal_length_with_the_rest_in_the_last(
    span: tuple[float, float], rows: list[tuple[float, float]]
) -> None:
    assert rows_of(span, 15.0) == rows


@pytest.mark.slow
def test_a_minute_is_a_centimetre_and_20_bpm_are_one_too(tmp_path: Path) -> None:
    with database.open_for_reading(small_database(tmp_path)) as con:
        case = load_case(con, "C-001")
    assert case is not None
    first = strips.strip_pictures(case, "figo-2015", PAPER)[0]
    # the frame of the FHR pane; sizes are CSS pixels, 96 to the inch of 25.4 mm
    pane = re.search(r'<g class="fhr".*?<rect width="([\d.]+)" height="([\d.]+)"', first.svg)
    assert pane is not None
    width, height = float(pane.group(1)), float(pane.group(2))
    assert width * 25.4 / 96 == pytest.approx(150.0, abs=0.3)  # 15 minutes
    assert height * 25.4 / 96 == pytest.approx(80.0, abs=0.3)  # 160 bpm
    outer = re.search(r'<svg[^>]*width="([\d.]+)"', first.svg)
    assert outer is not None
    assert first.width_mm == pytest.approx(float(outer.group(1)) * 25.4 / 96, abs=0.01)
    assert first.width_mm <= 180
