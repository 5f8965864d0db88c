"""Tables of what people write: agenda, actions, batches, log."""

import json
from collections.abc import Callable

from audit.charts.control import measure_title, unit_words
from audit.figures import shown
from audit.tables.definition import Column, Kind, Row, TableDefinition, numbers, texts
from audit.tables.episodes import CASE, PERIOD, STANDARD
from audit.tables.trends import in_its_unit, with_unit

AGENDA = TableDefinition(
    "agenda",
    (
        *numbers(position="No."), CASE, Column("question", "Question"),
        Column("reasons", "Why, without the outcome"),
    ),
    title="Agenda",
    empty="The agenda of this month is empty: the pack takes the first of the cases to discuss.",
)  # fmt: skip
AGENDA_ON_PAGE = AGENDA.only("position", "case_id", "question")


def _state(row: Row) -> str:
    return f"{row['state']}, overdue" if row.get("overdue") else str(row["state"])


_ACTION = (
    Column("period", "Agreed in", width="small"), *numbers(action_id="No."), Column("action", "Action"), CASE,
    Column("issue", "Follows from"),
    Column("owner_role", "Owner"), Column("due_period", "Due", width="small"), Column("state", "State", value=_state),
)  # fmt: skip
ACTIONS_BEFORE = TableDefinition("actions_before", _ACTION, title="From earlier meetings", empty="No action is open.")
ACTIONS_AGREED = TableDefinition(
    "actions_agreed", _ACTION[1:], title="Agreed at this meeting", empty="None agreed yet."
)


EFFECT_CAUTION = (
    "Up to 12 months before, and those from the month named on, three at least on each side, with the interval of the"
    " difference. What else changed in that time moves a measure too, and few months show little. Back: called done,"
    " and not seen to move as meant."
)
EFFECTS = TableDefinition(
    "action_effects",
    (
        *numbers(action_id="No."),
        Column("action", "Action"),
        Column("issue", "Follows from"),
        Column("measure", "Should move", value=lambda row: measure_title(row["measure"])),
        Column("direction", "Which way", Kind.CODE, width="small"),
        Column("from_period", "From", width="small"),
        Column("unit", "Unit", value=lambda row: unit_words(row["unit"])),
        *numbers(months_before="Months before", months_after="Months after"),
        in_its_unit("before", "Before"), in_its_unit("after", "After"), in_its_unit("difference", "After less before"),
        in_its_unit("low", "Interval from"), in_its_unit("high", "Interval to"),
        Column("verdict", "What is seen", value=lambda row: row["verdict"] + "; back" * row["comes_back"]),
    ),
    title="What became of the measures that actions should move",
    first_columns=("action_id", "action", "measure", "unit", "before", "after", "difference", "verdict"),
)  # fmt: skip


def _interval(row: Row) -> str | None:
    scale = 100 if row["unit"] == "share" else 1
    return None if row["low"] is None else f"{shown(row['low'], scale=scale)} to {shown(row['high'], scale=scale)}"


# on paper the interval is one column, and the unit stands with the measure
EFFECTS_ON_PAPER = TableDefinition(
    "action_effects",
    (
        *numbers(action_id="No."),
        Column("action", "Action"),
        Column("measure", "Should move", value=lambda row: with_unit(row["measure"], row["unit"])),
        Column("from_period", "From", width="small"),
        in_its_unit("before", "Before"), in_its_unit("after", "After"), in_its_unit("difference", "Change"),
        Column("interval", "Interval", value=_interval, width="small"),
        EFFECTS.columns[-1],
    ),
    title=EFFECTS.title,
)  # fmt: skip
ISSUES = TableDefinition(
    "issues",
    (
        *numbers(issue_id="No."),
        *texts(what="Issue", stage="Stage", factor="Factor", avoidability="Avoidability", note="In words"),
    ),
    title="Issues",
    empty="No issue was noted.",
)
ISSUE_CHAIN = TableDefinition(
    "issue_chain",
    (
        Column("what", "What could have been better"),
        *texts(Kind.COUNT, issues="Issues", with_action="With an action", actions="Actions", done="Done",
               with_measure="Naming a measure", as_meant="Moved as meant"),
    ),
    title="From issues to effects",
    empty="No issue was noted.",
)  # fmt: skip
FAMILY_QUESTIONS = TableDefinition(
    "family_questions",
    (
        *numbers(question_id="No."), CASE, Column("question", "The family asks"),
        Column("answer", "Answer", missing="not yet answered"),
    ),
    title="Questions of families",
    empty="No family's question was brought.",
)  # fmt: skip
BATCHES = TableDefinition(
    "batches",
    (
        *numbers(batch_id="No."), Column("name", "Batch"), PERIOD, STANDARD, Column("state", "State"),
        *numbers(windows="Strips", readers="Readers", reads="Reads", reads_expected="Expected"),
        *texts(Kind.MOMENT, created_at="Made (UTC)", closed_at="Closed (UTC)"),
    ),
    empty="No batch was made yet.",
)  # fmt: skip
PROGRESS = TableDefinition(
    "progress",
    (
        Column("reader", "Reader"),
        *numbers(read="Read", strips="Of strips"),
        *numbers(1, minutes_spent="Minutes spent"),
    ),
)
PEOPLE = TableDefinition(
    "people",
    (
        Column("role", "Role", width="small"), Column("code", "Code", width="small"),
        *texts(Kind.MOMENT, created_at="Known since (UTC)"),
    ),
    empty="Nobody is known yet.",
)  # fmt: skip


def _named(name: str) -> Callable[[Row], str | None]:
    """What the log keeps of an entry under this name, with the names of its fields as words."""

    def worded(row: Row) -> str | None:
        kept = row[name]
        found = json.loads(kept) if kept else None
        if isinstance(found, list):
            return ", ".join(str(each) for each in found)
        if not isinstance(found, dict):
            return kept and str(kept)
        return "; ".join(f"{field.replace('_', ' ')} {value}" for field, value in found.items() if value is not None)

    return worded


LOG = TableDefinition(
    "log",
    (
        *numbers(entry="No."), *texts(Kind.MOMENT, at="When (UTC)"), *texts(who="Who", deed="Did"),
        Column("subject", "What", value=lambda row: str(row["subject"]).replace("_", " ")),
        Column("subject_key", "Which", value=_named("subject_key")),
        Column("old", "Before", value=_named("old")), Column("new", "After", value=_named("new")),
    ),
    empty="Nothing was written yet.",
)  # fmt: skip
