"""Parts of the Meeting page on the meeting itself: when it was held, who was there by role, and the quorum."""

from datetime import date

import streamlit as st

from audit import house_style
from audit.people import meetings
from audit.people.meetings import Meeting
from audit.people.permissions import Deed
from dashboards import data, layout, session
from dashboards.keys import ReviewKey
from dashboards.meeting import made_anew
from dashboards.signed_in import database

_IN_A_ROW = 3  # roles, so that none is broken in the middle of its word


def held(period: str) -> None:
    """Date and attendance, with the words whether that is a quorum."""
    if period == data.NO_MONTH:
        return
    options, old = data.settings().meeting, meetings.of(database(), period)
    st.caption(quorum_words(old))
    place = made_anew.place(period)
    with st.form(f"held_{period}", border=True):
        on = st.date_input(
            "Held on",
            date.fromisoformat(old.held_on) if old.held_on else None,
            key=f"{ReviewKey.MEETING_HELD_ON}_{place}",
            format=house_style.in_force().date_letters,
        )
        attendance = {}
        roles = options.attending_roles
        for first in range(0, len(roles), _IN_A_ROW):
            for column, role in zip(st.columns(_IN_A_ROW), roles[first : first + _IN_A_ROW], strict=False):
                attendance[role] = int(
                    column.number_input(
                        role.capitalize(), 0, 99, old.attendance.get(role, 0),
                        key=f"{ReviewKey.MEETING_ROLE}_{role}_{place}",
                    )
                )  # fmt: skip
        saved = st.form_submit_button("Note date and attendance", key=f"{ReviewKey.MEETING_HELD}_{period}")

    def save() -> None:
        found = Meeting(on.isoformat() if isinstance(on, date) else None, attendance)
        meetings.save(database(), period, found, who=session.who(Deed.HOLD_MEETING))

    if saved and layout.stored(save):
        st.rerun()


def quorum_words(meeting: Meeting) -> str:
    """Whether the unit's quorum was there."""
    options = data.settings().meeting
    return meetings.quorum(meeting, persons=options.quorum_persons, roles=options.quorum_roles)
