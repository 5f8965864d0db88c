"""Parts of the Cases to discuss page: the list, the agenda, the controls."""

from typing import Any

import streamlit as st

from audit.people import agenda
from audit.people.permissions import Deed
from audit.questions import month
from audit.tables.bedside import LEARNING
from audit.words import number_of, words
from dashboards import addressed, bedside_data, cases_behind, data, layout, outcomes_shown, session
from dashboards.keys import Key
from dashboards.month import this_month_parts
from dashboards.signed_in import database

ON_PAGE = 25
_HOW_DRAWN = (
    "Cases already on the agenda are not drawn and stand for themselves; the drawn ones stand for all others with a"
    " tracing that was read. Shares of what the meeting decides are weighted back by the probability, here and in the"
    " pack; cases put on after the draw do not count there."
)


def choose_outcome(period: str) -> bool:
    """Whether reasons that tell the outcome are shown; off until a reviewer who may see them asks."""
    if not session.may(Deed.SEE_OUTCOMES):
        return False
    asked = bool(
        st.toggle(
            "Show reasons that tell the outcome",
            key=Key.DISCUSS_OUTCOME,
            help="Deaths, cooling and encephalopathy stand first then, and points from outcomes count. While it is off,"
            " nothing on the page depends on an outcome. Leave it off if you are going to read strips blind: what one"
            " person alone reads of these cases later counts as read with the outcome known.",
        )
    )
    return asked and outcomes_shown.in_list(period)


def choose_kinds(found: dict[str, Any]) -> list[str]:
    """Kinds of reason to list; none chosen = all."""
    kinds = month.values_of([reason for case in found["cases"] for reason in case["reasons"]], "kind")
    chosen = st.multiselect(
        "Only cases with", kinds, format_func=layout.own(words), placeholder="any reason",
        **addressed.several_led_by_address(Key.DISCUSS_KIND, kinds),
    )  # fmt: skip
    return list(chosen)


def cases(found: dict[str, Any], period: str, kinds: list[str]) -> None:
    """One box per case: link, score, reasons, agenda."""
    listed = month.with_reason(found["cases"], kinds)
    if not listed:
        st.info("No case to list for this choice.")
        return
    on_agenda = _agenda(period)
    shown = listed[:ON_PAGE]
    for case in shown:
        with st.container(border=True):
            _case(case, period, on_agenda)
    if len(listed) > len(shown):
        st.caption(f"The first {len(shown)} of {len(listed)} by score; the table below has every reason of every case.")


def other_lists(found: dict[str, Any], period: str) -> list[tuple[str, dict[str, str]]]:
    """What is not to be discussed: each further list with its number of cases, and the address of its cases."""
    names = ["left out"] * len(found["left_out"]) + [row["list"] for row in found["others"]]
    return [(f"{names.count(name)} {name}", cases_behind.address(period, list=name)) for name in sorted(set(names))]


def _case(case: dict[str, Any], period: str, on_agenda: dict[str, int]) -> None:
    link, score, reasons, add = st.columns([2, 1, 6, 3], vertical_alignment="top")
    with link:
        this_month_parts.case_link(case["case_id"])
        if case["fetuses"] > 1:
            st.caption(f"{case['fetuses']} fetuses")
        if case["risk_factors"]:
            st.caption(f"Risk factors: {', '.join(map(words, case['risk_factors']))}")
    score.metric("Score", f"{case['score']:g}")
    lines = [f"- {layout.plain(reason['text'])} ({reason['points']:g})" for reason in case["reasons"]]
    reasons.markdown("\n".join(lines))
    with add:
        _agenda_controls(case, period, on_agenda)


def _agenda(period: str) -> dict[str, int]:
    """Cases on the agenda of a month with their place; none where no month is given."""
    if period in (data.NO_MONTH, data.ALL_MONTHS):
        return {}
    return {row["case_id"]: row["position"] for row in agenda.items(database(), period)}


def _agenda_controls(case: dict[str, Any], period: str, on_agenda: dict[str, int]) -> None:
    case_id = case["case_id"]
    if period in (data.NO_MONTH, data.ALL_MONTHS):
        st.caption("Choose a month to put a case on its agenda.")
    elif case_id in on_agenda:
        st.write(f"On the agenda, no. {on_agenda[case_id]}")
        if session.may(Deed.KEEP_AGENDA):
            st.button("Take off", key=f"off_{case_id}", on_click=_remove, args=(period, case_id))
    elif session.may(Deed.KEEP_AGENDA):
        with st.popover("Add to the agenda", width="stretch"):
            key = f"{Key.DISCUSS_QUESTION}_{case_id}"
            st.text_input("Question for the meeting (may be empty)", key=key, max_chars=400)
            st.button("Add", key=f"on_{case_id}", on_click=_add, args=(period, case_id, key))


