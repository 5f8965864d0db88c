"""Parts of the Case page: choosing, the numbers beside the strip, and the outcome behind its button."""

import pandas as pd
import streamlit as st

from audit import words
from audit.people import disclosures
from audit.people.permissions import Deed, roles_with
from audit.questions import hidden, possible
from audit.questions.case_file import CaseFile
from audit.questions.votes import otherwise, sentence
from audit.tables import case as case_tables
from audit.tables.outcome import outcome_table
from audit.words import hh_mm
from dashboards import addressed, data, layout, session
from dashboards.keys import Key
from dashboards.month import second_reading_parts
from dashboards.month.case_strip import strip
from dashboards.signed_in import database

__all__ = ["choose_case", "choose_fetus", "clock", "heading", "outcome", "strip", "tables"]


def choose_case(cases: pd.DataFrame) -> str:
    """The case of the link, or the one chosen; the address follows the choice so that it can be passed on."""
    ids = [str(name) for name in cases["case_id"]]
    asked = st.query_params.get("case")
    unknown = asked is not None and asked not in ids
    if unknown:
        st.warning(
            f"The link names a case that is not in this database: {layout.plain(asked)}. No case is shown; choose one."
        )
        st.session_state[Key.CASE] = None
    elif asked is not None:
        st.session_state[Key.CASE] = asked
    elif st.session_state.get(Key.CASE) not in ids:
        kept = st.session_state.get("kept_case")
        st.session_state[Key.CASE] = kept if kept in ids else _first_to_discuss(ids)
    months = {str(row.case_id): row.period for row in cases.itertuples()}
    chosen = st.selectbox(
        "Case",
        ids,
        index=None if unknown else 0,
        key=Key.CASE,
        format_func=layout.own(lambda name: name if pd.isna(months[name]) else f"{name} ({months[name]})"),
        on_change=_follow_choice,
        label_visibility="collapsed",
    )
    if chosen is None:
        st.stop()
    st.session_state["kept_case"] = chosen
    return str(chosen)


def _first_to_discuss(ids: list[str]) -> str:
    """Where the menu leads before a case was chosen: to the list's first one of the month chosen, or of the newest."""
    period = layout.month_chosen() or data.months()[0]
    listed = [case["case_id"] for case in data.discuss(period, with_outcome=False)["cases"]]
    return next((name for name in listed if name in ids), ids[0])


def _follow_choice() -> None:
    wide = {name: value for name, value in st.query_params.items() if name.startswith(layout.ALL_COLUMNS)}
    st.query_params.from_dict({**wide, "case": st.session_state[Key.CASE]})


def choose_fetus(case_id: str) -> CaseFile | None:
    """The file of the fetus of the link or of the choice; a choice is offered for more than one."""
    first = data.case_file(case_id, None)
    if first is None:
        return None
    if len(first.fetuses) == 1:
        asked = st.query_params.get("fetus")
        if asked is not None and asked != first.fetus:
            st.warning(f"This case has no tracing of fetus {layout.plain(asked)}; fetus {first.fetus} is shown.")
        return first
    asked = st.query_params.get("fetus")
    if asked is not None and asked not in first.fetuses:
        st.warning(f"This case has no tracing of fetus {layout.plain(asked)}; fetus {first.fetus} is shown.")
    if st.session_state.get(Key.FETUS) not in first.fetuses or asked in first.fetuses:
        st.session_state[Key.FETUS] = asked if asked in first.fetuses else first.fetus
    chosen = st.segmented_control(
        "Fetus",
        list(first.fetuses),
        key=Key.FETUS,
        on_change=_follow_fetus,
        required=True,
        label_visibility="collapsed",
    )
    return data.case_file(case_id, str(chosen or first.fetus))


def _follow_fetus() -> None:
    st.query_params["fetus"] = str(st.session_state[Key.FETUS])


def heading(case: CaseFile, standard: str) -> None:
    """What is shown, below the strip: case, month, length, share seen, run; and what is wrong with its reading."""
    run = "not analysed yet"
    if case.run is not None:
        run = f"run {case.run.run_id}, settings {case.run.settings_sha256[:8]}, version {case.run.version}"
    month = case.facts.get("period") or "month not given"
    seen = "share of signal used not known"
    if case.seen_fraction is not None:
        seen = f"signal used {case.seen_fraction:.0%} of the time"
    st.caption(
        f"Case **{layout.plain(case.case_id)}**, fetus **{layout.plain(case.fetus)}** · {month} · "
        f"{hh_mm(case.start_s)} to {hh_mm(case.end_s)} on the tracing's own clock (hh:mm from its zero) · {seen} · "
        f"standard: **{layout.plain(data.standard_words(standard, case.facts.get('period')))}** · {run}"
    )
    layout.beside_experts()
    if (risks := case_tables.risk_words(case.facts.get("risk_factors"))) is not None:
        st.caption(
            f"Risk factors: **{layout.plain(risks)}**. To be weighed beside every category; the program never does."
        )
    if words_of_hidden := hidden.of_case(case.frame("hidden"), case.frame("burden")):
        st.caption(words_of_hidden)
    if case.state == "failed":
        st.warning(
            f"The reading of this tracing failed, so only the bare strip is shown: {layout.plain(case.state_reason)}"
        )
    elif case.state is None:
        st.info(layout.NO_ANALYSIS)
    elif case.state_reason:
        st.warning(
            "A later reading of this tracing failed; what is shown was found by the run named above:"
            f" {layout.plain(case.state_reason)}"
        )
    why = data.why_stale(case.case_id, case.fetus)
    if why and case.run is not None:
        layout.say_out_of_date(f"Out of date: {why}; run `intrapartum-audit analyse`.")
    if case.reading_note:
        st.info(layout.plain(case.reading_note))


