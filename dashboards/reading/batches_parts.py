"""Parts of the lead's side of blind reading: making a batch, following it, handing it out as files, closing it."""

from dataclasses import replace
from typing import Any

import streamlit as st

from audit import vocabulary, words
from audit.errors import AuditError
from audit.pack.handout import handout_zip
from audit.people import accounts, agenda, batches, handout
from audit.people.batches import Plan
from audit.people.permissions import Deed
from audit.questions.chosen_windows import chosen_windows
from audit.questions.strips_to_read import LENGTHS, PLACES
from audit.setting_tables.meeting import MeetingOptions
from audit.tables.meeting import BATCHES, PROGRESS
from dashboards import data, layout, session
from dashboards.keys import ReviewKey
from dashboards.signed_in import database

MOST_CONTROLS = 60


def make_batch() -> None:
    """The form for a new batch, from the month's agenda with controls mixed in."""
    st.header("Make a batch", anchor=False)
    period = layout.choose_month(every=False)
    if period == data.NO_MONTH:
        st.info("Choose a month: a batch is made from the agenda of one month.")
        return
    meeting = data.settings().meeting
    cases = [row["case_id"] for row in agenda.items(database(), period)]
    st.caption(
        f"The agenda of {period} is chosen; take cases out or add others of the month."
        if cases
        else f"The agenda of {period} is empty; put cases on it on the page Cases to discuss, or choose some here."
    )
    _batch_form(period, cases, meeting)


def _batch_form(period: str, cases: list[str], meeting: MeetingOptions) -> None:
    """The lead's choices, and the batch once the button is pressed."""
    _start_anew(period, cases, meeting)
    with st.form("make_batch", border=True):
        left, middle, right = st.columns(3)
        with left:
            name = st.text_input("Name of the batch", key=ReviewKey.BATCH_NAME, max_chars=60)
            standards = vocabulary.STANDARDS
            standard = layout.choice(st, "Standard", standards, standards[1], key=ReviewKey.BATCH_STANDARD,
                                     words=words.standard_name)  # fmt: skip
            known = " ".join(accounts.known_readers(database()))
            readers = st.text_input("Reader codes, with spaces between", known, key=ReviewKey.BATCH_READERS)
        with middle:
            minutes = layout.choice(
                st, "Length of a strip, min", sorted({*LENGTHS, meeting.window_minutes}), meeting.window_minutes,
                key=ReviewKey.BATCH_MINUTES,
                help="What a standard asks of 50 minutes, such as a run of reduced variability, needs strips of 60.",
            )  # fmt: skip
            place = st.selectbox("Where each is cut", PLACES, key=ReviewKey.BATCH_PLACE, format_func=layout.own(str))
            controls = st.number_input(
                "Unremarkable controls among them",
                min_value=0,
                max_value=MOST_CONTROLS,
                key=ReviewKey.BATCH_CONTROLS,
            )
            usual = round(100 * meeting.repeat_fraction)
            repeats = st.slider("Share shown twice, %", 0, 50, usual, 5, key=ReviewKey.BATCH_REPEATS)
        with right:
            gestation = st.checkbox("Readers may know the gestation", key=ReviewKey.BATCH_GESTATION)
            stage = st.checkbox("Readers may know the stage of labour", key=ReviewKey.BATCH_STAGE)
            informed = st.checkbox(
                "Second read with the outcome shown",
                key=ReviewKey.BATCH_INFORMED,
                help="For the hindsight comparison only: these reads never count as blind ones.",
            )
        chosen = st.multiselect(
            "Cases, one strip of each fetus",
            data.case_ids(period),
            key=ReviewKey.BATCH_CASES,
            placeholder="controls and own windows alone",
        )
        own = st.text_area(
            "Own windows, one a line: the case, the fetus of twins, where the strip begins",
            key=ReviewKey.BATCH_OWN,
            placeholder="C-001 03:26",
            height=80,
        )
        made = st.form_submit_button("Make the batch", type="primary", key=ReviewKey.BATCH_MAKE)
    if not made:
        return
    plan = Plan(
        name=name,
        standard=standard,
        windows=(),
        readers=tuple(dict.fromkeys(readers.split())),
        period=period,
        repeat_fraction=repeats / 100,
        show_gestation=gestation,
        show_stage=stage,
        outcome_shown=informed,
    )
    _make(plan, own or "", case_ids=chosen, minutes=minutes, place=place, controls=int(controls))


def _start_anew(period: str, cases: list[str], meeting: MeetingOptions) -> None:
    """Name, cases and number of controls as the month and its agenda have them, until the lead chooses others."""
    state, made_for = st.session_state, (period, tuple(cases))
    own = (ReviewKey.BATCH_NAME, ReviewKey.BATCH_CONTROLS, ReviewKey.BATCH_CASES)
    if state.get("batch_form_of") == made_for and all(key in state for key in own):
        return
    state["batch_form_of"] = made_for
    state[ReviewKey.BATCH_NAME] = layout.own(str)(f"Blind reads {period}")
    state[ReviewKey.BATCH_CONTROLS] = min(MOST_CONTROLS, max(2, round(meeting.control_fraction * len(cases))))
    there = data.case_ids(period)
    state[ReviewKey.BATCH_CASES] = [case_id for case_id in cases if case_id in there]


