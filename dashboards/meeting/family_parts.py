"""Questions of the family of a case: brought from the page of the case or at the meeting, and answered there."""

from typing import Any

import streamlit as st

from audit.people import family_questions, rules
from audit.people.permissions import Deed
from audit.tables.meeting import FAMILY_QUESTIONS
from dashboards import data, layout, session
from dashboards.keys import ReviewKey
from dashboards.meeting import made_anew
from dashboards.signed_in import database


def beside_the_case(item: dict[str, Any]) -> None:
    """On the meeting's screen what the family asks, and whether it is answered; nothing where nobody asked."""
    asked = family_questions.of_case(database(), item["period"], item["case_id"])
    lines = [f"{layout.plain(row['question'])} – {layout.plain(row['answer'] or 'not yet answered')}" for row in asked]
    if lines:  # close together: the strip stands below them
        st.markdown("  \n".join(f"**The family asks:** {line}" for line in lines))


def beside_the_agenda(period: str, on_agenda: set[str]) -> None:
    """Cases of the month whose families ask something and that nobody has put on the agenda."""
    rows = family_questions.in_period(database(), period) if period != data.NO_MONTH else []
    missing = sorted({row["case_id"] for row in rows} - on_agenda)
    if missing:
        st.warning(layout.plain(f"Families ask about cases that are not on the agenda: {', '.join(missing)}."))


def wanted(period: str | None, case_id: str) -> bool:
    """Whether the unit asks families for questions, or one of this case was asked; nothing is shown elsewhere."""
    return data.settings().meeting.family_questions or bool(family_questions.of_case(database(), period, case_id))


def at_the_meeting(item: dict[str, Any]) -> None:
    """Every question of the case, one more, and the answer to one."""
    rows = family_questions.of_case(database(), item["period"], item["case_id"])
    _asked(rows)
    _answer(rows)
    bring(item["period"], item["case_id"])


def of_case(period: str | None, case_id: str) -> None:
    """On the page of the case, for those who set the agenda: what the family asks, and one more question."""
    if period is None or not session.may(Deed.KEEP_AGENDA) or not wanted(period, case_id):
        return
    with st.expander("Questions of the family"):
        rows = family_questions.of_case(database(), period, case_id)
        _asked(rows)
        bring(period, case_id)


def _asked(rows: list[dict[str, Any]]) -> None:
    if rows:
        layout.table(FAMILY_QUESTIONS.filled(rows, name="case_family_questions"))


def bring(period: str, case_id: str) -> None:
    """The form for one more question."""
    place = f"{period}_{case_id}"
    with st.form(f"family_question_{place}", border=True, clear_on_submit=True):
        text = st.text_input(
            "What the family asks (in their words, without anything that identifies anybody)",
            key=f"{ReviewKey.FAMILY_QUESTION}_{place}", max_chars=rules.LONGEST_TEXT,
        )  # fmt: skip
        brought = st.form_submit_button("Add the question", key=f"{ReviewKey.FAMILY_ADD}_{place}")
    if brought and layout.stored(
        lambda: family_questions.add(database(), period, case_id, text, who=session.who(Deed.KEEP_AGENDA))
    ):
        st.rerun()


def _answer(rows: list[dict[str, Any]]) -> None:
    if not rows:
        return
    by_number = {row["question_id"]: row for row in rows}
    first = next((number for number, row in by_number.items() if row["answer"] is None), rows[0]["question_id"])
    number = st.selectbox(
        "Question", list(by_number), index=list(by_number).index(first),
        format_func=layout.own(lambda number: f"No. {number}: {by_number[number]['question']}"),
        key=ReviewKey.FAMILY_CHOSEN,
    )  # fmt: skip
    with st.form(f"family_answer_{number}", border=True):
        text = st.text_input(
            "Answer, as the family may read it; left empty = not yet answered", by_number[number]["answer"] or "",
            key=f"{ReviewKey.FAMILY_ANSWER}_{made_anew.place(str(number))}", max_chars=rules.LONGEST_TEXT,
        )  # fmt: skip
        saved = st.form_submit_button("Save the answer", key=f"{ReviewKey.FAMILY_SAVE}_{number}")
    if saved and layout.stored(
        lambda: family_questions.change(database(), number, answer=text, who=session.who(Deed.HOLD_MEETING))
    ):
        st.rerun()
