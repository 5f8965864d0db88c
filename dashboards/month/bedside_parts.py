"""Where the time went, and what staff recorded at the time: on Response times and Case, where there is any."""

import streamlit as st

from audit import words
from audit.charts import wait_parts as wait_parts_charts
from audit.charts import waits as charts
from audit.questions import act_effect as act_effect_question
from audit.questions import bedside, counted, wait_parts
from audit.questions.case_file import CaseFile
from audit.questions.month_list import ANY
from audit.questions.oxytocin import SOURCE, in_words, in_words_of
from audit.questions.oxytocin import timeline as oxytocin_timeline
from audit.questions.waits import NOT_GIVEN
from audit.response.parts import STEPS
from audit.store.database import Record
from audit.tables import bedside as tables
from dashboards import addressed, bedside_data, cases_behind, data, layout
from dashboards.keys import Key


def section(period: str, standard: str, trigger: str | None, shift: str | None, group: str | None) -> None:
    """The parts of the waits and the hourly audit; nothing at all where no assessment was imported."""
    waits = [
        row for row in bedside_data.wait_parts(period, standard)
        if trigger in (None, row["trigger"]) and shift in (None, row["shift"])
    ]  # fmt: skip
    if wait_parts.has_recorded(waits):
        st.header("Where the time went", anchor=False)
        st.caption(
            f"{wait_parts.SOURCE} Recorded as such: staff wrote down a category that fits the concern. Minutes spent"
            " waiting for a step are counted whatever ended the wait; concerns of one labour are taken together for the"
            " intervals."
        )
        _parts(waits, cases_behind.address(period, standard, trigger=trigger or ANY, shift=shift))
        _curve(waits, group)
    found = bedside_data.bedside(period)
    if found["assessments"] and not wait_parts.has_recorded(waits):
        names = " and ".join(words.standard_name(name) for name in found["standards"])
        st.caption(f"Staff recorded under {names}: choose it above to see in which part of the wait the time went.")
    if found["assessments"]:
        _recorded(found, period)


def _parts(waits: list[Record], narrowed: dict[str, str]) -> None:
    rows = wait_parts.summary(waits)
    to = [narrowed | {"step": counted.came_to(row["until"])} for row in rows]
    st.caption("Choose a row to see the cases that came to the step, and there which of them went on.")
    cases_behind.table(tables.PARTS.filled(rows), to)
    longest = [(f"{row['longest_in']}: {wait_parts.STEP_WORDS[row['until']]}", counted.came_to(row["until"], "longest"))
               for row in rows if row["longest_in"]]  # fmt: skip
    found = [(label, narrowed | {"step": step}) for label, step in longest]
    cases_behind.links(found, lead="Longest part of the wait in:")


def act_effect(period: str, standard: str) -> None:
    """The half hour after each kind of act against that before; worked out only when it is opened."""
    if st.toggle("Did the act help?", **addressed.switched_by_address(Key.RESPONSE_EFFECT)):
        st.caption(act_effect_question.SOURCE)
        rows = bedside_data.act_effect(period, standard)
        st.caption("Choose a row to see the labours judged.")
        to = [cases_behind.address(period, standard, act=counted.judged(row["act"], row["measure"])) for row in rows]
        cases_behind.table(tables.ACT_EFFECT.filled(rows), to)


def oxytocin(period: str, standard: str) -> None:
    """How oxytocin was used; nothing where none is recorded."""
    rows = bedside_data.oxytocin(period, standard)
    if rows:
        with st.expander("Oxytocin"):
            st.caption(SOURCE)
            st.caption("Choose a row to see its labours.")
            cases_behind.table(tables.OXYTOCIN.filled(rows), [_oxytocin_of(row, period, standard) for row in rows])
            named = (counted.IN_TACHYSYSTOLE, counted.INCREASED, counted.NOT_REDUCED)
            cases_behind.links([(name, cases_behind.address(period, standard, counted=name)) for name in named])


def _oxytocin_of(row: Record, period: str, standard: str) -> dict[str, str]:
    """The labours of a row: of the month it names, or of all that the page has chosen."""
    month = {"all": period, NOT_GIVEN: data.NO_MONTH}.get(row["group"], row["group"])
    return cases_behind.address(month, standard, counted=counted.ON_OXYTOCIN)


