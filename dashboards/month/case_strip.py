"""The strip of the Case page: overview, window, scale, what is laid over it. A fragment: it redraws by itself."""

from typing import Any

import streamlit as st

from audit.charts.strip import windows
from audit.charts.strip.chart import strip_chart
from audit.charts.strip.overview import BRUSH, overview_chart
from audit.charts.strip.rows import strip_rows
from audit.charts.strip.types import StripLayers
from audit.people.permissions import Deed
from audit.questions.case_file import CaseFile
from audit.tables.case import recorded_as
from audit.words import hh_mm
from dashboards import layout, session
from dashboards.keys import Key

BARE, FOUND = "Bare strip", "With findings"
LAYERS = {
    "decelerations": "Decelerations",
    "accelerations": "Accelerations",
    "contractions": "Contractions",
    "baseline": "Baseline",
    "categories": "Minute categories",
    "clock": "Clock",
    "events": "Care events",
    "excluded": "Unused samples",
    "spans": "Sinusoidal, level changes",
    "maternal": "Maternal rate",
}
KEY_TEXT = (
    "Decelerations: **E** early, **L** late, **V** variable, **P** prolonged, **U** unclassified (the toco does not"
    " allow a kind). **A** acceleration; bar and triangle on the toco: contraction. Baseline: solid line, dotted where"
    " it could not be stated. Crosses: samples not used. Categories: N normal, S suspicious, P pathological, or I to"
    " III; the taller the bar, the higher the category. Hover for the evidence."
)
BARE_TEXT = "As recorded, nothing laid over it. Triangles on an edge: the line leaves the paper there."


@session.fragment(Deed.SEE_MONTH)
def strip(case: CaseFile, standard: str) -> None:
    """Overview, controls and strip."""
    _start_anew(case)
    view, scale, length = _controls()
    starts = windows.starts_for(case, length)
    state = st.session_state
    state[Key.CASE_START] = windows.nearest(starts, state.get(Key.CASE_START, starts[0]))
    window = windows.window_for(case, scale, length, state[Key.CASE_START])
    # whoever reads the bare strip must not be told where to look
    told = standard if view == FOUND else None
    _overview(case, told, window, length)
    _move(case, told, starts, length)
    window = windows.window_for(case, scale, length, state[Key.CASE_START])
    layers = StripLayers()
    if view == FOUND:
        chosen = st.pills(
            "Lay over the strip",
            list(LAYERS),
            selection_mode="multi",
            key=Key.CASE_LAYERS,
            format_func=LAYERS.__getitem__,
        )
        layers = StripLayers.chosen(list(chosen))
    other = _twin(case)
    rows = strip_rows(case, window, standard=standard, other_fetus=other)
    with st.container(key="strip_pane"):
        layout.chart(
            strip_chart(rows, window, layers, other_fetus=other or ""),
            alt_text=f"Fetal heart rate and toco from {hh_mm(window.start_s)} to {hh_mm(window.end_s)}",
            width="content",
        )
    recorded = "; ".join(recorded_as(case.tracing))
    st.caption(f"{windows.scale_words(scale)}; {recorded}. {KEY_TEXT if view == FOUND else BARE_TEXT}")
    if view == FOUND:
        _notes(case)


def _notes(case: CaseFile) -> None:
    """What the reading says of its own blind spots; some of it tells what was found, so the bare strip has none."""
    if case.notes:
        seen = "share of signal used not known"
        if case.seen_fraction is not None:
            seen = f"signal used {case.seen_fraction:.0%} of the time"
        st.caption(f"What this reading could not see or say ({seen}): {' '.join(map(layout.plain, case.notes))}")


def _start_anew(case: CaseFile) -> None:
    """Another case starts at its own beginning, with the bare strip."""
    state = st.session_state
    state.setdefault(Key.CASE_SCALE, windows.SCALE_NAMES[0])
    state.setdefault(Key.CASE_LENGTH, 60)
    state.setdefault(Key.CASE_LAYERS, [name for name in LAYERS if name != "maternal"])
    if state.get("case_shown") != case.case_id:
        state["case_shown"] = case.case_id
        state[Key.CASE_START] = windows.first_minute(case)
        state[Key.CASE_VIEW] = BARE
    state.setdefault(Key.CASE_VIEW, BARE)


def _controls() -> tuple[str, str, int]:
    state = st.session_state
    first, second, third = st.columns([2, 3, 2])
    view = first.segmented_control("Show", [BARE, FOUND], key=Key.CASE_VIEW, required=True)
    scale = second.segmented_control("Scale", windows.SCALE_NAMES, key=Key.CASE_SCALE, required=True)
    lengths = windows.lengths_for(str(scale))
    if state.get(Key.CASE_LENGTH) not in lengths:
        state[Key.CASE_LENGTH] = lengths[-1]
    length = third.selectbox("Stretch", lengths, key=Key.CASE_LENGTH, format_func=windows.length_words)
    return str(view), str(scale), int(length)


def _overview(case: CaseFile, standard: str | None, window: Any, length: int) -> None:
    key = f"{Key.CASE_OVERVIEW}_{case.case_id}_{case.fetus}_{window.start_s:.0f}_{length}_{standard}"
    drawing = overview_chart(case, window, standard=standard, width_px=windows.FIT_WIDTH_PX)
    with st.container(key="overview_pane"):
        layout.chart(
            drawing,
            key=key,
            alt_text="Fetal heart rate of the whole labour; drag over it to choose a stretch",
            width="content",
            on_select=lambda: _brushed(case, key),
        )
    st.caption("The whole labour. Drag over it to choose a stretch, or use the slider and the list below.")


def _brushed(case: CaseFile, key: str) -> None:
    state = st.session_state
    brushed = state[key].get("selection", {}).get(BRUSH, {}).get("minute")
    if brushed:
        lengths = windows.lengths_for(state[Key.CASE_SCALE])
        state[Key.CASE_START], state[Key.CASE_LENGTH] = windows.from_brush(brushed, lengths, case)


def _move(case: CaseFile, standard: str | None, starts: list[int], length: int) -> None:
    back, slider, forth, jump = st.columns([2, 7, 2, 5], vertical_alignment="bottom")
    if len(starts) > 1:
        back.button("Back", on_click=_step, args=(starts, -length), width="stretch")
        slider.select_slider(
            "Stretch starts at", starts, key=Key.CASE_START, format_func=lambda minute: hh_mm(minute * 60)
        )
        forth.button("Forth", on_click=_step, args=(starts, length), width="stretch")
        found = windows.places(case, standard, length)
        jump.selectbox(
            "Go to",
            range(len(found)),
            index=None,
            key=Key.CASE_JUMP,
            placeholder="a place in the labour",
            format_func=lambda k: found[k].text,
            on_change=lambda: _jump(found, starts),
        )


def _step(starts: list[int], minutes: int) -> None:
    st.session_state[Key.CASE_START] = windows.nearest(
        starts, st.session_state.get(Key.CASE_START, starts[0]) + minutes
    )


def _jump(found: list[windows.Place], starts: list[int]) -> None:
    chosen = st.session_state.get(Key.CASE_JUMP)
    if chosen is not None:
        st.session_state[Key.CASE_START] = windows.nearest(starts, found[chosen].start_min)
        st.session_state[Key.CASE_JUMP] = None


def _twin(case: CaseFile) -> str | None:
    if not case.others:
        return None
    letters = {name: f"fetus {name}, dashed" for name in case.others}
    return st.segmented_control("Also draw", list(letters), key=Key.CASE_TWIN, format_func=letters.__getitem__)
