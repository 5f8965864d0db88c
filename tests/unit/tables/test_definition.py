"""One definition of a table gives the same heading and the same figure on page, pack, slides, CSV and terminal."""

import csv
import importlib
import io
import pickle
import pkgutil

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pptx import Presentation
from pypdf import PdfReader
from rich.console import Console

import audit.tables
from audit.figures import rounded, shown
from audit.pack.methods import CAUTION
from audit.pack.model import Pack, Section
from audit.pack.to_html import html_text
from audit.pack.to_pdf import pdf_bytes
from audit.pack.to_slides import pptx_bytes
from audit.tables.definition import Column, Kind, TableDefinition
from audit.tables.renderers import to_csv, to_page, to_terminal
from dashboards import layout

EVERY_KIND = TableDefinition(
    "kinds",
    (
        Column("case_id", "Case", width="small"),
        Column("standard", "Standard", Kind.STANDARD),
        Column("event", "What was done", Kind.CODE, missing="none recorded"),
        Column("at_s", "At, h:min", Kind.CLOCK),
        Column("would_act", "Act", Kind.YES_NO),
        Column("wait", "Waited, min", Kind.NUMBER, 1),
        Column("seen", "Seen, %", Kind.SHARE),
        Column("area", "Area, bpm", Kind.NUMBER, None),
        Column("rows", "Rows", Kind.COUNT),
        Column("severity", "Kept out", Kind.SEVERITY),
    ),
    title="Every kind",
)
ROWS = [
    # 2.25 and 12.5 lie half way: away from zero, as a reader rounds by hand; -0.04 is no minus nought
    {"case_id": "K1", "standard": "figo-2015", "event": "iv_fluid_bolus", "at_s": 3725.0, "would_act": True,
     "wait": 2.25, "seen": 0.125, "area": 2843.827, "rows": 1296000, "severity": "rejected"},
    {"case_id": "=1+1", "standard": "nice-ng229", "event": None, "at_s": -90.0, "would_act": False,
     "wait": -0.04, "seen": 0.565, "area": 0.36666, "rows": 999, "severity": "flagged"},
    {"case_id": "K3", "standard": "figo-1986", "event": np.nan, "at_s": None, "would_act": None,
     "wait": np.nan, "seen": None, "area": 30, "rows": None, "severity": None},
]  # fmt: skip
# counted by hand
PRINTED = [
    ["K1", "FIGO 2015", "IV fluid bolus", "01:02", "yes", "2.3", "13", "2844", "1,296,000", "kept out"],
    ["=1+1", "NICE NG229", "none recorded", "-00:01", "no", "0.0", "57", "0.367", "999", "remark"],
    ["K3", "FIGO 1986", "none recorded", "–", "–", "–", "–", "30", "–", "–"],
]
HEADINGS = [
    "Case",
    "Standard",
    "What was done",
    "At, h:min",
    "Act",
    "Waited, min",
    "Seen, %",
    "Area, bpm",
    "Rows",
    "Kept out",
]


@pytest.fixture(scope="module")
def table():
    return EVERY_KIND.filled(ROWS)


@pytest.fixture(scope="module")
def pack(table):
    cover, methods = Section("Cover", tables=(table,)), Section("Methods")
    return Pack("2031-04", "Review", "2031-05-10", "a4", "foot", CAUTION, cover, (), (), methods)


def test_the_cells_are_rounded_and_worded_once(table):
    assert table.shown() == PRINTED


def test_a_frame_gives_the_same_cells_as_rows(table):
    assert EVERY_KIND.filled(pd.DataFrame(ROWS)).shown() == PRINTED


def test_the_page_has_the_figures_as_numbers_and_the_headings(table, monkeypatch):
    drawn = {}
    monkeypatch.setattr(layout.st, "dataframe", lambda frame, **options: drawn.update(options, frame=frame))
    monkeypatch.setattr(layout.st, "download_button", lambda *_, **options: drawn.update(csv=options["data"]()))
    layout.table(table)
    assert [drawn["column_config"][column.name]["label"] for column in table.columns] == HEADINGS
    for column, place in zip(table.columns, range(len(HEADINGS)), strict=True):
        for cell, text in zip(drawn["frame"][column.name], [row[place] for row in PRINTED], strict=True):
            if column.is_number:
                digits = drawn["column_config"][column.name]["type_config"]["format"]
                assert (drawn["placeholder"] if np.isnan(cell) else _page_text(cell, digits)) == text
            else:
                assert (drawn["placeholder"] if cell is None else cell) == text
    assert drawn["csv"] == to_csv([table])


def _page_text(value, layout_format):
    """What a page writes for a number: by the C format it was given."""
    # a comma marks thousands, as the library's documentation of number formats says
    return f"{value:,.0f}" if layout_format == "%,.0f" else layout_format % value


def test_the_csv_has_the_same_headings_and_figures_and_empty_cells_for_what_is_not_known(table):
    lines = list(csv.reader(io.StringIO(to_csv([table]).decode("utf-8-sig"), newline="")))
    assert lines[0] == HEADINGS
    wanted = [["" if text == "–" else text.replace(",", "") for text in row] for row in PRINTED]  # no mark in a file
    # OWASP, 'CSV injection': text that starts like a formula gets an apostrophe
    wanted[1][0], wanted[1][3] = "'=1+1", "'-00:01"
    assert lines[1:] == wanted


