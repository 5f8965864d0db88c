"""Parts of the Case page: choosing, the numbers beside the strip, and the outcome behind its button."""

import pandas as pd
import streamlit as st

from audit import words
from audit.people import disclosures
from audit.questions.case_file import CaseFile
from audit.tables import case as case_tables
from audit.words import hh_mm
from dashboards import data, layout, signed_in
from dashboards.keys import Key
from dashboards.month.case_strip import strip

__all__ = ["choose_case", "choose_fetus", "clock", "heading", "outcome", "strip", "tables"]


def choose_case(cases: pd.DataFrame) -> str:
    """The case of the link, or the one chosen; the address follows the choice so that it can be passed on."""
    ids = [str(name) for name in cases["case_id"]]
    asked = st.query_params.get("case")
    if asked is not None and asked not in ids:
        st.warning(f"The link names a case that is not in this database: {layout.plain(asked)}")
    elif asked is not None:
        st.session_state[Key.CASE] = asked
    elif st.session_state.get(Key.CASE) not in ids:
        kept = st.session_state.get("kept_case")
        st.session_state[Key.CASE] = kept if kept in ids else ids[0]
    months = {str(row.case_id): row.period for row in cases.itertuples()}
    chosen = st.selectbox(
        "Case",
        ids,
        key=Key.CASE,
        format_func=lambda name: name if pd.isna(months[name]) else f"{name} ({months[name]})",
        on_change=_follow_choice,
    )
    st.session_state["kept_case"] = chosen
    return str(chosen)


def _follow_choice() -> None:
    st.query_params.from_dict({"case": st.session_state[Key.CASE]})


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
    if st.session_state.get(Key.FETUS) not in first.fetuses or asked in first.fetuses:
        st.session_state[Key.FETUS] = asked if asked in first.fetuses else first.fetus
    chosen = st.segmented_control("Fetus", list(first.fetuses), key=Key.FETUS, on_change=_follow_fetus, required=True)
    return data.case_file(case_id, str(chosen or first.fetus))


def _follow_fetus() -> None:
    st.query_params["fetus"] = str(st.session_state[Key.FETUS])


def heading(case: CaseFile, standard: str) -> None:
    """What is shown: case, month, length, share seen, run."""
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
        f"standard: **{layout.plain(data.standard_words(standard))}** · {run}"
    )
    if case.state == "failed":
        st.warning(
            f"The reading of this tracing failed, so only the bare strip is shown: {layout.plain(case.state_reason)}"
        )
    elif case.state is None:
        st.info(layout.NO_ANALYSIS)
    if case.reading_note:
        st.info(layout.plain(case.reading_note))


def clock(case: CaseFile, standard: str) -> None:
    """The response clock as numbers: the chosen standard's first concern large, every episode in the table."""
    st.subheader("Response clock", anchor=False)
    rows = case.frame("clock")
    own = rows[rows["standard"] == standard]
    if case.state != "read":
        st.info("Without an analysis of this tracing there is no clock.")
        return
    if own.empty:
        st.write(f"Under {words.standard_name(standard)} no concern became recognisable in this tracing.")
    else:
        shown = case_tables.clock_table(own).iloc[0]
        agreement = (
            f"Of the clocks that apply (standards and readers), the case is late under **{shown['late_under']}** and"
            f" without a recorded response under {shown['none_recorded_under']}."
            if shown["clocks"]
            else "No clock can be applied to this case, so nothing here is called late or in time."
        )
        st.write(
            f"{len(own)} concern episode{'' if len(own) == 1 else 's'} under {words.standard_name(standard)};"
            f" the one that weighs most: **{layout.plain(shown['concern'])}**, {shown['status']}. {agreement}"
        )
        boxes = st.columns(5)
        boxes[0].metric("Recognisable at", shown["recognisable"])
        boxes[1].metric("Response", shown["response"], help=layout.plain(shown["response_event"]))
        boxes[2].metric("Minutes to response", case_tables.whole_or_none(shown["minutes_to_response"]))
        boxes[3].metric("Target, minutes", case_tables.whole_or_none(shown["target_minutes"]))
        boxes[4].metric("Minutes to birth", case_tables.whole_or_none(shown["minutes_to_birth"]))
    if not rows.empty:
        layout.table(case_tables.clock_table(rows), name="clock", columns=CLOCK, empty="")
    readers = case.frame("reader_clocks")
    if not readers.empty:
        with st.expander("The clock as each reader's read would have started it"):
            layout.table(case_tables.reader_clock_table(readers), name="reader_clocks", columns=READER_CLOCK, empty="")


def tables(case: CaseFile) -> None:
    """Burden, segments, decelerations, reads, events and facts, each with its download."""
    names = ["Burden", "10-minute segments", "Decelerations", "Reads side by side", "Care events", "The case"]
    burden, segments, decelerations, reads, events, facts = st.tabs(names)
    frame = case.frame
    none = "No deceleration was found." if case.state == "read" else layout.NO_ANALYSIS
    with burden:
        st.caption("Areas count seen seconds only; the share seen stands beside each. Hidden signal is not filled in.")
        layout.table(case_tables.burden_table(frame("burden")), name="burden", columns=BURDEN, empty=layout.NO_ANALYSIS)
    with segments:
        rows = case_tables.epoch_table(frame("epochs"))
        layout.table(rows, name="segments", columns=SEGMENTS, empty=layout.NO_ANALYSIS)
    with decelerations:
        st.caption("Fall as judged: onset to nadir as it counted for the kind; in noise the shape of all of it enters.")
        rows = case_tables.deceleration_table(frame("decelerations"))
        layout.table(rows, name="decelerations", columns=DECELERATIONS, empty=none)
    with reads:
        rows = case_tables.reads_table(frame("reads"))
        columns = {name: name for name in rows.columns}
        layout.table(rows, name="reads", columns=columns, empty="Nobody has read this tracing yet.")
        _second_readings(frame("second_readings"))
    with events:
        rows = case_tables.event_table(frame("events"))
        layout.table(rows, name="events", columns=EVENTS, empty="No care event was imported for this case.")
    with facts:
        rows = case_tables.facts_table(case.facts)
        layout.table(rows, name="facts", columns=FACTS, empty="Nothing but the tracing is known of this case.")


