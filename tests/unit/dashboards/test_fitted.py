"""Tables of a page of 1280 px: what is shown at first fits it, and of the rest nothing is lost."""

import importlib
import pkgutil

import pytest

import audit.tables
from audit.tables.agreement import PAIRS
from audit.tables.cases import CASE_LIST, IMPORTS
from audit.tables.definition import Column, Kind, TableDefinition
from audit.tables.episodes import EPISODES_ON_PAGE
from audit.tables.trends import POINTS
from dashboards import fitted
from dashboards.over_time.trends_parts import HALF_PX

DEFINITIONS = [
    pytest.param(found, id=f"{module.name.rsplit('.')[-1]}.{name}")
    for module in pkgutil.iter_modules(audit.tables.__path__, "audit.tables.")
    for name, found in vars(importlib.import_module(module.name)).items()
    if isinstance(found, TableDefinition) and found.first_columns
]


@pytest.mark.parametrize("definition", DEFINITIONS)
def test_columns_shown_at_first_have_room_for_their_headings(definition):
    first = [column for column in definition.columns if column.name in definition.first_columns]
    room = HALF_PX if definition is POINTS else fitted.ROOM_PX
    assert sum(map(fitted.heading_px, first)) <= room


def test_the_columns_that_are_asked_about_most_are_shown_at_first():
    assert {"target_minutes", "status", "minutes_to_response"} <= set(EPISODES_ON_PAGE.first_columns)
    assert {"reader_a", "reader_b", "weighted_kappa_linear"} <= set(PAIRS.first_columns)
    assert {"case_id", "list", "concerns"} <= set(CASE_LIST.first_columns)


def test_text_gives_way_and_figures_do_not():
    definition = TableDefinition(
        "x", (Column("case", "Case"), Column("note", "Note"), Column("figure", "Minutes to birth", Kind.NUMBER, 1))
    )
    short = definition.filled([{"case": "K1", "note": "a word", "figure": 12.5}])
    assert set(fitted.widths(short, definition.names, 890)) == {"case"}
    long = definition.filled([{"case": "K1", "note": "many words " * 40, "figure": 12.5}])
    widths = fitted.widths(long, definition.names, 890)
    assert sum(widths.values()) <= 890
    assert widths["note"] > widths["figure"] > widths["case"]
    # a figure keeps room for its heading whatever the words take
    assert widths["figure"] == fitted.widths(long, definition.names, 300)["figure"]


def test_a_narrow_window_has_every_column_of_a_row_below_each_other():
    definition = TableDefinition(
        "x", (Column("case", "Case"), Column("note", "Note"), Column("figure", "Minutes to birth", Kind.NUMBER, 1))
    )
    rows = [{"case": "K1", "note": "many words " * 20, "figure": 12.5}, {"case": "K2", "note": "few", "figure": None}]
    found = definition.filled(rows)
    assert fitted.stacks(found, definition.names)
    assert not fitted.stacks(definition.filled(rows[1:]), definition.names)
    stacked = fitted.stacked(found, definition.names)
    assert [row[0] for row in stacked.rows] == ["K1", "K2"]  # in the same order: a row that is chosen stays the same
    assert stacked.rows[0][1].endswith("Minutes to birth: 12.5")
    assert stacked.rows[1][1] == "Note: few"
    widths = fitted.widths(stacked, ["case", fitted.STACK], fitted.NARROW_PX)
    assert sum(widths.values()) <= fitted.NARROW_PX
    lines = (fitted.stack_height(stacked) - 22) / 21
    assert lines * widths[fitted.STACK] / 7.2 >= len(stacked.rows[0][1])


def test_the_time_of_an_import_is_never_cut():
    row = {"imported_at": "2031-05-04 10:20", "source": "0123456789.parquet", "kind": "assessments",
           "outcome": "stored", "rows_accepted": 3_855_600, "rows_rejected": 0, "rows_flagged": 6,
           "message": "a sentence that says what was the matter with this file"}  # fmt: skip
    widths = fitted.widths(IMPORTS.filled([row]), IMPORTS.names, fitted.ROOM_PX)
    assert sum(widths.values()) <= fitted.ROOM_PX
    assert widths["imported_at"] >= len("2031-05-04 10:20") * fitted._CHARACTER_PX


def test_a_definition_refuses_first_columns_that_it_does_not_have():
    with pytest.raises(ValueError, match="nothing"):
        TableDefinition("x", (Column("case", "Case"),), first_columns=("nothing",))
    assert EPISODES_ON_PAGE.only("case_id", "note").first_columns == ("case_id",)