def test_tables_of_several_cases_become_one_file_with_the_case_first():
    narrow = EVERY_KIND.only("wait", "seen")
    lines = to_csv([narrow.filled(ROWS[:2])], out_of_date="2 of 3 readings").decode("utf-8-sig").splitlines()
    assert [line.rpartition(",")[2] for line in lines] == ["Out of date", "2 of 3 readings", "2 of 3 readings"]
    found = to_csv([narrow.filled(ROWS[:1], of="K1-A"), narrow.filled(ROWS[1:2], of="K2-A")]).decode("utf-8-sig")
    assert found == 'Case,"Waited, min","Seen, %"\r\nK1-A,2.3,13\r\nK2-A,0.0,57\r\n'


def test_paper_and_html_have_the_same_headings_and_figures(pack):
    texts = [html_text(pack), PdfReader(io.BytesIO(pdf_bytes(pack))).pages[0].extract_text()]
    for text in texts:
        flat = " ".join(text.split())
        assert all(heading in flat for heading in HEADINGS)
        assert all(cell in flat for row in PRINTED for cell in row)


def test_slides_have_the_same_headings_and_figures(pack):
    deck = Presentation(io.BytesIO(pptx_bytes(pack)))
    (grid,) = [shape.table for slide in deck.slides for shape in slide.shapes if shape.has_table]
    lines = [[cell.text for cell in row.cells] for row in grid.rows]
    assert lines == [HEADINGS, *PRINTED]


def test_the_terminal_has_the_same_headings_and_figures_and_loses_none_of_a_long_word(table):
    out = io.StringIO()
    Console(file=out, width=120, highlight=False, markup=False).print(to_terminal(table))
    text = out.getvalue()
    for words in [*HEADINGS, *(cell for row in PRINTED for cell in row)]:
        assert words in text
    out = io.StringIO()
    Console(file=out, width=30, highlight=False, markup=False).print(to_terminal(table))
    assert "…" not in out.getvalue()


def test_short_headings_stand_where_room_is_scarce():
    found = TableDefinition("t", (Column("a", "Minutes to response", Kind.NUMBER, 1, short="After"),)).filled(
        [{"a": 1}]
    )
    assert found.columns[0].short_heading == "After"
    assert [str(column.header) for column in to_terminal(found).columns] == ["After"]
    assert list(to_page(found).columns) == ["a"]
    assert to_csv([found]).decode("utf-8-sig").splitlines()[0] == "Minutes to response"


def test_a_count_that_is_hidden_says_so_on_paper_and_is_no_number_on_a_page():
    found = TableDefinition("t", (Column("n", "Number", Kind.NUMBER),)).filled([{"n": "hidden"}, {"n": 7}])
    assert found.shown() == [["hidden"], ["7"]]
    assert to_page(found)["n"].tolist()[1] == 7
    assert np.isnan(to_page(found)["n"][0])


def test_a_table_goes_to_another_process():
    found = TableDefinition("t", (Column("a", "A", value=lambda row: row["b"] + 1),)).filled([{"b": 1}])
    assert pickle.loads(pickle.dumps(found)) == found


def test_two_columns_never_share_a_heading_and_numbers_have_no_words():
    with pytest.raises(ValueError, match="called to"):
        TableDefinition("t", (Column("a", "to"), Column("b", "to")))
    with pytest.raises(ValueError, match="words for none"):
        Column("a", "A", Kind.NUMBER, missing="none")


def test_a_field_has_one_kind_and_one_number_of_digits_in_all_tables():
    found: dict[str, set] = {}
    for module in pkgutil.iter_modules(audit.tables.__path__):
        for definition in vars(importlib.import_module(f"audit.tables.{module.name}")).values():
            for column in definition.columns if isinstance(definition, TableDefinition) else ():
                if column.is_number and "_" in column.name:  # a name of one word (`value`, `low`) is no one thing
                    found.setdefault(column.name, set()).add((column.kind, column.digits))
    assert len(found) > 30
    # people read a baseline in whole beats, that of a segment is computed; a target in force is shown as it was set
    assert {name for name, ways in found.items() if len(ways) > 1} == {"baseline_bpm", "target_minutes"}


@given(st.floats(-1e9, 1e9), st.integers(0, 4))
def test_a_figure_lies_half_a_unit_of_its_last_digit_from_the_value(value, digits):
    assert abs(float(rounded(value, digits)) - value) <= 0.5 * 10.0**-digits + 1e-9 * abs(value)


@pytest.mark.parametrize(
    ("value", "digits", "scale", "text"),
    [(0.285, 2, 1, "0.29"), (2.5, 0, 1, "3"), (-2.5, 0, 1, "-3"), (0.145, 0, 100, "15"), (1234.5, None, 1, "1235"),
     (36.666, None, 1, "36.7"), (0.0, None, 1, "0"), (1e-9, 2, 1, "0.00"), (np.float64(0.5), 0, 1, "1"),
     (float("nan"), 1, 1, "–"), (float("inf"), 1, 1, "–"), (None, 1, 1, "–"), (np.int64(7), 1, 1, "7.0")],
)  # fmt: skip
def test_halves_go_away_from_zero_on_the_number_as_it_is_written(value, digits, scale, text):
    # rounding half away from zero, 'common practice, no source'; values and results written out by hand
    assert shown(value, digits, scale=scale) == text