def _second_readings(rows: pd.DataFrame) -> None:
    """What a model fitted on the unit's recordings made of the windows: apart from what people read."""
    if rows.empty:
        return
    fitted_on = " or ".join(str(count) for count in sorted(set(rows["fitted_on_windows"])))
    st.markdown("**Second reading (fitted on the unit's own recordings)**")
    st.caption(
        "No person's read and under no standard: what the experts whose reads a model was fitted on would most likely"
        f" have said; fitted on {fitted_on} windows."
    )
    table = case_tables.second_readings_table(rows)
    layout.table(table, name="second_readings", columns=SECOND_READINGS, empty="")


def outcome(case_id: str) -> None:
    """The outcome, hidden until this reviewer opens it in this session."""
    st.subheader("Outcome", anchor=False)
    opened = st.session_state.setdefault(Key.OUTCOME_OPEN, set())
    if case_id not in opened:
        st.write("Hidden, so that it does not colour the reading of the strip.")
        st.button("Open the outcome", key=Key.OUTCOME_BUTTON, on_click=_open_outcome, args=(case_id,))
        return
    rows = case_tables.outcome_table(data.outcome(case_id), data.settings().cord_gas)
    layout.table(
        rows,
        name="outcome",
        columns={n: n for n in rows.columns},
        empty="No outcome was imported.",
        height="content",
    )


def _open_outcome(case_id: str) -> None:
    db = data.database()
    assert db is not None
    # what was read before this moment was read blind, so the moment is kept
    with layout.told():
        disclosures.record(db, case_id, who=signed_in.who(), place="case")
    st.session_state.setdefault(Key.OUTCOME_OPEN, set()).add(case_id)


def _number(label: str, digits: int = 0) -> object:
    return st.column_config.NumberColumn(label, format=f"%.{digits}f")


CLOCK = {
    "standard": "Standard", "concern": "Concern", "pattern_start": "Pattern starts", "recognisable": "Recognisable",
    "response": "Response", "response_event": "What was done", "minutes_to_response": _number("Minutes to response"),
    "target_minutes": _number("Target, min"), "minutes_to_birth": _number("Minutes to birth"), "status": "Status",
    "late_under": "Case late under, clocks", "reasons": "Criteria met", "note": "Note",
}  # fmt: skip
READER_CLOCK = {
    "reader": "Reader", "standard": "Standard", "recognisable": "Concern read by", "response": "Response",
    "minutes_to_response": _number("Minutes to response"), "target_minutes": _number("Target, min"),
    "status": "Status",
}  # fmt: skip
BURDEN = {
    "span": "Span", "span_minutes": _number("Minutes"), "seen_percent": _number("Seen, %"),
    "decelerations": _number("Decelerations"), "early": _number("Early"), "late": _number("Late"),
    "variable": _number("Variable"), "prolonged": _number("Prolonged"), "unclassified": _number("Unclassified"),
    "area_bpm_s": _number("Area, bpm·s"), "area_per_seen_hour_bpm_s": _number("Area per seen hour, bpm·s"),
    "triangle_area_bpm_s": _number("Triangle area, bpm·s"),
    "minutes_in_deceleration": _number("Minutes in deceleration", 1),
    "contractions": _number("Contractions"), "contractions_with_deceleration": _number("With a deceleration"),
    "deepest_bpm": _number("Deepest, bpm"), "longest_s": _number("Longest, s"),
    "decelerations_per_20_min": _number("Per 20 seen min", 1),
    "level_change_area_bpm_s": _number("Area of level changes, bpm·s"),
}  # fmt: skip
SEGMENTS = {
    "from_to": "Segment", "baseline_bpm": _number("Baseline, bpm", 1), "baseline_rounded_bpm": _number("Rounded, bpm"),
    "variability_bpm": _number("Variability, bpm", 1), "variability": "Class",
    "signal_loss_percent": _number("Signal lost, %"), "contractions_per_10_min": _number("Contractions per 10 min", 1),
    "sinusoidal": "Sinusoidal",
}  # fmt: skip
DECELERATIONS = {
    "onset": "Onset", "kind": "Kind", "depth_bpm": _number("Depth, bpm"), "duration_s": _number("Duration, s"),
    "area_bpm_s": _number("Area, bpm·s"), "onset_to_nadir_s": _number("Onset to nadir, s"),
    "judged_fall_s": _number("Fall as judged, s"),
    "lag_s": _number("Nadir after peak, s"), "toco": "Toco", "seen_percent": _number("Seen, %"), "remark": "Remark",
}  # fmt: skip
SECOND_READINGS = {
    "window": "Window", "category": "Second reading", "normal_percent": _number("Normal, %"),
    "suspicious_percent": _number("Suspicious, %"), "pathological_percent": _number("Pathological, %"),
    "fitted_on_windows": "Fitted on windows",
}  # fmt: skip
EVENTS = {"at": "At", "event": "Event", "detail": "Detail"}
FACTS = {"fact": "Fact", "value": "Value"}
