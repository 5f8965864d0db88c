"""The meeting's own clock: what was agreed beside what was computed, and events struck out or added."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import streamlit as st

from audit import vocabulary, words
from audit.charts.strip.rows import hh_mm_ss
from audit.errors import UsageError
from audit.people import agreed as people_agreed
from audit.people import strip_marks
from audit.people.agreed import Agreed
from audit.people.permissions import Deed
from audit.questions import agreed as questions
from audit.questions.case_file import CaseFile
from audit.response.agreed import Mark
from audit.store import published
from audit.tables.agreed import AGREED, RUN_AGAIN
from dashboards import data, decimals, layout, session
from dashboards.keys import ReviewKey
from dashboards.meeting import made_anew
from dashboards.signed_in import database

OPEN = "left open"
_KEY = ReviewKey.AGREED.value
_MINUTES = {
    "from": "Category holds from minute",
    "recognisable": "Recognisable at minute",
    "first_at": "First act at minute",
    "escalation_at": "Escalation at minute",
}
CONCERN = {None: OPEN, True: "there was a concern", False: "there was nothing to answer"}


def of_case(case: CaseFile, item: dict[str, Any], standard: str) -> None:
    """Beside the computed clock: the meeting's own, and the computed one without the events that it struck out."""
    place = (item["period"], case.case_id, case.fetus, standard)
    old = people_agreed.of_case(database(), *place) or Agreed()
    st.subheader("The meeting's own clock", anchor=False)
    st.caption(
        f"Under {layout.plain(words.standard_name(standard))}, beside the computed clock, which stays as it is. Minutes"
        " count from the tracing's own zero."
    )
    _beside(place, old)
    with st.expander("Agree on category, minutes and acts"):
        _from_the_strip(place)
        _clock_form(place, old, standard)
    with st.expander("Strike out or add an event"):
        _events(case, place, old)
    if old.marks:
        st.caption("The computed clock without the events struck out and with those added; nothing of it is stored.")
        with published.open_for_reading(published.required(database())) as con:
            again = questions.run_again(con, data.settings(), case.case_id, case.fetus, standard, old)
        layout.table(RUN_AGAIN.filled(again["rows"]))
        for sentence in again["told"]:
            st.caption(layout.plain(sentence))


def _beside(place: tuple[str, str, str, str], old: Agreed) -> None:
    if old == Agreed():
        return
    key = dict(zip(("period", "case_id", "fetus", "standard"), place, strict=True))
    with published.open_for_reading(published.required(database())) as con:
        row = questions.agreed_row(con, data.settings(), key, old)
    layout.table(
        AGREED.only(*(name for name in AGREED.names if name not in ("case_id", "fetus", "period", "standard"))).filled(
            [row]
        )
    )


def _from_the_strip(place: tuple[str, str, str, str]) -> None:
    """Put the minute of a mark on the strip into the form below; nothing where the strip has no mark."""
    marks = strip_marks.of_strip(database(), place[1], place[2])
    key = made_anew.place("_".join(place))
    if not marks:
        st.caption("A place marked on the strip (Mark, or the key Enter) can be taken for a minute here.")
        return
    mark, field, take = st.columns([4, 3, 2], vertical_alignment="bottom")
    chosen = mark.selectbox("Mark on the strip", range(len(marks)), key=f"{_KEY}_mark_chosen_{key}",
                            format_func=layout.own(lambda n: f"{hh_mm_ss(marks[n]['at_s'])} {marks[n]['label']}"),
                            )  # fmt: skip
    name = field.selectbox("is the minute of", list(_MINUTES), key=f"{_KEY}_mark_for_{key}",
                           format_func=layout.own(_MINUTES.__getitem__))  # fmt: skip
    # the form's widget is made after this, so it takes the minute as what was typed
    take.button("Take its minute", key=f"{_KEY}_take_{key}", on_click=_take,
                args=(f"{_KEY}_{name}_{key}", marks[int(chosen)]["at_s"]))  # fmt: skip


def _take(widget: str, at_s: float) -> None:
    decimals.fill(widget, at_s / 60)


def _clock_form(place: tuple[str, str, str, str], old: Agreed, standard: str) -> None:
    key = made_anew.place("_".join(place))
    with st.form(f"agreed_{key}", border=False):
        concern = st.radio("Was there a concern?", list(CONCERN), index=list(CONCERN).index(old.concern),
                           format_func=layout.own(CONCERN.__getitem__), horizontal=True,
                           key=f"{_KEY}_concern_{key}")  # fmt: skip
        left, right = st.columns(2)
        category = _choice(left, "Category", vocabulary.CATEGORIES[standard], old.category, f"category_{key}",
                           lambda name: name or OPEN)  # fmt: skip
        reason = _choice(right, "Why it differs from the computed one", vocabulary.AGREED_REASONS, old.reason,
                         f"reason_{key}", lambda name: words.words(name) if name else "it does not")  # fmt: skip
        from_s = _minute(left, _MINUTES["from"], old.from_s, f"from_{key}")
        recognisable_s = _minute(right, _MINUTES["recognisable"], old.recognisable_s, f"recognisable_{key}")
        first_event = _act(left, "First act", old.first_act_event, f"first_{key}")
        first_s = _minute(right, _MINUTES["first_at"], old.first_act_s, f"first_at_{key}")
        escalation_event = _act(left, "Escalation", old.escalation_event, f"escalation_{key}")
        escalation_s = _minute(right, _MINUTES["escalation_at"], old.escalation_s, f"escalation_at_{key}")
        saved = st.form_submit_button("Save the meeting's clock", key=f"{_KEY}_save_{key}")
    if saved and _save(place, lambda: replace(
        old, concern=concern, category=category, from_s=from_s(), recognisable_s=recognisable_s(),
        first_act_s=first_s(), first_act_event=first_event, escalation_s=escalation_s(),
        escalation_event=escalation_event, reason=reason,
    )):  # fmt: skip
        st.rerun()  # the table above and the strip show what was agreed now


