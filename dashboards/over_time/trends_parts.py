"""Parts of the Trends page: one box per measure, the funnel over shifts."""

from typing import Any

import streamlit as st

from audit.charts.control import control_chart, funnel_chart, measure_title, unit_words
from audit.people.permissions import Deed
from audit.tables import trends as tables
from dashboards import layout, register, session
from dashboards.keys import Key


def choose_outcome() -> bool:
    """Whether charts are shown that tell of single newborns; off until somebody who may see them asks."""
    if not session.may(Deed.SEE_OUTCOMES):
        return False
    return bool(
        st.toggle(
            "Show measures of newborns' outcomes",
            key=Key.TRENDS_OUTCOME,
            help="They tell in which months a newborn did badly. Leave this off if you are going to read strips blind.",
        )
    )


def measures(found: dict[str, Any]) -> None:
    """How often the page flags something by luck, then two charts a row, each with its table, notes and download."""
    st.write(layout.plain(found["luck"]["says"]))
    rest = list(found["measures"])
    while rest:
        for column in st.columns(2):
            if rest:
                with column, st.container(border=True):
                    _measure(rest.pop(0))


def _measure(measure: dict[str, Any]) -> None:
    title = measure_title(measure["name"])
    st.markdown(f"**{title}**, {unit_words(measure['unit'])}")
    st.caption(measure["says"])
    if not layout.drawn(control_chart, measure, alt_text=title):
        st.info("No month has enough behind it for a point yet.")
    for point in measure["points"]:
        if point["signal"]:
            st.write(f"Signal in {point['period']}: {point['signal']}.")
    notes = dict.fromkeys(note for note in (measure["note"], *(p["note"] for p in measure["phases"])) if note)
    if notes:
        st.caption(" ".join(notes))
    with st.expander("Figures"):
        layout.table(tables.points_table(measure))
        st.caption(_rules(measure))


def _rules(measure: dict[str, Any]) -> str:
    return (
        f"Signals: {'; '.join(measure['rules'])}. A month keeps the limits by which it was judged: limits rest on"
        " months before it and do not move when others are added."
    )


def shifts(funnel: dict[str, Any]) -> None:
    """The share answered within target of each shift beside the unit's."""
    st.header("Answered within target, by shift", anchor=False)
    if layout.drawn(funnel_chart, funnel, width_px=560, alt_text="Share answered within target by shift"):
        st.caption(
            "Line: the whole unit. Bars: where a shift with that many episodes lies by chance, 95 % (thick) and 99.8 %"
            " (thin)."
        )
    st.caption(layout.plain(funnel["note"]))
    layout.table(tables.funnel_table(funnel))


def changes() -> None:
    """Where the lead enters a change of practice."""
    st.caption("From the month of a change of practice on, each chart starts a new phase with limits of its own.")
    if session.may(Deed.CHANGE_PRACTICE):
        st.page_link(register.ACTIONS.file, label="Enter a change of practice or take one back")