def clock(case: CaseFile, standard: str) -> None:
    """The response clock as numbers: the chosen standard's first concern large, every episode in the table."""
    st.header("Response clock", anchor=False)
    rows = case.frame("clock")
    own = rows[rows["standard"] == standard]
    if case.state != "read":
        st.info("Without an analysis of this tracing there is no clock.")
        return
    if own.empty:
        st.write(f"Under {words.standard_name(standard)} no concern became recognisable in this tracing.")
    else:
        first = own.iloc[0]
        shown = dict(zip(case_tables.CLOCK.names, case_tables.CLOCK.filled(own).shown()[0], strict=True))
        st.write(
            f"{len(own)} concern episode{'' if len(own) == 1 else 's'} under {words.standard_name(standard)};"
            f" the one that weighs most: **{layout.plain(shown['trigger'])}**, {shown['status']}; {sentence(first)}."
        )
        boxes = st.columns(5)
        boxes[0].metric("Recognisable at", shown["recognisable_s"])
        at = "none recorded" if pd.isna(first["response_s"]) else shown["response_s"]
        boxes[1].metric("Response", at, help=layout.plain(shown["response_event"]))
        boxes[2].metric("Minutes to response", shown["minutes_to_response"])
        boxes[3].metric("Target, minutes", shown["target_minutes"])
        boxes[4].metric("Minutes to birth", shown["minutes_to_birth"])
        if other := otherwise(first):
            st.write(f"{other}.")
    if told := possible.sentence(case.frame("possible").to_dict("records")):
        st.write(layout.plain(told))
    if not rows.empty:
        layout.table(case_tables.CLOCK.filled(rows))
    readers = case.frame("reader_clocks")
    if not readers.empty:
        with st.expander("The clock as each reader's read would have started it"):
            layout.table(case_tables.READER_CLOCKS.filled(readers))


def tables(case: CaseFile) -> None:
    """Burden, segments, decelerations, reads, events and facts, each with its download."""
    frame = case.frame
    names = ["Burden", "10-minute segments", "Decelerations", "Reads side by side", "Care events", "The case"]
    second = [] if frame("second_reading_lane").empty and frame("second_readings").empty else ["Second reading"]
    bedside = [] if frame("assessments").empty else ["Recorded at the time"]
    names += second + bedside
    led = addressed.led_by_address(Key.CASE_TAB, names, names[0])
    burden, segments, decelerations, reads, events, facts, *more = st.tabs(names, **led)
    for tab in more[: len(second)]:
        with tab:
            second_reading_parts.second_reading(case)
    for tab in more[len(second) :]:
        with tab:
            st.caption("What staff wrote down at the time, by role, beside the category computed for that minute.")
            layout.table(case_tables.ASSESSMENTS.filled(frame("assessments")))
    none = "No deceleration was found." if case.state == "read" else layout.NO_ANALYSIS
    with burden:
        st.caption("Areas count seen seconds only; the share seen stands beside each. Hidden signal is not filled in.")
        layout.table(case_tables.BURDEN.filled(frame("burden"), empty=layout.NO_ANALYSIS))
    with segments:
        layout.table(case_tables.SEGMENTS.filled(frame("epochs"), empty=layout.NO_ANALYSIS))
    with decelerations:
        st.caption("Fall as judged: onset to nadir as it counted for the kind; in noise the shape of all of it enters.")
        layout.table(case_tables.DECELERATIONS.filled(frame("decelerations"), empty=none))
    with reads:
        layout.table(case_tables.reads_side_by_side(frame("reads")))
    with events:
        layout.table(case_tables.EVENTS.filled(frame("events")))
    with facts:
        layout.table(case_tables.facts_table(case.facts))


def outcome(case_id: str) -> None:
    """The outcome, hidden until this reviewer opens it in this session."""
    st.header("Outcome", anchor=False)
    if not session.may(Deed.SEE_OUTCOMES):
        st.write(f"Outcomes are for {roles_with(Deed.SEE_OUTCOMES)}.")
        return
    opened = st.session_state.setdefault(Key.OUTCOME_OPEN, set())
    if case_id not in opened:
        st.write("Hidden, so that it does not colour the reading of the strip.")
        st.button("Open the outcome", key=Key.OUTCOME_BUTTON, on_click=_open_outcome, args=(case_id,))
        return
    found = outcome_table(data.outcome(case_id), data.settings().cord_gas)
    layout.table(found, height="content")


def _open_outcome(case_id: str) -> None:
    # what was read before this moment was read blind, so the moment is kept
    with layout.told():
        disclosures.record(database(), case_id, who=session.opener(), place="case")
        st.session_state.setdefault(Key.OUTCOME_OPEN, set()).add(case_id)
