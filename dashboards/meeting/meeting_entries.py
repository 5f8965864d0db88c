"""What the meeting enters about a case: finding, issues, actions; each is stored at once and can be taken back."""

from typing import Any

import streamlit as st

from audit import months as months_
from audit.charts.control import measure_title
from audit.people import actions, disclosures, findings, issues, log, rules, undo
from audit.people.findings import Finding
from audit.people.issues import Issue
from audit.people.permissions import Deed
from audit.questions.action_effects import MOVABLE
from audit.tables.meeting import ACTIONS_AGREED, ISSUES
from dashboards import data, layout, session
from dashboards.keys import ReviewKey
from dashboards.meeting import family_parts, made_anew
from dashboards.signed_in import database

NOT_DECIDED = "not decided"
NOT_STATED = "not stated"
NO_MEASURE = "none"
_SUBJECTS = {
    "meeting": "date and attendance",
    "phase": "change of practice",
    "family_question": "question of the family",
    "agreed": "the meeting's own clock of",
}


def of_case(item: dict[str, Any]) -> None:
    """Everything that is entered about one case, in the order of the discussion."""
    st.subheader("What the meeting decides", anchor=False)
    family = ["Family"] if family_parts.wanted(item["period"], item["case_id"]) else []
    finding_tab, issues_tab, actions_tab, *family_tab, back_tab = st.tabs(
        ["Finding", "Issues", "Actions", *family, "Take back"]
    )
    with finding_tab:
        findings_form(item)
    with issues_tab:
        case_issues(item)
    with actions_tab:
        case_actions(item)
    for tab in family_tab:
        with tab:
            family_parts.at_the_meeting(item)
    with back_tab:
        take_back(item["period"])


def findings_form(item: dict[str, Any]) -> None:
    """Care grade once the outcome was opened, factors, learning point, what went well; the log keeps every change."""
    case_id, period = item["case_id"], item["period"]
    old = findings.of_case(database(), period, case_id) or Finding()
    opened = case_id in disclosures.opened_in(database(), period)
    with st.form(f"finding_{period}_{case_id}", border=True):
        found = _finding_inputs(old, made_anew.place(f"{period}_{case_id}"), opened=opened)
        saved = st.form_submit_button("Save the finding", key=f"{ReviewKey.FINDING_SAVE}_{case_id}", type="primary")
    st.caption("A grade is this meeting's view of the care, not a finding of fault, and not derived from the outcome.")
    if saved and layout.stored(
        lambda: findings.save(database(), period, case_id, found, who=session.who(Deed.HOLD_MEETING))
    ):
        st.success("The finding is saved; a pack that is made from now on has it.")


def _finding_inputs(old: Finding, place: str, *, opened: bool) -> Finding:
    meeting = data.settings().meeting
    words = meeting.grade_words
    learning = st.text_input(
        "Learning point (a time of the tracing such as 03:26 may stand in it; nothing that identifies anybody)",
        old.learning_point or "",
        key=f"{ReviewKey.FINDING_LEARNING}_{place}",
        max_chars=rules.LONGEST_TEXT,
    )
    well = st.text_input(
        "What went well", old.went_well or "", key=f"{ReviewKey.FINDING_WELL}_{place}", max_chars=rules.LONGEST_TEXT
    )
    factors = st.multiselect(
        "Contributory factors",
        list(dict.fromkeys([*meeting.factors, *old.factors])),
        default=list(old.factors),
        key=f"{ReviewKey.FINDING_FACTORS}_{place}",
        placeholder="none chosen",
        format_func=layout.own(str),
    )
    grades = [NOT_DECIDED, *meeting.care_grades]
    grade = st.radio(
        f"Care grade ({meeting.care_scale})" + ("" if opened else ": once the outcome is opened"),
        grades,
        index=grades.index(old.care_grade) if old.care_grade in grades else 0,
        format_func=layout.own(lambda name: f"{name}: {words[name]}" if name in words else name),
        key=f"{ReviewKey.FINDING_GRADE}_{place}",
        disabled=not opened,
    )
    return Finding(
        care_grade=None if grade == NOT_DECIDED else grade,
        care_scale=meeting.care_scale,
        factors=tuple(factors),
        learning_point=learning or None,
        went_well=well or None,
    )


