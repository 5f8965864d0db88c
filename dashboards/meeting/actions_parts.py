"""Parts of the page on actions."""

from typing import Any

import streamlit as st

from audit.charts.control import control_chart, measure_title
from audit.people import actions, log, phases
from audit.people.permissions import Deed
from audit.questions.action_effects import marked, spans
from audit.tables import meeting as tables
from audit.tables.trends import CHANGES
from dashboards import action_data, cases_behind, data, layout, session
from dashboards.keys import ReviewKey
from dashboards.meeting import meeting_entries
from dashboards.signed_in import database

_LATEST = 200


def before(period: str) -> None:
    """Actions of earlier meetings, with their state to set."""
    st.header("From earlier meetings", anchor=False)
    if period == data.NO_MONTH:
        st.info("Choose the month the meeting is about.")
        st.stop()
    rows = actions.for_meeting(database(), period)
    layout.table(tables.ACTIONS_BEFORE.filled(rows))
    for row in rows:
        _state(row, period)
    meeting_entries.edit_action(rows, period, "before")


def became(period: str) -> None:
    """What happened to the measures that actions should move; nothing where no action names one."""
    rows = action_data.action_effects(period)
    if not rows:
        return
    st.subheader("What became of them", anchor=False)
    st.caption(tables.EFFECT_CAUTION)
    layout.out_of_date(None)
    standard = data.settings().trends.standard
    by_name = {measure["name"]: measure for measure in data.trends(standard, with_outcome=False)["measures"]}
    st.caption("Choose a row to see the cases before and after.")
    chosen = layout.table(
        tables.EFFECTS.filled(rows), on_select="rerun", selection_mode="single-row", key="action_effects"
    )
    if chosen is not None and chosen.selection.rows:
        row = rows[chosen.selection.rows[0]]
        if row["measure"] in by_name:
            cases_behind.of_spans(spans(by_name[row["measure"]], row, period), standard, row["measure"])
    listed = {row["action_id"] for row in actions.for_meeting(database(), period)}
    for row in rows:
        if row["comes_back"] and row["action_id"] not in listed:
            _state(row, period)
        if row["measure"] in by_name:
            title = f"{measure_title(row['measure'])}, action no. {row['action_id']}: {row['verdict']}"
            with st.expander(title):
                layout.drawn(control_chart, marked(by_name[row["measure"]], row, period), alt_text=title)


def agreed(period: str) -> None:
    """Actions of this meeting."""
    st.header(f"Agreed at the meeting about {period}", anchor=False)
    rows = actions.agreed_in(database(), period)
    layout.table(tables.ACTIONS_AGREED.filled(rows))
    for row in rows:
        _state(row, period)
    meeting_entries.edit_action(rows, period, "agreed")
    meeting_entries.add_action(period)
    with st.expander("Take back an entry of this meeting"):
        meeting_entries.take_back(period)


def _state(row: dict[str, Any], period: str) -> None:
    key = f"state_{row['action_id']}"
    st.session_state[key] = row["state"]
    st.segmented_control(
        f"No. {row['action_id']}: {layout.plain(row['action'])}",
        actions.STATES,
        key=key,
        required=True,
        format_func=layout.own(str),
        on_change=_set_state,
        args=(row["action_id"], key, period),
    )


def _set_state(action_id: int, key: str, period: str) -> None:
    state = st.session_state.get(key)
    if state is not None:
        with layout.told():
            who = session.who(Deed.KEEP_ACTIONS)
            actions.change(database(), action_id, who=who, period=period, state=str(state))


def practice() -> None:
    """Changes of practice: the charts start a new phase there."""
    st.header("Changes of practice", anchor=False)
    st.caption("A change entered here starts a new phase in the charts on Trends from that month on.")
    rows = phases.everything(database())
    layout.table(CHANGES.filled(rows))
    if not session.may(Deed.CHANGE_PRACTICE):
        return
    with st.form("add_phase", border=True, clear_on_submit=True):
        left, right = st.columns([1, 3])
        left.text_input("From month (YYYY-MM)", key=ReviewKey.PHASE_FROM, max_chars=7)
        right.text_input("What changed", key=ReviewKey.PHASE_LABEL, max_chars=80)
        st.form_submit_button("Enter the change", key=ReviewKey.PHASE_ADD, on_click=_enter)
    for row in rows:
        words = f"Take back: {row['from_period']}, {layout.plain(row['label'])}"
        place = (row["from_period"], row["measure"])
        st.button(words, key=f"phase_off_{row['phase_id']}", on_click=_take_back, args=place)


def _enter() -> None:
    state = st.session_state
    with layout.told():
        who = session.who(Deed.CHANGE_PRACTICE)
        phases.add(database(), state[ReviewKey.PHASE_FROM], state[ReviewKey.PHASE_LABEL], who=who)


def _take_back(from_period: str, measure: str) -> None:
    with layout.told():
        phases.remove(database(), from_period, who=session.who(Deed.CHANGE_PRACTICE), measure=measure)


def history() -> None:
    """The log: every change, who by role, when, before and after; and whether its chain holds."""
    if not session.may(Deed.READ_LOG):
        return
    st.header("Log", anchor=False)
    rows = log.entries(database())
    broken = log.verify(database())
    if broken:
        st.error("The log was changed from outside: " + layout.plain("; ".join(broken)))
    elif rows:
        st.caption(f"Entries: {len(rows)}; the chain of their hashes holds. Newest: {rows[-1]['hash'][:16]}.")
    with st.expander(f"The newest, at most {_LATEST}"):
        layout.table(tables.LOG.filled(rows[::-1][:_LATEST]))
