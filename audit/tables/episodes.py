"""Tables of concern episodes: every episode, and how long they waited by group."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit import words as words_
from audit.figures import shown
from audit.questions import chance
from audit.questions.birth_times import urgency_words
from audit.questions.lasted import sentence as lasted
from audit.questions.votes import counted, sentence
from audit.questions.waits import WaitGroup
from audit.response.chance import Chance
from audit.tables.definition import Column, Kind, Row, TableDefinition, numbers, shares, texts


def concern(row: Row) -> str:
    """What the episode is about; a reader's clock starts at a read, not at a trigger."""
    return f"read by {row['reader']}" if "reader" in row else words_.words(str(row["trigger"]))


def case_and_fetus(row: Row) -> str:
    """The case, and the fetus where it is not the first."""
    return str(row["case_id"]) if row["fetus"] == "A" else f"{row['case_id']} {row['fetus']}"


CASE = Column("case_id", "Case", width="small")
FETUS = Column("fetus", "Fetus", width="small")
PERIOD = Column("period", "Month", width="small")
SHIFT = Column("shift", "Shift")
STANDARD = Column("standard", "Standard", Kind.STANDARD, width="small")
TRIGGER = Column("trigger", "Concern", value=concern)
PATTERN_START = Column("pattern_start_s", "Pattern starts", Kind.CLOCK)
RECOGNISABLE = Column("recognisable_s", "Recognisable", Kind.CLOCK, short="From", width="small")
RESPONSE_AT = Column("response_s", "Response", Kind.CLOCK)
RESPONSE_EVENT = Column("response_event", "What was done", Kind.CODE, missing="none recorded")
# with a decimal, so that 15.3 beside a target of 15 does not look like 15
TO_RESPONSE = Column("minutes_to_response", "Minutes to response", Kind.NUMBER, 1, short="After")
TARGET = Column("target_minutes", "Target, min", Kind.NUMBER, short="Target")
TO_BIRTH = Column("minutes_to_birth", "Minutes to birth", Kind.NUMBER, 1, short="Birth")
FIRST_ACT = (
    Column("first_act_event", "First act", Kind.CODE, missing="none recorded"),
    *numbers(1, minutes_to_first_act="Minutes to first act"),
)
ESCALATION = (
    Column("escalation_event", "Escalation", Kind.CODE, missing="none recorded"),
    *texts(Kind.CLOCK, escalation_s="Escalated at"),
    *numbers(1, minutes_to_escalation="Minutes to escalation"),
)
DECIDED_BY = Column("decided_by", "Decided by", Kind.CODE)
STATUS = Column("status", "How it ended", Kind.STATUS)
LATE_UNDER = Column(
    "late_under",
    "Late or unanswered under, clocks",
    short="Late",
    width="small",
    value=counted,
)
LASTED = Column("lasted", "How long", value=lasted)
EPISODES = TableDefinition(
    "episodes",
    (
        CASE, FETUS, PERIOD, SHIFT, STANDARD, TRIGGER, RECOGNISABLE, RESPONSE_EVENT, TO_RESPONSE, *FIRST_ACT,
        *ESCALATION, DECIDED_BY, TARGET, TO_BIRTH, STATUS, LATE_UNDER,
        LASTED, Column("agreement", "Who agrees", value=sentence),
        Column("note", "Note"),
    ),
    empty="No episode for this choice.",
)  # fmt: skip
EPISODES_ON_PAGE = EPISODES.only(
    "case_id", "fetus", "period", "shift", "trigger", "recognisable_s", "response_event", "minutes_to_response",
    "first_act_event", "minutes_to_first_act", "escalation_event", "minutes_to_escalation", "decided_by",
    "target_minutes", "minutes_to_birth", "status", "lasted", "agreement", "note",
    first_columns=("case_id", "trigger", "recognisable_s", "response_event", "minutes_to_response", "target_minutes",
                   "status"),
)  # fmt: skip
EPISODES_ON_TERMINAL = TableDefinition(
    "episodes",
    (
        Column("case_id", "Case", width="small", value=case_and_fetus),
        Column("trigger", "Concern", value=lambda row: f"{words_.standard_name(row['standard'])} {concern(row)}"),
        RECOGNISABLE, RESPONSE_EVENT, TO_RESPONSE, TARGET, TO_BIRTH, STATUS, LATE_UNDER,
    ),
)  # fmt: skip
CHANCE = TableDefinition(
    "chance",
    (
        STANDARD,
        TRIGGER,
        *numbers(episodes="Can be assessed"),
        *shares(share_in_time="In time, %", share="By chance, %", low="Chance from, %", high="Chance to, %"),
    ),
    empty="No episode whose answer can be judged.",
)
WAITS = TableDefinition(
    "within_target",
    (
        Column("name", "Group", Kind.CODE),
        *numbers(episodes="Episodes", within="Within target", late="Late or still waiting"),
        *shares(share="Answered by target, of all, %", share_low="Share from, %", share_high="Share to, %"),
        *texts(chance="By chance, %"),
        *numbers(other_end="Ended otherwise first", unknown="Not followed to the target",
                 not_assessable="Not assessable", under_way="Birth decided before",
                 half_answered_min="Half answered by, min", half_low_min="Half from, min",
                 half_high_min="Half to, min"),
    ),
    first_columns=("name", "episodes", "within", "late", "share", "chance"),
)  # fmt: skip
STATUSES = ("late", "none_recorded", "in_time", "under_way", "resolved", "born_first", "not_assessable")
# the month's answers as the page's bars have them, and by standard as the pack has them
ANSWERS = TableDefinition("answers", (STANDARD, STATUS, *numbers(episodes="Episodes")))
RESPONSES = TableDefinition(
    "responses",
    (
        STANDARD,
        *numbers(episodes="Episodes", **{name: words_.status_words(name).capitalize() for name in STATUSES}),
        *shares(share="In time, %"),
        *texts(interval="95 % interval", chance="By chance, %"),
    ),
    title="How episodes ended",
)
SHARES_WITHIN = TableDefinition(
    "decision_to_birth",
    (
        *texts(urgency="Urgency", births="Births"),
        *numbers(labours="Labours", known="Known", unknown="Not known", within_30="Within 30 min"),
        *shares(share_30="Within 30 min, %", low_30="30 min from, %", high_30="30 min to, %"),
        *numbers(within_75="Within 75 min"),
        *shares(share_75="Within 75 min, %", low_75="75 min from, %", high_75="75 min to, %"),
    ),
    first_columns=("urgency", "births", "labours", "known", "within_30", "share_30", "within_75", "share_75"),
)
LABOURS = TableDefinition(
    "birth_times",
    (
        CASE, PERIOD, SHIFT,
        Column("urgency", "Urgency", value=lambda row: urgency_words(row["urgency"])),
        *texts(Kind.CLOCK, decision_s="Decision"),
        *numbers(1, decision_to_incision_minutes="Minutes to incision", decision_to_birth_minutes="Minutes to birth"),
        Column("within_30", "Within 30 min", Kind.YES_NO, missing="not known"),
        Column("within_75", "Within 75 min", Kind.YES_NO, missing="not known"),
        Column("note", "Note"),
    ),
    first_columns=("case_id", "shift", "urgency", "decision_s", "decision_to_incision_minutes",
                   "decision_to_birth_minutes", "within_30", "within_75"),
)  # fmt: skip


def wait_rows(groups: Sequence[WaitGroup], by_chance: Mapping[str, Chance]) -> list[Mapping[str, Any]]:
    """Groups as rows of `WAITS`, each beside the share that chance gives it."""
    return [{**vars(group), "chance": chance.words(by_chance.get(group.name))} for group in groups]


def share_words(group: WaitGroup) -> tuple[str, str]:
    """Share within target, and its interval, as text."""
    if group.share is None:
        return "not known", "nothing can be assessed"
    share, low, high = (shown(value, 0, scale=100) for value in (group.share, group.share_low, group.share_high))
    return f"{share}%", f"95 % interval {low}% to {high}%"


def half_words(group: WaitGroup) -> tuple[str, str]:
    """Minutes by which half were answered, and the interval, as text."""
    if group.half_answered_min is None:
        return "not reached", "fewer than half answered"
    bounds = (group.half_low_min, group.half_high_min)
    low, high = ("not known" if bound is None else shown(bound, 0) for bound in bounds)
    interval = "not known" if bounds == (None, None) else f"{low} to {high}"
    return f"{shown(group.half_answered_min, 0)} min", f"95 % interval {interval}"
