"""Parts of the page on actions."""

from typing import Any

import streamlit as st

from audit.people import actions, log, phases
from audit.people.accounts import Account
from audit.tables import meeting as tables
from audit.tables.trends import CHANGES
from dashboards import data, layout
from dashboards.keys import ReviewKey
from dashboards.meeting import meeting_parts
from dashboards.signed_in import database

_LATEST = 200


def before(period: str, account: Account) -> None:
    """Actions of earlier meetings, with their state to set."""
    st.subheader("From earlier meetings", anchor=False)
    if period == data.NO_MONTH:
        st.info("Choose the month the meeting is about.")
        st.stop()
    rows = actions.for_meeting(database(), period)
    layout.table(tables.ACTIONS_BEFORE.filled(rows))
    for row in rows:
        _state(row, period, account)


def agreed(period: str, account: Account) -> None:
    """Actions of this meeting."""
    st.subheader(f"Agreed at the meeting about {period}", anchor=False)
    rows = actions.agreed_in(database(), period)
    layout.table(tables.ACTIONS_AGREED.filled(rows))
    for row in rows:
        _state(row, period, account)
    meeting_parts.add_action(period, account)


def _state(row: dict[str, Any], period: str, account: Account) -> None:
    key = f"state_{row['action_id']}"
    st.session_state[key] = row["state"]
    st.segmented_control(
        f"No. {row['action_id']}: {layout.plain(row['action'])}",
        actions.STATES,
        key=key,
        required=True,
        on_change=_set_state,
        args=(row["action_id"], key, period, account.who),
    )


def _set_state(action_id: int, key: str, period: str, who: str) -> None:
    state = st.session_state.get(key)
    if state is not None:
        with layout.told():
            actions.change(database(), action_id, who=who, period=period, state=str(state))


def practice(account: Account) -> None:
    """Changes of practice: the charts start a new phase there."""
    st.subheader("Changes of practice", anchor=False)
    st.caption("A change entered here starts a new phase in the charts on Trends from that month on.")
    rows = phases.everything(database())
    layout.table(CHANGES.filled(rows))
    with st.form("add_phase", border=True, clear_on_submit=True):
        left, right = st.columns([1, 3])
        left.text_input("From month (YYYY-MM)", key=ReviewKey.PHASE_FROM, max_chars=7)
        right.text_input("What changed", key=ReviewKey.PHASE_LABEL, max_chars=80)
        st.form_submit_button("Enter the change", key=ReviewKey.PHASE_ADD, on_click=_enter, args=(account.who,))
    for row in rows:
        words = f"Take back: {row['from_period']}, {layout.plain(row['label'])}"
        st.button(
            words, key=f"phase_off_{row['phase_id']}", on_click=_take_back,
            args=(row["from_period"], row["measure"], account.who),
        )  # fmt: skip


def _enter(who: str) -> None:
    with layout.told():
        phases.add(database(), st.session_state[ReviewKey.PHASE_FROM], st.session_state[ReviewKey.PHASE_LABEL], who=who)


def _take_back(from_period: str, measure: str, who: str) -> None:
    with layout.told():
        phases.remove(database(), from_period, who=who, measure=measure)


def history() -> None:
    """The log: every change, who by role, when, before and after; and whether its chain holds."""
    st.subheader("Log", anchor=False)
    rows = log.entries(database())
    broken = log.verify(database())
    if broken:
        st.error("The log was changed from outside: " + layout.plain("; ".join(broken)))
    elif rows:
        st.caption(f"{len(rows)} entries; the chain of their hashes holds. Newest: {rows[-1]['hash'][:16]}.")
    with st.expander(f"The newest {min(len(rows), _LATEST)} entries"):
        layout.table(tables.LOG.filled(rows[::-1][:_LATEST]))
