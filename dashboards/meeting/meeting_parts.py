"""Parts of the meeting: the case on the screen, its outcome when opened, findings and actions."""

from typing import Any

import streamlit as st

from audit.people import agenda, disclosures, log
from audit.people.permissions import Deed
from audit.questions.case_file import CaseFile
from audit.tables import case as case_tables
from audit.tables.outcome import outcome_table
from dashboards import data, layout, session, unit_data
from dashboards.keys import Key, ReviewKey
from dashboards.meeting import family_parts
from dashboards.month import bedside_parts, case_parts, case_strip
from dashboards.signed_in import database

STRIP, CLOCK, READS, OUTCOME = "1 Strip", "2 Clock", "3 Reads", "4 Outcome"
STEPS = (STRIP, CLOCK, READS, OUTCOME)
_CODES = {step: step.split()[1].lower() for step in STEPS}  # of a step in the page's address


def choose_case(period: str) -> dict[str, Any]:
    """The case on the screen, in the agenda's order; stops with a sentence when the agenda is empty."""
    items = agenda.items(database(), period) if period != data.NO_MONTH else []
    if not items:
        st.info("The agenda of this month is empty. Put cases on it on the page Cases to discuss.")
        st.stop()
    ids = [row["case_id"] for row in items]
    key = f"{ReviewKey.MEETING_CASE}_{period}"
    asked, shown = st.query_params.get("case"), st.session_state.get(ReviewKey.MEETING_SHOWN)
    seen = st.session_state.setdefault(ReviewKey.MEETING_SEEN, set())
    if asked in ids:
        st.session_state[key] = asked
    elif asked in seen:  # taken off the agenda since, maybe gone back to
        st.caption(f"{layout.plain(asked)} is no longer on the agenda.")
    elif asked is not None:
        st.warning(f"The link names a case that is not on this agenda: {layout.plain(asked)}. No case is shown.")
        st.button("Show the agenda", key="forget_link", on_click=_forget_link)
        st.stop()
    if st.session_state.get(key) not in ids:  # a choice is forgotten while another page is drawn
        st.session_state[key] = shown if shown in ids else ids[0]
    back, choice, forth = st.columns([2, 5, 2], vertical_alignment="center")
    chosen = choice.selectbox(
        "Case", ids, key=key, format_func=lambda name: f"{ids.index(name) + 1}. {name}", label_visibility="collapsed",
        on_change=_chosen, args=(period, key),
    )  # fmt: skip
    place = ids.index(chosen)
    further = ids[min(place + 1, len(ids) - 1)]
    st.session_state[ReviewKey.MEETING_SHOWN] = chosen
    seen.add(chosen)
    back.button(
        "Previous", key=ReviewKey.MEETING_FORMER, disabled=place == 0, on_click=_go, args=(period, ids[place - 1]),
        width="stretch", shortcut="Alt+PageUp",
    )  # fmt: skip
    forth.button(
        "Next", key=ReviewKey.MEETING_NEXT, disabled=place + 1 == len(ids), on_click=_go, args=(period, further),
        width="stretch", shortcut="Alt+PageDown",
    )  # fmt: skip
    return {**items[place], "place": place + 1, "of": len(ids)}


def _forget_link() -> None:
    st.query_params.pop("case", None)


def _chosen(period: str, key: str) -> None:
    _go(period, st.session_state[key])


def _go(period: str, case_id: str, step: str = STRIP) -> None:
    """Another case or step: the address leads the page, so that the browser's back button leads back."""
    kept = {name: value for name, value in st.query_params.items() if name == Key.STANDARD.value}
    st.query_params.from_dict({**kept, Key.PERIOD.value: period, "case": case_id, "step": _CODES[step]})


def agenda_order(period: str) -> None:
    """The agenda with buttons to change its order or take a case off."""
    items = agenda.items(database(), period) if period != data.NO_MONTH else []
    family_parts.beside_the_agenda(period, {row["case_id"] for row in items})
    for place, row in enumerate(items):
        words, up, down, off = st.columns([7, 1.4, 1.8, 2.2], vertical_alignment="center")
        question = f": {layout.plain(row['question'])}" if row["question"] else ""
        drawn = " (drawn at random)" * (row["drawn_from"] is not None)
        words.markdown(f"{place + 1}. **{layout.plain(row['case_id'])}**{drawn}{question}")
        key, args = row["case_id"], (period, row["case_id"])
        up.button("Up", key=f"up_{key}", disabled=place == 0, on_click=_move, args=(*args, -1))
        down.button("Down", key=f"down_{key}", disabled=place + 1 == len(items), on_click=_move, args=(*args, 1))
        off.button("Take off", key=f"off_agenda_{key}", on_click=_take_off, args=args)


def _move(period: str, case_id: str, steps: int) -> None:
    with layout.told():
        agenda.move(database(), period, case_id, steps, who=session.who(Deed.KEEP_AGENDA))


def _take_off(period: str, case_id: str) -> None:
    with layout.told():
        agenda.remove(database(), period, case_id, who=session.who(Deed.KEEP_AGENDA))