def _add(period: str, case_id: str, key: str) -> None:
    with layout.told():
        question = st.session_state.get(key) or None
        agenda.add(database(), period, case_id, who=session.who(Deed.KEEP_AGENDA), question=question)


def _remove(period: str, case_id: str) -> None:
    with layout.told():
        agenda.remove(database(), period, case_id, who=session.who(Deed.KEEP_AGENDA))


def random_sample(period: str) -> None:
    """Draw cases at random for the agenda; what was drawn, once it was. Nothing where no month is chosen."""
    if period in (data.NO_MONTH, data.ALL_MONTHS):
        return
    drawn = [row for row in agenda.items(database(), period) if row["drawn_from"] is not None]
    if drawn:
        first = drawn[0]
        with st.expander("Random sample on the agenda"):
            st.write(
                f"{number_of(len(drawn), 'case')} of {first['drawn_from']}, each with a probability of"
                f" {first['probability']:.3f} (seed {first['seed']}):"
                f" {', '.join(layout.plain(row['case_id']) for row in drawn)}."
            )
            if weighted := bedside_data.weighted_back(period):
                st.write(layout.plain(weighted))
            if session.may(Deed.KEEP_AGENDA) and len(drawn) < first["drawn_from"]:
                _draw_more(period, len(drawn), first)
            st.caption(_HOW_DRAWN)
    elif session.may(Deed.KEEP_AGENDA):
        with st.popover("Draw cases at random for the agenda"):
            _draw_form(period)


def _draw_form(period: str) -> None:
    many, seed = st.columns(2)
    size = many.number_input("Cases to draw", min_value=1, value=10, step=1, key=Key.DRAW_SIZE)
    number = seed.number_input(
        "Seed", min_value=0, max_value=2**31 - 1, value=1, step=1, key=Key.DRAW_SEED, help="Another one draws others."
    )
    st.button("Draw and put on the agenda", key=Key.DRAW, on_click=_draw, args=(period, int(size), int(number)))
    st.caption(_HOW_DRAWN)


def _draw_more(period: str, there: int, first: dict[str, Any]) -> None:
    """A larger sample begins with the drawn ones, so it only adds to them."""
    most = int(first["drawn_from"])
    size = st.number_input(
        "Cases drawn in all", min_value=there + 1, max_value=most, value=there + 1, step=1, key=Key.DRAW_SIZE
    )
    st.button("Draw more", key=Key.DRAW, on_click=_draw, args=(period, int(size), int(first["seed"])))


def _draw(period: str, size: int, seed: int) -> None:
    with layout.told():
        who = session.who(Deed.KEEP_AGENDA)
        agenda.draw(database(), period, bedside_data.to_draw_from(period), size, seed, who=who)


def controls(found: dict[str, Any], period: str) -> None:
    """Unremarkable cases drawn at random, so that a reader cannot tell from being asked that something is wrong."""
    if not found["with_outcome"]:
        st.caption(
            "A control's newborn is known to be well, so controls are named only while outcomes are shown. Batches for"
            " blind reading mix them in by themselves."
        )
        return
    st.caption(
        f"Drawn at random from the {found['unremarkable']} cases of the choice with nothing found, the end of the"
        " tracing seen and a good outcome on record; the same month gives the same draw."
    )
    if not found["controls"]:
        st.info(f"No case to draw from in {layout.month_words(period)}.")
        return
    for case_id in found["controls"]:
        this_month_parts.case_link(case_id)


def also_to_learn_from(found: dict[str, Any]) -> None:
    """Good care and near misses; nothing where there are none."""
    for title, name, rule in (
        ("Good care", "good_care", "By rule: recorded within 10 minutes, a senior called at once, nothing late."),
        ("Near misses", "near_miss", "Well, and might not have been: acidosis after a long concern, or a late answer."),
    ):
        if found[name]:
            with st.expander(f"{title}: {len(found[name])}"):
                st.caption(rule)
                cases_behind.cases(LEARNING.filled(found[name], name=name), found[name])