def _make(plan: Plan, own: str, **asked: Any) -> None:
    """Cut the windows asked for, and those of the lead's `own` lines, and make the batch."""
    try:
        proposal = data.proposal(period=plan.period, standard=plan.standard, chosen=chosen_windows(own), **asked)
        plan = replace(plan, windows=proposal.windows)
        unknown = [] if session.alone() else accounts.unknown_readers(database(), plan.readers)
        number = batches.make(database(), plan, who=session.who(Deed.KEEP_BATCHES))
    except AuditError as error:
        st.error(layout.plain(error))
        return
    st.success(f"Batch {number} is made: readers see it on this page once they sign in with their code.")
    if proposal.few_controls is not None:
        st.warning(proposal.few_controls)
    if unknown:
        st.write(
            f"Not known yet, so they cannot sign in: {', '.join(map(layout.plain, unknown))}. Make them known on the"
            " page The unit and give each their PIN; who reads on paper needs none."
        )
    for sentence in proposal.left_out:
        st.caption(f"Left out: {layout.plain(sentence)}.")


def follow() -> None:
    """Every batch with its progress, its files, and the button that closes it."""
    st.header("Batches", anchor=False)
    rows = batches.everything(database())
    layout.table(BATCHES.filled(rows))
    for row in rows:
        if row["state"] == "open":
            with st.expander(f"Batch {row['batch_id']}: {layout.plain(row['name'])}", expanded=True):
                _open_batch(row)
    closed = {row["batch_id"]: row for row in rows if row["state"] == "closed"}
    if closed:
        _reopening(closed)
    waiting = [row for row in closed.values() if row["absorbed_at"] is None]
    if waiting:
        st.info(
            f"The reads of {len(waiting)} closed batches wait for the database, which another command holds. They join"
            " by themselves at the next analysis."
        )


def _reopening(closed: dict[int, dict[str, Any]]) -> None:
    with st.expander("Open a closed batch again"):
        number = st.selectbox(
            "Batch",
            list(closed),
            key=ReviewKey.BATCH_REOPEN,
            format_func=layout.own(lambda number: f"{number}: {closed[number]['name']}"),
        )
        st.caption("Its readers can add and correct reads until it is closed again. The log keeps it.")
        st.button("Open it again", key=ReviewKey.BATCH_REOPEN_BUTTON, on_click=_reopen, args=(number,))


def _reopen(number: int) -> None:
    with layout.told():
        batches.reopen(database(), number, who=session.who(Deed.KEEP_BATCHES))


def _handout(number: int) -> bytes:
    found = data.copy()
    return b"" if found is None else handout_zip(database(), found, number)


def _open_batch(row: dict[str, Any]) -> None:
    number = row["batch_id"]
    layout.table(PROGRESS.filled(batches.progress(database(), number), name=f"progress_{number}"))
    left, middle, right = st.columns([2, 4, 2], vertical_alignment="bottom")
    with left:
        st.download_button(
            "Strips and forms as files",
            data=session.held(Deed.KEEP_BATCHES, lambda: _handout(number)),
            file_name=f"batch_{number}.zip",
            mime="application/zip",
            key=f"handout_{number}",
            on_click="ignore",
        )
    with middle:
        sent = st.file_uploader("Take back a filled form (reads.csv)", type=["csv"], key=f"take_back_{number}")
        if sent is not None:
            _take_back(number, sent)
    with right:
        missing = row["reads_expected"] - row["reads"]
        if not missing:
            st.button("Close the batch", key=f"close_{number}", on_click=_close, args=(number,), width="stretch")
        else:
            with st.popover("Close the batch", width="stretch"):
                st.write(f"**{missing} of {row['reads_expected']} reads are still missing.** Close it all the same?")
                st.caption("It can be opened again; the log keeps both.")
                st.button(
                    "Close it incomplete", key=f"close_{number}", on_click=_close, args=(number, True), width="stretch"
                )


def _take_back(number: int, sent: Any) -> None:
    try:
        text = sent.getvalue().decode("utf-8-sig")
        who = session.who(Deed.KEEP_BATCHES)
        found = handout.take_back(database(), number, text, file_name=sent.name, who=who)
    except UnicodeDecodeError:
        st.error(f"{layout.plain(sent.name)}: not UTF-8 text; save the form as CSV with UTF-8 and send it again.")
        return
    except AuditError as error:
        st.error(layout.plain(error))
        return
    st.success(f"{found.stored} reads were stored from {layout.plain(sent.name)}.")
    for sentence in found.problems:
        st.error(layout.plain(sentence))


def _close(number: int, incomplete: bool = False) -> None:
    with layout.told():
        batches.close(database(), number, who=session.who(Deed.KEEP_BATCHES), incomplete=incomplete)
        moved = data.move_reads()
        if moved.queued:
            st.toast("Closed. The reads join the figures at the next analysis: a command holds the database.")
        else:
            st.toast(f"Closed. {moved.reads} reads joined the figures; run `analyse` for the computed reading of them.")
