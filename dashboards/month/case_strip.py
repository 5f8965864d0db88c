"""The strip of a labour on the pages Case and Meeting: the viewer, and what the reading says of itself below it."""

from typing import Any

import streamlit as st

from audit.charts.strip.agreed import agreed_rows
from audit.charts.strip.concerns import opening_s
from audit.charts.strip.payload import plain_rows
from audit.people import agreed as people_agreed
from audit.people import strip_marks
from audit.people.permissions import Deed
from audit.questions.case_file import CaseFile
from audit.tables.case import recorded_as
from audit.words import hh_mm
from dashboards import data, layout, session
from dashboards.keys import Key
from dashboards.signed_in import database
from dashboards.strip_viewer.show import strip_viewer

KEY_TEXT = (
    "Decelerations: E early, L late, V variable, P prolonged, U unclassified (the toco does not allow a kind). A"
    " acceleration; bar and triangle on the toco: contraction. Baseline: solid line, dotted where it could not be"
    " stated. Crosses: samples not used. Categories: N normal, S suspicious, P pathological, or I to III; the taller"
    " the bar, the higher the category."
)
AGREED_TEXT = (
    "Lane 'meeting': the clock that the last meeting agreed on; a cross is a computed event that it struck out, a"
    " triangle in a bar one that it added."
)
BARE_TEXT = "As recorded, nothing laid over it. Triangles on an edge: the line leaves the paper there."

QUALITY = "quality"  # the page whose address names no case
MEETING = "meeting"  # the page that is shown to a room


@session.fragment(Deed.SEE_MONTH)
def strip(case: CaseFile, standard: str, page: str = "case") -> None:
    """The strip, bare until findings are asked for; `page` keeps its place apart from that on other pages."""
    recorded = "; ".join(recorded_as(case.tracing))
    db = database()
    marks = strip_marks.of_strip(db, case.case_id, case.fetus)
    agreed = people_agreed.by_case(db, standard).get(case.case_id, {}).get(case.fetus)
    strip_viewer(
        data.strip_payload(case.case_id, case.fetus, standard),
        key=f"{Key.STRIP}_{page}_{case.case_id}_{case.fetus}",
        name=f"Strip of case {case.case_id}, fetus {case.fetus}",
        address=None if page == QUALITY else _address(case, page),
        open_at_s=opening_s(case, standard),
        go_to_s=st.session_state.pop(Key.STRIP_GO_TO, None),
        room=page == MEETING,
        agreed=plain_rows(agreed_rows(agreed)),
        marks=[{"at_s": mark["at_s"], "text": mark["label"]} for mark in marks],
        on_mark=(lambda at_s, text: _mark(case, at_s, text)) if session.may(Deed.MARK_STRIPS) else None,
        legend=(
            f"{recorded}. {BARE_TEXT}",
            " ".join((f"{recorded}. {KEY_TEXT}", *([AGREED_TEXT] if agreed else []), _notes(case))),
        ),
    )
    if marks:
        _marks(case, marks)


def _address(case: CaseFile, page: str) -> dict[str, str]:
    own = {"case": case.case_id, **({"fetus": case.fetus} if len(case.fetuses) > 1 else {})}
    month = layout.month_chosen() if page == MEETING else None  # a case is shown at its month's meeting alone
    return own if month is None else {**own, Key.PERIOD.value: month}


def _mark(case: CaseFile, at_s: float, text: str) -> None:
    with layout.told():
        strip_marks.add(database(), case.case_id, case.fetus, at_s, text, who=session.who(Deed.MARK_STRIPS))


def _take_off(mark_id: int) -> None:
    with layout.told():
        strip_marks.remove(database(), mark_id, who=session.who(Deed.MARK_STRIPS))


def _go_to(at_s: float) -> None:
    st.session_state[Key.STRIP_GO_TO] = at_s


def _marks(case: CaseFile, marks: list[dict[str, Any]]) -> None:
    """What people marked, each with its place on the strip and a way to take it off."""
    with st.expander(f"Marks on this strip ({len(marks)})"):
        for mark in marks:
            place, words, off = st.columns([2, 6, 1], vertical_alignment="center")
            there = f"{layout.plain(case.case_id)} at {hh_mm(mark['at_s'])}"
            place.button(
                there, type="tertiary", key=f"mark_at_{mark['mark_id']}", on_click=_go_to, args=(mark["at_s"],)
            )
            words.markdown(f"{layout.plain(mark['label'])} ({mark['left_by']})")
            if session.may(Deed.MARK_STRIPS):
                off.button("Take off", key=f"mark_off_{mark['mark_id']}", on_click=_take_off, args=(mark["mark_id"],))


def _notes(case: CaseFile) -> str:
    """What the reading says of its own blind spots; some of it tells what was found, so the bare strip has none."""
    if not case.notes:
        return ""
    seen = "share of signal used not known"
    if case.seen_fraction is not None:
        seen = f"signal used {case.seen_fraction:.0%} of the time"
    return f"What this reading could not see or say ({seen}): {' '.join(case.notes)}"