def choose_fetus(item: dict[str, Any]) -> CaseFile:
    """The file of the case; stops with a sentence when there is no tracing."""
    first = data.case_file(item["case_id"], None)
    if first is None:
        case = layout.plain(item["case_id"])
        of_another = unit_data.chosen() is not None and item["case_id"] not in set(
            data.rows("case/list").get("case_id", [])
        )
        st.info(
            f"{case} is of another unit than the one chosen beside the menu: choose all units to see it."
            if of_another
            else "No tracing is stored for this case."
        )
        st.stop()
    if len(first.fetuses) == 1:
        return first
    key = f"fetus_{item['case_id']}"
    asked = st.query_params.get("fetus") if st.query_params.get("case") == item["case_id"] else None
    if asked in first.fetuses:
        st.session_state[key] = asked
    st.session_state.setdefault(key, first.fetus)
    chosen = st.segmented_control("Fetus", list(first.fetuses), key=key, required=True, on_change=_fetus, args=(key,))
    return data.case_file(item["case_id"], str(chosen or first.fetus)) or first


def _fetus(key: str) -> None:
    st.query_params["fetus"] = str(st.session_state[key])


def name_case(item: dict[str, Any]) -> str:
    """The case and its question beside the choice of what is on the screen, which is returned; first its strip."""
    asked = bool(item["question"])
    with st.container(key="case_row", gap=None):
        name, *question, steps = st.columns([5, 8, 9] if asked else [9, 9], vertical_alignment="center", gap="small")
    name.header(f"Case {item['place']} of {item['of']}: {layout.plain(item['case_id'])}", anchor=False)
    if asked:
        question[0].markdown(f"**Question for the meeting:** {layout.plain(item['question'])}")
    case_id, key = item["case_id"], f"{ReviewKey.MEETING_STEP}_{item['case_id']}"
    if st.query_params.get("case") == case_id:
        named = {code: step for step, code in _CODES.items()}
        st.session_state[key] = named.get(st.query_params.get("step", ""), STRIP)
    elif key not in st.session_state:
        former, step = st.session_state.get(ReviewKey.MEETING_STEP_SHOWN, (None, STRIP))
        st.session_state[key] = step if former == case_id else STRIP
    chosen = str(
        steps.segmented_control(
            "On the screen", STEPS, key=key, required=True, label_visibility="collapsed", format_func=layout.own(str),
            on_change=_step_chosen, args=(item["period"], case_id, key),
        )
    )  # fmt: skip
    st.session_state[ReviewKey.MEETING_STEP_SHOWN] = case_id, chosen
    return chosen


def _step_chosen(period: str, case_id: str, key: str) -> None:
    _go(period, case_id, st.session_state[key])


def show(step: str, case: CaseFile, item: dict[str, Any], standard: str) -> None:
    """One step of one case; its risk factors below whatever shows a category."""
    if step == STRIP:
        case_parts.strip(case, standard, case_strip.MEETING)
        _beside_the_strip(case)
    elif step == CLOCK:
        case_parts.clock(case, standard)
        bedside_parts.timelines(case, standard)
    elif step == READS:
        _reads(case)
    else:
        _outcome(item)
    risks = case_tables.risk_words(case.facts.get("risk_factors"))
    if step != OUTCOME and risks is not None:
        st.caption(f"Risk factors: {layout.plain(risks)}. To be weighed beside every category; the program never does.")


def _beside_the_strip(case: CaseFile) -> None:
    """The labour's facts and its care events: below the strip, and in the full screen of the room beside it."""
    with st.container(key="beside_strip"):
        facts = case_tables.fact_words(case.facts, case.end_s - case.start_s, case.seen_fraction)
        st.caption(f"**The labour.** {layout.plain('; '.join(facts))}.")
        events = case_tables.event_words(case.frame("events"))
        st.caption(f"**Recorded.** {layout.plain('; '.join(events)) or 'no care event'}.")


def _reads(case: CaseFile) -> None:
    st.subheader("Reads side by side", anchor=False)
    layout.table(case_tables.reads_side_by_side(case.frame("reads")))


def _outcome(item: dict[str, Any]) -> None:
    st.subheader("Outcome", anchor=False)
    case_id, period = item["case_id"], item["period"]
    if case_id not in disclosures.opened_in(database(), period):
        st.write("Hidden until the chair opens it; the moment is kept. The care is graded after that, not before.")
        st.button(
            "Open the outcome", key=f"{ReviewKey.MEETING_OPEN}_{case_id}", type="primary",
            on_click=_open, args=(case_id, period),
        )  # fmt: skip
        return
    opened = [row for row in disclosures.of_case(database(), case_id) if row["period"] == period]
    st.caption(f"Opened {log.readable(opened[0]['opened_at'])} by the {opened[0]['opened_by']}.")
    layout.table(outcome_table(data.outcome(case_id), data.settings().cord_gas))


def _open(case_id: str, period: str) -> None:
    with layout.told():
        who = session.who(Deed.SEE_OUTCOMES)
        disclosures.record(database(), case_id, who=who, place="meeting", period=period)