def case_issues(item: dict[str, Any]) -> None:
    """The issues of this case, one more, and a change of one."""
    case_id, period = item["case_id"], item["period"]
    rows = [row for row in issues.in_period(database(), period) if row["case_id"] == case_id]
    layout.table(ISSUES.filled(rows, name="case_issues", empty="No issue was noted in this case."))
    place = made_anew.place(f"{period}_{case_id}")
    numbers = {row["issue_id"]: row for row in rows}
    chosen = None
    if numbers:
        chosen = st.segmented_control(
            "Change an issue",
            list(numbers),
            format_func=layout.own(lambda number: f"No. {number}: {numbers[number]['what']}"),
            key=f"{ReviewKey.ISSUE_CHOSEN}_{place}",
        )
    old = issues.as_issue(numbers[chosen]) if chosen in numbers else None
    with st.form(f"issue_{place}_{chosen or 0}", border=True, clear_on_submit=old is None):
        found = _issue_inputs(old, f"{place}_{chosen or 0}")
        words = "Add the issue" if old is None else f"Save issue {chosen}"
        saved = st.form_submit_button(words, key=f"{ReviewKey.ISSUE_SAVE}_{place}_{chosen or 0}")

    def save() -> None:
        who = session.who(Deed.HOLD_MEETING)
        if old is None:
            issues.add(database(), period, case_id, found, who=who)
        else:
            issues.change(database(), int(str(chosen)), found, who=who)

    if saved and layout.stored(save):
        st.rerun()


def _issue_inputs(old: Issue | None, place: str) -> Issue:
    meeting, was = data.settings().meeting, old or Issue("")
    left, right = st.columns(2)
    first = was.what or meeting.issues[0]
    what = layout.choice(left, "What could have been better", meeting.issues, first, key=f"issue_what_{place}")
    parts = [
        layout.choice(column, name.capitalize(), (NOT_STATED, *own), value or NOT_STATED, key=f"issue_{name}_{place}")
        for column, name, own, value in (
            (left, "stage", meeting.stages, was.stage),
            (right, "factor", meeting.factors, was.factor),
            (right, "avoidability", meeting.avoidability, was.avoidability),
        )
    ]
    note = st.text_input(
        "In words, if need be (03:26 may stand in it)", was.note or "", key=f"issue_note_{place}",
        max_chars=rules.LONGEST_TEXT,
    )  # fmt: skip
    stage, factor, avoidability = (None if text == NOT_STATED else text for text in parts)
    return Issue(what, stage, factor, avoidability, note or None)


def case_actions(item: dict[str, Any]) -> None:
    """Actions agreed on this case, and one more."""
    rows = [row for row in actions.agreed_in(database(), item["period"]) if row["case_id"] == item["case_id"]]
    empty = "No action was agreed on this case."
    layout.table(ACTIONS_AGREED.filled(rows, name="case_actions", empty=empty))
    add_action(item["period"], case_id=item["case_id"])


def add_action(period: str, *, case_id: str | None = None) -> None:
    """The form for a new action, of one case or of the meeting as a whole."""
    place = f"{period}_{case_id or 'meeting'}"
    with st.form(f"add_action_{place}", border=True, clear_on_submit=True):
        text, owner, due, aim = _action_inputs(period, place)
        issue_id = _issue_input(period, place, case_id)
        added = st.form_submit_button("Add the action", key=f"{ReviewKey.ACTION_ADD}_{place}")
    if added and layout.stored(
        lambda: actions.add(
            database(), period, text, owner_role=owner, due_period=due, who=session.who(Deed.KEEP_ACTIONS),
            case_id=case_id, aim=aim, issue_id=issue_id or None,
        )
    ):  # fmt: skip
        st.rerun()


def edit_action(rows: list[dict[str, Any]], period: str, place: str) -> None:
    """The words, owner and due month of one action that is on the page; the log keeps what it said."""
    if not rows:
        return
    by_number, place = {row["action_id"]: row for row in rows}, made_anew.place(place)
    with st.expander("Change the words, owner or due month of an action"):
        number = st.selectbox(
            "Action", list(by_number),
            format_func=layout.own(lambda number: f"No. {number}: {by_number[number]['action']}"),
            key=f"{ReviewKey.ACTION_CHOSEN}_{place}",
        )  # fmt: skip
        with st.form(f"edit_action_{place}_{number}", border=False):
            old = by_number[number]
            text, owner, due, aim = _action_inputs(period, f"{place}_{number}", old)
            issue_id = _issue_input(old["period"], f"{place}_{number}", old["case_id"], old["issue_id"])
            saved = st.form_submit_button("Save the action", key=f"{ReviewKey.ACTION_EDIT}_{place}_{number}")
        if saved and layout.stored(
            lambda: actions.change(
                database(), number, who=session.who(Deed.KEEP_ACTIONS), period=period, action=text, owner_role=owner,
                due_period=due, aim=aim, issue_id=issue_id,
            )
        ):  # fmt: skip
            st.rerun()