def _curve(waits: list[Record], group: str | None) -> None:
    offered = [str(step) for step in STEPS[2:] if any(part["until"] == step for row in waits for part in row["parts"])]
    step = st.selectbox(
        "Until", offered, format_func=layout.own(lambda name: wait_parts.STEP_WORDS[name]),
        **addressed.led_by_address(Key.RESPONSE_STEP, offered, next(iter(offered), None)),
    )  # fmt: skip
    by = group if group in ("period", "shift", "trigger") else None
    points = wait_parts.curve_points(waits, str(step), by, longest_min=120.0)
    names = list(dict.fromkeys(point["group"] for point in points))[-charts.MOST_GROUPS :]
    if not points:
        st.info("Nobody went on to this step, so there is no curve.")
        return
    layout.drawn(
        charts.answer_curves, data.frame([point for point in points if point["group"] in names]),
        targets_min=[], longest_min=120.0, share_title="share that went on", from_words="minutes since the step before",
        alt_text=f"Share that went on to: {wait_parts.STEP_WORDS[str(step)]}",
    )  # fmt: skip


def _recorded(found: Record, period: str) -> None:
    st.header("Recorded at the time", anchor=False)
    st.caption(f"{bedside.SOURCE} Month as chosen above, whatever the standard, trigger and shift.")
    shifts = [None if row["group"] == "all" else words.words(row["group"]) for row in found["hours"]]
    to = [cases_behind.address(period, counted=counted.ASSESSED, shift=shift) for shift in shifts]
    st.caption("Choose a row to see its labours.")
    cases_behind.table(tables.HOURS.filled(found["hours"]), to)
    named = (counted.OVER_AN_HOUR, counted.NOT_ASSESSED)
    cases_behind.links([(name, cases_behind.address(period, counted=name)) for name in named])
    if found["calling"]:
        st.caption(
            "By role, never by person; roles in few labours are hidden: none leads to its labours. A bedside category"
            " is of the moment and knows what the tracing does not show."
        )
        layout.table(tables.CALLING.filled(found["calling"]))


def parts_of_case(case: CaseFile, standard: str) -> None:
    """Oxytocin, and the parts of a case's waits; nothing where neither was recorded."""
    used = bedside_data.oxytocin_of(case.case_id, case.facts.get("period"), standard)
    if used is not None:
        st.write(layout.plain(in_words(used)))
        _oxytocin_timeline(case, standard)
    waits = _waits_of(case, standard)
    if waits:
        st.header("Where the time went", anchor=False)
        _timeline(waits[0])
        with st.expander("Every part in a table" if len(waits) == 1 else "Every concern, and its parts in a table"):
            for wait in waits[1:]:
                _timeline(wait)
            layout.table(tables.PARTS_OF_CASE.filled(tables.parts_of_case(waits)))


def _oxytocin_timeline(case: CaseFile, standard: str) -> None:
    clock, birth_s = case.frame("clock"), case.facts.get("birth_s")
    rows = oxytocin_timeline(
        case.frame("events"),
        case.frame("epochs"),
        clock[clock["standard"] == standard],
        end_s=case.end_s if birth_s is None else birth_s,
        limit=data.settings().nichd_2008.tachysystole,
    )
    if rows:
        _draw([{**row, "reached": True, "longest": row["label"] == "concern"} for row in rows], in_words_of(rows))


def timelines(case: CaseFile, standard: str) -> None:
    """The parts of a case's waits as drawings alone, for the room."""
    for wait in _waits_of(case, standard):
        _timeline(wait)


def _waits_of(case: CaseFile, standard: str) -> list[Record]:
    """The waits of a case, that of the concern which weighs most first; none where staff recorded nothing."""
    waits = bedside_data.wait_parts_of(case.case_id)
    return wait_parts.to_draw(waits, case.frame("clock"), case.fetus, standard)


def _timeline(wait: Record) -> None:
    title = tables.timeline_title(wait)
    st.caption(layout.plain(f"{title[0].upper()}{title[1:]}."))
    _draw(tables.timeline_rows(wait), tables.timeline_words(wait))


def _draw(rows: list[Record], said: str) -> None:
    height_px = 24 * len({row["label"] for row in rows}) + 44
    layout.drawn(wait_parts_charts.timeline, rows, width_px=900, height_px=height_px, alt_text=said)
