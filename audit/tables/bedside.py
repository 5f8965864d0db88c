"""Tables of what staff recorded at the time, and of the parts of a wait."""

from collections.abc import Mapping
from typing import Any

from audit import words as words_
from audit.questions.act_effect import MEASURE_WORDS
from audit.questions.wait_parts import STEP_WORDS
from audit.tables.definition import Column, Kind, TableDefinition, numbers, shares, texts
from audit.tables.episodes import STANDARD
from audit.words import hh_mm

END_WORDS = {
    "reached": "",
    "passed_over": "passed over",
    "resolved": "the pattern ended",
    "birth": "born first",
    "end_of_tracing": "not followed",
}

PARTS = TableDefinition(
    "wait_parts",
    (
        Column("until", "Until", value=lambda row: STEP_WORDS[row["until"]]),
        *numbers(came="Came to it", reached="Went on", passed_over="Passed over", resolved="Pattern ended first",
                 birth="Born first", not_followed="Not followed"),
        *shares(share="Went on, %", low="From, %", high="To, %"),
        *numbers(1, half_min="Half within, min"),
        *numbers(minutes="Minutes spent", longest_in="Longest part of"),
        *shares(share_of_time="Of all minutes, %", time_low="Time from, %", time_high="Time to, %"),
    ),
    title="Where the time went",
    empty="No concern whose wait can be followed.",
    first_columns=("until", "reached", "resolved", "share", "half_min", "share_of_time"),
)  # fmt: skip
PARTS_OF_CASE = TableDefinition(
    "parts_of_case",
    (
        STANDARD,
        Column("trigger", "Concern", Kind.CODE),
        Column("until", "Until", value=lambda row: STEP_WORDS[row["until"]]),
        Column("from_s", "From", Kind.CLOCK),
        Column("to_s", "To", Kind.CLOCK),
        *numbers(1, minutes="Minutes"),
        Column("end", "But", value=lambda row: END_WORDS[row["end"]]),
        Column("longest", "Longest", Kind.YES_NO, value=lambda row: row["longest"] == row["until"] or None),
    ),
)
SEEN_WHEN = TableDefinition(
    "seen_when",
    (
        *texts(Kind.CLOCK, at_s="When"),
        Column("step", "What", value=lambda row: STEP_WORDS[row["step"]] if row["step"] else row["said"]),
        *numbers(0, minutes="Minutes"),
    ),
    title="Step by step",
)
HOURS = TableDefinition(
    "hourly_assessments",
    (
        Column("group", "Shift", Kind.CODE),
        *numbers(labours="Labours", without="Without any, not counted", hours="Whole hours", assessed="Assessed"),
        *shares(share_assessed="Assessed, %", low_assessed="Assessed from, %", high_assessed="Assessed to, %"),
        *numbers(second_person="By two"),
        *shares(share_second_person="By two, %", low_second_person="By two from, %", high_second_person="By two to, %"),
        *numbers(gap_over_hour="Labours with over an hour between", longest_gap_min="Longest gap, min"),
    ),
    title="Assessed every hour",
    first_columns=(
        "group",
        "labours",
        "hours",
        "assessed",
        "share_assessed",
        "second_person",
        "share_second_person",
        "longest_gap_min",
    ),
)
CALLING = TableDefinition(
    "calling",
    (
        Column("standard", "Standard", Kind.STANDARD),
        Column("assessor", "Role", Kind.CODE),
        Column("against", "Against", value=lambda row: words_.words(row["against"])),
        *numbers(assessments="Assessments", labours="Labours", under="Milder", alike="Alike", over="Worse"),
        *shares(share_under="Milder, %", low_under="Milder from, %", high_under="Milder to, %",
                share_over="Worse, %", low_over="Worse from, %", high_over="Worse to, %"),
    ),
    title="Bedside category beside the computed one and blind reads",
    first_columns=("standard", "assessor", "against", "assessments", "under", "alike", "over", "share_under",
                   "share_over"),
)  # fmt: skip


