"""Every case of the month on the page Cases to discuss, narrowed by what stands in the address."""

import streamlit as st

from audit.questions import month_list
from audit.store.database import Record
from audit.tables.cases import CASE_LIST, case_list_rows
from dashboards import cases_behind, data, layout
from dashboards.keys import Key

TO_DISCUSS, EVERY_CASE = "To discuss", "All cases"
OPEN = "*"
SPAN = {"from": "Born from", "to": "Born to"}  # where all months are chosen; names of an address
_IN_A_ROW = 5


def choose_view() -> bool:
    """Whether every case is listed instead of those to discuss; the address follows."""
    asked = st.query_params.get("cases") == cases_behind.EVERY_CASE
    st.session_state[Key.DISCUSS_VIEW] = EVERY_CASE if asked else TO_DISCUSS
    st.segmented_control(
        "Cases", [TO_DISCUSS, EVERY_CASE], key=Key.DISCUSS_VIEW, on_change=_follow_view, required=True,
        format_func=layout.own(str),
    )  # fmt: skip
    return asked


def _follow_view() -> None:
    st.query_params.clear()
    if st.session_state[Key.DISCUSS_VIEW] == EVERY_CASE:
        st.query_params["cases"] = cases_behind.EVERY_CASE


def every_case(period: str, standard: str, *, with_outcome: bool) -> None:
    """The choices, how many cases they leave of how many, and the cases with why each is on its list."""
    led_here = {name: label for name, label in month_list.COUNTED.items() if name in st.query_params}
    listed = data.month_list(period, standard, with_outcome=with_outcome, figures=tuple(led_here))
    names = month_list.OF_CASE | month_list.OF_CONCERN | (month_list.OUTCOME if with_outcome else {}) | led_here
    months = sorted({row["period"] for row in listed if row["period"]})
    spans = SPAN if period == data.ALL_MONTHS else {}
    chosen = _choices(listed, {**names, **spans}, months)
    wanted = {name: value for name, value in chosen.items() if value != OPEN}
    first, last = (wanted.get(name) for name in SPAN)
    rows = month_list.chosen(
        month_list.born(listed, first, last), {name: value for name, value in wanted.items() if name in names}
    )
    labels = names | spans
    which = "; ".join(f"{labels[name].lower()}: {layout.plain(value)}" for name, value in wanted.items()) or "no filter"
    st.write(f"**{len(rows)}** of {len(listed)} cases ({which}), by case id. Choose a row to open the case.")
    if not rows:
        st.info("No case for this choice.")
        return
    shown = [name for name in CASE_LIST.names if with_outcome or name != "outcome"]
    cases_behind.cases(CASE_LIST.only(*shown).filled(case_list_rows(rows)), rows, row_height=70)


def _choices(listed: list[Record], names: dict[str, str], months: list[str]) -> dict[str, str]:
    chosen: dict[str, str] = {}
    places = [place for _ in range(-(-len(names) // _IN_A_ROW)) for place in st.columns(_IN_A_ROW)]
    for place, (name, label) in zip(places, names.items(), strict=False):
        values = [OPEN, *(months if name in SPAN else month_list.options(listed, name))]
        asked = st.query_params.get(name, OPEN)
        key = f"{Key.DISCUSS_FILTER}_{name}"
        if asked not in values:  # the address asks for what no case of this month has: then no case is listed
            values.append(asked)
        st.session_state[key] = asked
        chosen[name] = str(
            place.selectbox(label, values, key=key, format_func=layout.own(_words), on_change=_follow, args=(name, key))
        )
    return chosen


def _follow(name: str, key: str) -> None:
    value = st.session_state[key]
    if value == OPEN:
        st.query_params.pop(name, None)
    else:
        st.query_params[name] = value


def _words(value: str) -> str:
    return "all" if value == OPEN else value
