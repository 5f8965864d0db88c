"""From a number on a page to the cases behind it: the list of all cases of the month, narrowed by the address."""

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

import streamlit as st

from audit.questions import trend_groups
from audit.tables.definition import Table
from dashboards import data, layout, register

EVERY_CASE = "all"
T = TypeVar("T")


def address(period: str | None, standard: str | None = None, **filters: str | None) -> dict[str, str]:
    """What stands in the address of such a list; `filters` by names of `month_list`, None leaves one open."""
    named = {"cases": EVERY_CASE, "period": period, "standard": standard, **filters}
    return {name: value for name, value in named.items() if value is not None}


def link(label: str, to: Mapping[str, str]) -> None:
    """One number with its list."""
    st.page_link(register.CASES_TO_DISCUSS.file, label=label, query_params=dict(to))


def links(found: Sequence[tuple[str, Mapping[str, str]]], *, lead: str = "The cases behind it:") -> None:
    """Several numbers in a line, each with its list; nothing where there are none."""
    if not found:
        return
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.caption(lead, width="content")
        for label, to in found:
            link(label, to)


def of_spans(spans: Sequence[tuple[str, str]], standard: str, measure: str) -> None:
    """The births behind a monthly measure of some spans of months, each with its list."""
    narrowed = trend_groups.behind(measure)
    links(
        [
            (f"{low} to {high}", address(data.ALL_MONTHS, standard, **{"from": low, "to": high}, **narrowed))
            for low, high in spans
        ]
    )


def table(found: Table, to: Sequence[Mapping[str, str]], **options: Any) -> None:
    """A table whose rows lead to their cases: choosing a row opens the list."""
    address_of_row = chosen(found, to, f"behind_{found.name}", **options)
    if address_of_row is not None:
        turn_to(register.CASES_TO_DISCUSS, address_of_row)


def cases(found: Table, rows: Sequence[Mapping[str, Any]], **options: Any) -> None:
    """A table of cases, in the order of `rows`: choosing one opens it."""
    row = chosen(found, rows, f"case_of_{found.name}", **options)
    if row is not None:
        fetus = {"fetus": row["fetus"]} if isinstance(row.get("fetus"), str) else {}
        turn_to(register.CASE, {"case": row["case_id"], **fetus})


def chosen(found: Table, rows: Sequence[T], key: str, **options: Any) -> T | None:
    """A table of which one row can be chosen, and what stands for that row in `rows`."""
    drawn = layout.table(found, on_select="rerun", selection_mode="single-row", key=key, **options)
    return rows[drawn.selection.rows[0]] if drawn is not None and drawn.selection.rows else None


def turn_to(page: register.Page, to: Mapping[str, str]) -> None:
    """Open another page where a row was chosen.

    The words of this page's address stay beside those of the other: the browser's history gets an entry of this page
    with the words given, and going back must show it as it was left.
    """
    left = {name: value for name, value in st.query_params.items() if name not in {*to, *layout.OF_A_CASE}}
    st.switch_page(page.file, query_params={**to, **left})