def _action_inputs(period: str, place: str, old: dict[str, Any] | None = None) -> tuple[str, str, str, actions.Aim]:
    meeting = data.settings().meeting
    dues = [months_.next_period(period, months) for months in range(13)]
    first_owner, first_due = (old["owner_role"], old["due_period"]) if old else (meeting.owner_roles[0], dues[1])
    text = st.text_input(
        "What is to be done", old["action"] if old else "", key=f"{ReviewKey.ACTION_TEXT}_{place}",
        max_chars=rules.LONGEST_TEXT,
    )  # fmt: skip
    left, right = st.columns(2)
    owner_key, due_key = f"{ReviewKey.ACTION_OWNER}_{place}", f"{ReviewKey.ACTION_DUE}_{place}"
    owner = layout.choice(left, "Owner (a role)", meeting.owner_roles, first_owner, key=owner_key)
    due = layout.choice(right, "Due", sorted({*dues, first_due}), first_due, key=due_key)
    with st.expander("The measure that it should move"):
        aim = _aim_inputs(period, place, actions.as_aim(old) if old else actions.Aim())
    return text, str(owner), str(due), aim


def _issue_input(period: str, place: str, case_id: str | None, old: int | None = None) -> int:
    """The issue of the meeting, and of the case if there is one, that an action follows from; 0 = none."""
    every = issues.in_period(database(), period)
    rows = {row["issue_id"]: row for row in every if case_id in (None, row["case_id"])}
    if not rows:
        return 0
    number: int = layout.choice(
        st, "Follows from the issue", [0, *rows], old if old in rows else 0, key=f"{ReviewKey.ACTION_ISSUE}_{place}",
        words=lambda number: _issue_words(rows[number]) if number else NO_MEASURE,
    )  # fmt: skip
    return number


def _issue_words(row: dict[str, Any]) -> str:
    stage = f", {row['stage']}" if row["stage"] else ""
    return f"No. {row['issue_id']}, {row['case_id']}: {row['what']}{stage}"


def _aim_inputs(period: str, place: str, old: actions.Aim) -> actions.Aim:
    """A measure of Trends, which way it should go and from when; none chosen = none named."""
    left, middle, right = st.columns([3, 1, 1])
    keys = [f"{key}_{place}" for key in (ReviewKey.AIM_MEASURE, ReviewKey.AIM_DIRECTION, ReviewKey.AIM_FROM)]
    names, value = (NO_MEASURE, *MOVABLE), old.measure or NO_MEASURE
    measure = layout.choice(left, "Measure", names, value, key=keys[0], words=measure_title)
    way = old.direction or actions.DIRECTIONS[0]
    direction = layout.choice(middle, "should", actions.DIRECTIONS, way, key=keys[1])
    froms = sorted({*(months_.next_period(period, k) for k in range(-6, 13)), old.from_period or period})
    default = old.from_period or months_.next_period(period, 1)
    from_period = layout.choice(right, "from", froms, default, key=keys[2])
    return actions.Aim() if measure == NO_MEASURE else actions.Aim(measure, direction, from_period)


def take_back(period: str) -> None:
    """The meeting's newest entries, each with a button that puts back what stood before."""
    rows = undo.of_meeting(database(), period)
    if not rows:
        st.info("Nothing was entered at this meeting that could be taken back.")
        return
    st.caption("What stood before stands again. The log keeps both. An opened outcome stays opened.")
    for row in rows:
        words, button = st.columns([6, 1], vertical_alignment="center")
        what = _SUBJECTS.get(row["subject"], row["subject"])
        words.write(f"{log.readable(row['at'])}, {row['who']}: {row['deed']} {what} {layout.plain(undo.words(row))}")
        button.button("Take back", key=f"undo_{row['entry']}", on_click=_undo, args=(row["entry"],), width="stretch")


def _undo(entry: int) -> None:
    with layout.told():
        undo.undo(database(), entry, who=session.who(Deed.HOLD_MEETING))
        made_anew.all_forms()
