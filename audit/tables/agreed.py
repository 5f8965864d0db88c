"""Tables of what the meeting agreed on clocks, beside the computed ones."""

from collections.abc import Sequence

from audit import words as words_
from audit.questions.agreed import CHANGES
from audit.tables.definition import Column, Kind, TableDefinition, numbers, texts
from audit.tables.episodes import CASE, FETUS, PERIOD, RECOGNISABLE, RESPONSE_EVENT, STANDARD, TARGET, TO_RESPONSE

NO_CONCERN = "no_concern"


def status_words(status: str) -> str:
    """How an agreed clock ended, in words."""
    return "nothing to answer" if status == NO_CONCERN else words_.status_words(status)


def computed_words(statuses: Sequence[str]) -> str:
    """How the computed clocks ended, in words."""
    return ", ".join(words_.status_words(name) for name in statuses) or "no concern"


AGREED = TableDefinition(
    "agreed_clocks",
    (
        CASE, FETUS, PERIOD, STANDARD,
        Column("category", "Agreed category"),
        RECOGNISABLE,
        Column("computed_recognisable_s", "Recognisable as computed", Kind.CLOCK),
        *numbers(1, minutes_later="Agreed later by, min"),
        RESPONSE_EVENT, TO_RESPONSE, TARGET,
        Column("status", "As agreed", value=lambda row: None if row["status"] is None else status_words(row["status"]),
               missing="left open"),
        Column("computed", "As computed", value=lambda row: computed_words(row["computed_statuses"])),
        Column("change", "Delayed", value=lambda row: CHANGES.get(row["change"]), missing="not decided"),
        *texts(Kind.CODE, reason="Reason"),
        *numbers(struck_out="Events struck out", added="Events added"),
    ),
    title="The meeting's own clock",
    empty="No meeting has agreed on a clock.",
)  # fmt: skip
AGREED_ON_TERMINAL = AGREED.only(
    "case_id", "standard", "category", "recognisable_s", "minutes_later", "response_event", "minutes_to_response",
    "target_minutes", "status", "change",
)  # fmt: skip
RUN_AGAIN = TableDefinition(
    "run_again",
    (
        STANDARD,
        Column("trigger", "Concern", Kind.CODE),
        RECOGNISABLE, RESPONSE_EVENT, TO_RESPONSE, TARGET,
        Column("status", "How it ended", Kind.STATUS),
    ),
    empty="Without these events no concern is left.",
)  # fmt: skip