def _choice(
    place: Any, label: str, options: Sequence[str], value: str | None, key: str, in_words: Callable[[Any], str]
) -> str | None:
    """A choice that may be left open."""
    return layout.choice(place, label, [None, *options], value, key=f"{_KEY}_{key}", words=in_words)


def _minute(column: Any, label: str, at_s: float | None, key: str) -> Callable[[], float | None]:
    """A box for a minute; what reads it in seconds."""
    kept = None if at_s is None else at_s / 60
    minute = decimals.decimal_box(column, label, kept, key=f"{_KEY}_{key}", placeholder=OPEN)

    def seconds() -> float | None:
        found = minute()
        return None if found is None else 60.0 * found

    return seconds


def _act(column: Any, label: str, event: str | None, key: str) -> str | None:
    return _choice(column, label, vocabulary.CARE_EVENTS, event, key,
                   lambda name: words.words(name) if name else "none found")  # fmt: skip


def _events(case: CaseFile, place: tuple[str, str, str, str], old: Agreed) -> None:
    """Computed events to strike out, a form for one more, and those marked so far to take back."""
    key = made_anew.place("_".join(place))
    for number, mark in enumerate(old.marks):
        told, off = st.columns([6, 1], vertical_alignment="center")
        told.write(layout.plain(_mark_words(mark)))
        rest = replace(old, marks=(*old.marks[:number], *old.marks[number + 1 :]))
        off.button("Take back", key=f"{_KEY}_off_{key}_{number}", on_click=_keep, args=(place, rest))
    computed = _computed(case)
    with st.form(f"marks_{key}", border=False, clear_on_submit=True):
        struck = st.multiselect("Strike out computed events", list(computed), key=f"{_KEY}_struck_{key}",
                                format_func=layout.own(str), placeholder="none chosen")  # fmt: skip
        columns = st.columns(4)
        kind = columns[0].selectbox("Or add", [None, *vocabulary.MARK_KINDS], key=f"{_KEY}_kind_{key}",
                                    placeholder="nothing",
                                    format_func=layout.own(lambda name: words.words(name) if name else "nothing")
                                    )  # fmt: skip
        first_s = _minute(columns[1], "From minute", None, f"mark_from_{key}")
        last_s = _minute(columns[2], "To minute", None, f"mark_to_{key}")
        fall = columns[3].selectbox("Kind of deceleration", [None, *vocabulary.DECELERATION_KINDS],
                                    key=f"{_KEY}_fall_{key}", placeholder="not said",
                                    format_func=layout.own(lambda name: name or "not said"))  # fmt: skip
        reason = st.selectbox("Reason", list(vocabulary.AGREED_REASONS), format_func=layout.own(words.words),
                              key=f"{_KEY}_why_{key}")  # fmt: skip
        saved = st.form_submit_button("Mark the events and run the clock again", key=f"{_KEY}_mark_{key}")

    def with_marks() -> Agreed:
        new = [Mark("struck_out", *computed[name], reason=str(reason)) for name in struck]
        start_s, end_s = first_s(), last_s()
        given = {"Or add": kind, "From minute": start_s, "To minute": end_s}
        missing = [name for name, value in given.items() if value is None]
        if 0 < len(missing) < len(given):
            raise UsageError(f"an event to add: found nothing in {' and '.join(missing)}, expected all three")
        if kind is not None and start_s is not None and end_s is not None:
            new.append(Mark("added", str(kind), start_s, end_s, str(reason), fall if kind == "deceleration" else None))
        return replace(old, marks=tuple(dict.fromkeys((*old.marks, *new))))

    if saved and _save(place, with_marks):
        st.rerun()


def _computed(case: CaseFile) -> dict[str, tuple[str, float, float]]:
    """The computed decelerations and contractions by what they are called on the page."""
    found = {}
    for kind, name in (("deceleration", "decelerations"), ("contraction", "contractions")):
        for row in case.frame(name).to_dict("records"):
            start_s, end_s = float(row["onset_s"]), float(row["end_s"])
            what = f"{row['kind']} {kind}" if "kind" in row else kind
            found[f"{what}, minute {start_s / 60:.1f} to {end_s / 60:.1f}"] = (kind, start_s, end_s)
    return found


def _mark_words(mark: Mark) -> str:
    what = f"{mark.deceleration} {mark.kind}" if mark.deceleration else words.words(mark.kind)
    return (
        f"{words.words(mark.deed).capitalize()}: {what}, minute {mark.start_s / 60:.1f} to {mark.end_s / 60:.1f}"
        f" ({words.words(mark.reason)})"
    )


def _keep(place: tuple[str, str, str, str], agreed: Agreed) -> None:
    _save(place, lambda: agreed)


def _save(place: tuple[str, str, str, str], agreed: Callable[[], Agreed]) -> bool:
    return layout.stored(lambda: people_agreed.save(database(), *place, agreed(), who=session.who(Deed.HOLD_MEETING)))
