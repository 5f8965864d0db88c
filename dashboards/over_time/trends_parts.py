"""Parts of the Trends page: one box per measure, the funnel over shifts."""

from typing import Any

import streamlit as st

from audit import words
from audit.charts.control import control_chart, funnel_chart, measure_title, unit_words
from audit.people.permissions import Deed
from audit.questions import periods_compared, trend_groups
from audit.questions.month_list import ANY
from audit.tables import trends as tables
from dashboards import addressed, cases_behind, data, drawings, layout, register, session
from dashboards.keys import Key

HALF_PX = 380  # what half a page leaves of itself to a table in a box


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


def measures(found: dict[str, Any], actions: list[tuple[str, str]], standard: str) -> None:
    """How often the page flags something by luck, then the charts of each question, two a row."""
    st.write(layout.plain(found["luck"]["says"]))
    if actions:
        st.caption("Blue triangles at the foot of a chart: an action took effect from that month, listed below.")
    for question, group in trend_groups.by_question(found["measures"]):
        st.header(question, anchor=False)
        for first in range(0, len(group), 2):
            for column, measure in zip(st.columns(2), group[first : first + 2], strict=False):
                with column, st.container(border=True):
                    _measure(dict(measure), actions, standard)


def _measure(measure: dict[str, Any], actions: list[tuple[str, str]], standard: str) -> None:
    title = measure_title(measure["name"])
    st.markdown(f"**{title}**, {unit_words(measure['unit'])}", help=measure["says"])
    found = pictures_of(measure, actions)
    for svg in found:
        drawings.show(svg)
    if not found:
        st.info("No month has enough behind it for a point yet.")
    for line in trend_groups.signals(measure["points"]):
        st.write(line)
    (_figures_of_outcome if measure["of_outcome"] else _figures_of_month)(measure, standard)


def pictures_of(measure: dict[str, Any], actions: list[tuple[str, str]]) -> list[str]:
    """The chart of one measure, none where there is no point."""
    return layout.pictures(control_chart, measure, actions, alt_text=measure_title(measure["name"]))


def _figures(measure: dict[str, Any], standard: str) -> None:
    """What a chart counts, drawn once it is opened: tables that nobody sees took a quarter of the page's time."""
    led = addressed.switched_by_address(f"{Key.TRENDS_FIGURES}_{measure['name']}")
    box = st.expander("What it counts, and the figures", **led)
    if not box.open:
        return
    notes = dict.fromkeys(note for note in (measure["note"], *(p["note"] for p in measure["phases"])) if note)
    with box:
        st.caption(" ".join([measure["says"], *notes, _rules(measure)]))
        narrowed = trend_groups.behind(measure["name"])
        st.caption(f"Choose a row to see that month's cases{' with a concern' if narrowed else ''}.")
        to = [cases_behind.address(str(point["period"]), standard, **narrowed) for point in measure["points"]]
        cases_behind.table(tables.points_table(measure), to, room_px=HALF_PX)


_figures_of_month = session.fragment(Deed.SEE_MONTH)(_figures)
_figures_of_outcome = session.fragment(Deed.SEE_OUTCOMES)(_figures)


def _rules(measure: dict[str, Any]) -> str:
    return (
        f"Signals: {'; '.join(measure['rules'])}. A month keeps the limits by which it was judged: limits rest on"
        " months before it and do not move when others are added."
    )


def periods(measures: list[dict[str, Any]], standard: str, *, level: float) -> None:
    """Two periods side by side: before and since the newest change of practice to begin with."""
    begin = periods_compared.to_begin_with(measures)
    if begin is None:
        return
    st.header("Two periods compared", anchor=False)
    months = periods_compared.months_of(measures)
    labels = ("First period from", "First period to", "Second period from", "Second period to")
    bounds = [
        place.selectbox(
            label, months, format_func=layout.own(str),
            **addressed.led_by_address(f"{Key.TRENDS_PERIODS}_{number}", months, month),
        )
        for number, (place, label, month) in enumerate(
            zip(st.columns(4), labels, (*begin[0], *begin[1]), strict=True), 1
        )
    ]  # fmt: skip
    if bounds != sorted(bounds) or bounds[1] == bounds[2]:
        st.info("No period may end before it begins, and the second must begin after the first has ended.")
        return
    first, second = (bounds[0], bounds[1]), (bounds[2], bounds[3])
    rows = periods_compared.compared(measures, first, second, level=level)
    st.caption("Choose a row to see the cases of both periods.")
    row = cases_behind.chosen(tables.COMPARED.filled(rows), rows, "compared")
    if row is not None:
        cases_behind.of_spans((first, second), standard, row["name"])
    st.caption(tables.COMPARED_SOURCES)


def actions(done: list[tuple[str, str]]) -> None:
    """What the triangles stand for."""
    if done:
        st.header("Actions marked on the charts", anchor=False)
        st.markdown("\n".join(f"- {period}: {layout.plain(text)}" for period, text in done))


def shifts(funnel: dict[str, Any], standard: str) -> None:
    """The share answered within target of each shift beside the unit's."""
    st.header("Answered within target, by shift", anchor=False)
    if layout.drawn(funnel_chart, funnel, width_px=560, alt_text="Share answered within target by shift"):
        st.caption(
            "Line: the whole unit. Bars: where a shift with that many episodes lies by chance, 95 % (thick) and 99.8 %"
            " (thin)."
        )
    st.caption(layout.plain(funnel["note"]))
    to = [
        cases_behind.address(data.ALL_MONTHS, standard, trigger=ANY, shift=words.words(point["group"]))
        for point in funnel["points"]
    ]
    cases_behind.table(tables.funnel_table(funnel), to)


def changes() -> None:
    """Where the lead enters a change of practice."""
    st.caption("From the month of a change of practice on, each chart starts a new phase with limits of its own.")
    if session.may(Deed.CHANGE_PRACTICE):
        st.page_link(register.ACTIONS.file, label="Enter a change of practice or take one back")