OXYTOCIN = TableDefinition(
    "oxytocin",
    (
        Column("group", "Month", Kind.CODE),
        *numbers(labours="Labours on oxytocin"),
        *numbers(1, hours="Hours on it"),
        *shares(
            share_tachysystole="In tachysystole, % of hours", low_tachysystole="From, %", high_tachysystole="To, %"
        ),
        *numbers(increases_in_concern="Increases in a concern", increased_in="In labours"),
        *numbers(concern_waits="Concerns on it", concern_reduced="Reduced or stopped before they ended"),
        *shares(concern_share="Reduced, %", concern_low="Reduced from, %", concern_high="Reduced to, %"),
        *numbers(0, concern_half_min="Half reduced within, min"),
        *numbers(tachysystole_waits="Times of tachysystole on it", tachysystole_reduced="Reduced in these"),
        *numbers(0, tachysystole_half_min="Half of these within, min"),
    ),
    title="Oxytocin",
    first_columns=("group", "labours", "share_tachysystole", "increases_in_concern", "concern_waits", "concern_share"),
)
LEARNING = TableDefinition("learning", (Column("case_id", "Case", width="small"), Column("reasons", "Why")))
ACT_EFFECT = TableDefinition(
    "act_effect",
    (
        Column("act", "Act", Kind.CODE),
        Column("measure", "What", value=lambda row: MEASURE_WORDS[row["measure"]]),
        *numbers(acts="Acts", labours="Labours"),
        *numbers(None, change="After less before", low="From", high="To", random="At random moments",
                 random_low="Random from", random_high="Random to"),
    ),
    title="Did the act help?",
    empty="No act with half an hour of tracing on both sides.",
    first_columns=("act", "measure", "labours", "change", "low", "high", "random"),
)  # fmt: skip
COVERAGE = TableDefinition(
    "shares_of_births",
    (
        Column("what", "Of the unit's births"),
        *numbers(count="Number", births="Births"),
        *shares(share="Share, %", low="From, %", high="To, %"),
    ),
    title="Of the unit's births",
)


def timeline_rows(wait: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The parts of one wait as rows of its timeline: from_s, to_s, label, reached, longest."""
    came = [part["since"] for part in wait["parts"][1:]] + [None]
    return [
        {
            "from_s": part["from_s"],
            "to_s": part["to_s"],
            "label": _part_words(part, next_step),
            "reached": part["end"] == "reached",
            "longest": part["until"] == wait["longest"],
        }
        for part, next_step in zip(wait["parts"], came, strict=True)
    ]


def timeline_title(wait: Mapping[str, Any]) -> str:
    """What a timeline is of: the concern, when its pattern began, and which part after recognition was longest."""
    start = hh_mm(wait["parts"][0]["from_s"])
    longest = "" if wait["longest"] is None else f"; longest (dark): {STEP_WORDS[wait['longest']]}"
    concern = f"{words_.words(wait['trigger'])} under {words_.standard_name(wait['standard'])}"
    return f"{concern}, pattern from {start}{longest}"


def timeline_words(wait: Mapping[str, Any]) -> str:
    """A timeline for who does not see it."""
    return f"{timeline_title(wait)}. Parts: " + "; ".join(row["label"] for row in timeline_rows(wait))


def _part_words(part: Mapping[str, Any], next_step: str | None) -> str:
    """How long was waited for a step, and what came instead of it."""
    minutes = part["minutes"]
    length = f"{minutes:.0f}" if minutes >= 9.95 else f"{minutes:.1f}"
    if part["end"] == "reached":
        return f"{STEP_WORDS[part['until']]}: {length} min"
    instead = STEP_WORDS[next_step] if part["end"] == "passed_over" and next_step else END_WORDS[part["end"]]
    return f"{STEP_WORDS[part['until']]}: not in {length} min ({instead})"


def parts_of_case(waits: list[dict[str, object]]) -> list[dict[str, object]]:
    """The parts of a case's waits as rows of `PARTS_OF_CASE`."""
    return [
        {**part, "standard": wait["standard"], "trigger": wait["trigger"], "longest": wait["longest"]}
        for wait in waits
        for part in wait["parts"]  # type: ignore[attr-defined]
    ]
