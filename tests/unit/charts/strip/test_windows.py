"""Which stretch is shown: what a drag over the overview asks for, where windows may start, where to jump."""

import pytest

from audit.charts.strip import windows
from audit.questions.case_file import load_case
from audit.store import database, published
from tests.page_databases import small_database


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    db = small_database(tmp_path_factory.mktemp("windows"))
    with database.open_for_reading(published.current(db)) as con:
        return load_case(con, "C-001")


@pytest.mark.parametrize(
    ("brushed", "start", "length"),
    [
        ([31.2, 49.0], 31, 20),
        ([49.0, 31.2], 31, 20),
        ([0.0, 10.0], 0, 10),
        ([85.0, 89.0], 80, 10),
        ([0.0, 90.0], 0, 120),
    ],
)
def test_a_drag_takes_the_shortest_stretch_that_holds_it(case, brushed, start, length):
    assert windows.from_brush(brushed, windows.lengths_for("1 cm/min")[:5], case) == (start, length)


def test_a_drag_longer_than_any_stretch_shows_the_whole_labour_where_that_can_be_drawn(case):
    assert windows.from_brush([0.0, 300.0], windows.lengths_for(windows.FIT), case) == (0, windows.WHOLE)
    assert windows.from_brush([0.0, 300.0], windows.lengths_for("3 cm/min"), case)[1] == 60


def test_windows_start_anywhere_that_leaves_no_empty_paper(case):
    assert windows.starts_for(case, 60) == list(range(31))  # 90 minutes of labour
    assert windows.starts_for(case, 120) == [0]
    assert windows.starts_for(case, windows.WHOLE) == [0]


def test_a_whole_labour_is_drawn_to_its_end(case):
    window = windows.window_for(case, windows.FIT, windows.WHOLE, 0)
    assert (window.start_s, window.end_s, window.width_px) == (0.0, 5400.0, windows.FIT_WIDTH_PX)


def test_there_is_a_place_to_jump_to_for_each_concern(case):
    found = {place.text: place.start_min for place in windows.places(case, "figo-2015", 60)}
    assert found["pathological, recognisable 00:50"] == 40.0
    assert found["the last hour"] == 30.0
    assert any("40 bpm" in text for text in found)


def test_whoever_reads_the_bare_strip_is_not_told_where_to_look(case):
    assert [place.text for place in windows.places(case, None, 60)] == ["the start", "the last hour"]


def test_no_scale_offers_a_drawing_too_wide_for_a_browser():
    for name, scale in windows.SCALES.items():
        assert max(scale.window(0, 60 * length).width_px for length in windows.lengths_for(name)) <= 8000
