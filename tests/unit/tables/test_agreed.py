"""The meeting's own clocks in a terminal of 80 columns: no word is broken, and a row takes few lines."""

import io

from rich.console import Console

from audit.response.agreed import DELAYED
from audit.tables.agreed import AGREED_ON_TERMINAL
from audit.tables.renderers import to_terminal
from audit.vocabulary import STANDARDS
from audit.words import STATUSES

WIDE = {
    "case_id": "K2034", "fetus": "B", "category": "pathological", "recognisable_s": 43_200.0, "minutes_later": -120.5,
    "response_event": "tocolytic_given", "minutes_to_response": 118.5, "target_minutes": 30.0,
}  # fmt: skip


def test_no_word_is_broken_and_a_row_takes_three_lines_at_most():
    rows = [
        WIDE | {"standard": standard, "status": status, "change": "cleared" if status in DELAYED else "called_delayed"}
        for standard in STANDARDS
        for status in STATUSES
        if status != "under_way"
    ]
    rows.append(WIDE | {"standard": "figo-2015", "status": None, "change": None, "category": None})
    table = AGREED_ON_TERMINAL.filled(rows)
    out = io.StringIO()
    Console(file=out, width=80, highlight=False, markup=False).print(to_terminal(table, 80))
    text = out.getvalue()
    assert max(map(len, text.splitlines())) <= 80
    shown = text.split()
    wanted = {word for row in table.shown() for cell in row for word in cell.split()}
    wanted |= {word for column in table.columns for word in column.short_heading.split()}
    assert wanted <= set(shown)
    assert len(text.splitlines()) <= 3 * len(rows) + 4
