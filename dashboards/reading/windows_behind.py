"""From a figure of reader agreement to the windows it rests on, and from a window to its strip."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import streamlit as st

from audit import house_style
from audit.people.permissions import Deed
from audit.questions.agreement import Question
from audit.tables import agreement as tables
from audit.tables.definition import Table
from audit.words import hh_mm
from dashboards import cases_behind, data, layout, register, session
from dashboards.keys import ReviewKey


@dataclass(frozen=True)
class Figure:
    """What a row of a table rests on: the name as `windows_behind` has it, the readers, and whose the answers are.

    `of`: only the windows with this first answer; None = all.
    """

    name: str
    readers: tuple[str, ...] = ()
    first: str = "First"
    second: str = "Second"
    of: str | None = None

    @property
    def in_address(self) -> str:
        """As an address names it."""
        return ".".join((self.name, *self.readers, *([] if self.of is None else [self.of])))


def table(found: Table, behind: Sequence[Figure], asked: Question) -> None:
    """A table each of whose rows leads to its windows, shown below it, and these to the strips; the address follows.

    Only for who may see every read; for others it is a table.
    """
    if not session.may(Deed.SEE_EVERY_READ):
        layout.table(found)
        return
    key = f"windows_{found.name}"
    layout.table(found, on_select=lambda: _follow(key, behind), selection_mode="single-row", key=key)
    named = st.query_params.get(ReviewKey.AGREEMENT_BEHIND)
    figure = next((figure for figure in behind if figure.in_address == named), None)
    if figure is None:
        if found.rows:
            st.caption("Choose a row to see the windows behind it.")
        return
    rows = data.windows_behind(asked, figure.name, figure.readers)
    rows = [row for row in rows if figure.of in (None, row["first"])]
    alike = sum(row["same"] for row in rows)
    whose = layout.plain(house_style.text(f"{figure.first} and {figure.second}"))
    st.markdown(f"**Windows of {whose}**: {len(rows)}, the same answer on {alike}. Choose a row to open the strip.")
    strips(tables.two_answers(figure.first, figure.second).filled(rows), rows)


def strips(found: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """A table of windows; choosing a row opens the case where the window begins."""
    row = cases_behind.chosen(found, rows, f"strip_of_{found.name}")
    if row is not None:
        to = {"case": row["case_id"], "fetus": row["fetus"], "at": hh_mm(row["start_s"])}
        cases_behind.turn_to(register.CASE, to)


def _follow(key: str, behind: Sequence[Figure]) -> None:
    chosen = st.session_state[key].selection.rows
    if chosen:
        st.query_params[ReviewKey.AGREEMENT_BEHIND] = behind[chosen[0]].in_address
    else:
        st.query_params.pop(ReviewKey.AGREEMENT_BEHIND.value, None)
