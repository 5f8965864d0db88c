"""Parts of the Response times page: filters, figures, the list of episodes."""

from typing import Any

import streamlit as st

from audit import month_view, waits
from audit.charts import palette
from audit.waits import WaitGroup
from dashboards import data, layout
from dashboards.keys import Key

HOW_TO_READ = (
    "Answers compete with birth and with the pattern's own end (Aalen-Johansen estimate; light band: 95 % interval)."
    " Dashed vertical lines: targets in force. Waits are never averaged: some were cut short."
)
EVERY = "*"
GROUP_BY = {EVERY: "no groups", "period": "month", "shift": "shift", "trigger": "trigger", "stage": "stage of labour"}


def filters(columns: Any, rows: list[dict[str, Any]]) -> tuple[str | None, ...]:
    """Trigger, shift and grouping."""
    triggers = [EVERY, *month_view.values_of(rows, "trigger")]
    shifts = [EVERY, *month_view.values_of(rows, "shift")]
    _forget_impossible(Key.RESPONSE_TRIGGER, triggers)
    _forget_impossible(Key.RESPONSE_SHIFT, shifts)
    trigger = columns[0].selectbox("Trigger", triggers, key=Key.RESPONSE_TRIGGER, format_func=_words)
    shift = columns[1].selectbox("Shift", shifts, key=Key.RESPONSE_SHIFT, format_func=_words)
    group = columns[2].selectbox("Compare by", list(GROUP_BY), key=Key.RESPONSE_GROUP, format_func=GROUP_BY.get)
    # a choice box takes None for nothing chosen, so "all" has a sign of its own
    return tuple(None if chosen == EVERY else chosen for chosen in (trigger, shift, group))


def _forget_impossible(key: Key, options: list[str]) -> None:
    if st.session_state.get(key) not in options:
        st.session_state[key] = EVERY


def _words(name: str) -> str:
    return "all" if name == EVERY else palette.words(name)


def figures(every: WaitGroup) -> None:
    """All episodes of the choice in four figures."""
    boxes = st.columns(4)
    boxes[0].metric("Concern episodes", every.episodes, help=f"{every.not_assessable} of them cannot be assessed")
    boxes[1].metric(
        "Answered within target",
        f"{every.within} of {every.within + every.late}",
        help="Of those whose answer is known: birth or the pattern's own end first is neither in time nor late",
    )
    for box, label, (figure, interval), text in (
        (boxes[2], "Share within target", waits.share_words(every), "Of those whose answer is known; Wilson interval"),
        (boxes[3], "Half answered by", waits.half_words(every), "Out of all, with birth and resolution competing"),
    ):
        box.metric(label, figure, help=text)
        box.caption(interval)


def episodes(rows: list[dict[str, Any]]) -> None:
    """The list of episodes; choosing a row opens the case."""
    frame = data.frame(waits.episode_table(rows))
    st.caption("Choose a row to open the case.")
    chosen = layout.table(
        frame, name="episodes", columns=EPISODES, empty="No episode for this choice.", on_select="rerun",
        selection_mode="single-row", key="episodes",
    )  # fmt: skip
    if chosen is not None and chosen.selection.rows:
        row = frame.iloc[chosen.selection.rows[0]]
        st.switch_page("views/case.py", query_params={"case": row["case_id"], "fetus": row["fetus"]})


def _number(label: str) -> Any:
    return st.column_config.NumberColumn(label, format="%.0f")


def _percent(label: str) -> Any:
    return st.column_config.NumberColumn(label, format="percent")


GROUPS = {
    "name": "Group", "episodes": "Episodes", "within": "Within target", "late": "Late or still waiting",
    "share": _percent("Share within target"), "share_low": _percent("From"), "share_high": _percent("To"),
    "other_end": "Ended otherwise first", "unknown": "Not followed to the target", "not_assessable": "Not assessable",
    "half_answered": _number("Half answered by, min"), "half_low": _number("from"), "half_high": _number("to "),
}  # fmt: skip
EPISODES = {
    "case_id": "Case", "fetus": "Fetus", "period": "Month", "shift": "Shift", "concern": "Concern",
    "recognisable": "Recognisable", "response_event": "Response", "minutes_to_response": _number("Minutes to response"),
    "target_minutes": _number("Target, min"), "minutes_to_birth": _number("Minutes to birth"), "status": "Status",
    "agreement": "Who agrees", "note": "Note",
}  # fmt: skip
