"""Tables of what the meeting agreed on clocks, beside the computed ones."""

from collections.abc import Sequence

from audit import words as words_
from audit.questions.agreed import CHANGES
from audit.tables.definition import Column, Kind, Row, TableDefinition, numbers, texts
from audit.tables.episodes import (
    CASE,
    FETUS,
    PERIOD,
    RECOGNISABLE,
    RESPONSE_EVENT,
    STANDARD,
    TARGET,
    TO_RESPONSE,
    case_and_fetus,
)

NO_CONCERN = "no_concern"


def status_words(status: str) -> str:
    """How an agreed clock ended, in words."""
    return "nothing to answer" if status == NO_CONCERN else words_.status_words(status)


def computed_words(statuses: Sequence[str]) -> str:
    """How the computed clocks ended, in words."""
    return ", ".join(words_.status_words(name) for name in statuses) or "no concern"


def _agreed_status(row: Row) -> str | None:
    return None if row["status"] is None else status_words(row["status"])


def _done(row: Row) -> str | None:
    """What answered; words for none only where there was something to answer."""
    if row["response_event"] is None:
        return "none recorded" if row["status"] == "none_recorded" else None
    return words_.words(row["response_event"])


_WHAT_WAS_DONE = Column("response_event", "What was done", value=_done)


def _under_standard(row: Row) -> str:
    return f"{words_.standard_name(row['standard'])} {row['category'] or ''}".strip()


AGREED = TableDefinition(
    "agreed_clocks",
    (
        CASE, FETUS, PERIOD, STANDARD,
        Column("category", "Agreed category"),
        RECOGNISABLE,
        Column("computed_recognisable_s", "Recognisable as computed", Kind.CLOCK),
        *numbers(1, minutes_later="Agreed later by, min"),
        _WHAT_WAS_DONE, TO_RESPONSE, TARGET,
        Column("status", "As agreed", value=_agreed_status, missing="left open"),
        Column("computed", "As computed", value=lambda row: computed_words(row["computed_statuses"])),
        Column("change", "Delayed", value=lambda row: CHANGES.get(row["change"]), missing="not decided"),
        *texts(Kind.CODE, reason="Reason"),
        *numbers(struck_out="Events struck out", added="Events added"),
    ),
    title="The meeting's own clock",
    first_columns=(
        "case_id",
        "category",
        "recognisable_s",
        "response_event",
        "minutes_to_response",
        "target_minutes",
        "status",
    ),
    empty="No meeting has agreed on a clock.",
)  # fmt: skip
_IN_SHORT = {"unchanged": "as computed", "called_delayed": "agreed only", "cleared": "computed only"}
AGREED_ON_TERMINAL = TableDefinition(
    "agreed_clocks",
    (
        Column("case_id", "Case", width="small", value=case_and_fetus),
        Column("category", "Agreed", value=_under_standard),
        RECOGNISABLE,
        *numbers(1, minutes_later="Later"),
        _WHAT_WAS_DONE, TO_RESPONSE,
        Column("status", "As agreed", value=_agreed_status, missing="left open"),
        Column("change", "Delayed", value=lambda row: _IN_SHORT.get(row["change"]), missing="not decided"),
    ),
    empty=AGREED.empty,
)  # fmt: skip
ON_TERMINAL = (
    "From: recognisable as agreed, hh:mm from the first sample. Later: minutes by which that lies after the computed"
    " one. After: minutes. Delayed: late or unanswered, or not, as computed; or so under one of the two only."
)
RUN_AGAIN = TableDefinition(
    "run_again",
    (
        STANDARD,
        Column("trigger", "Concern", Kind.CODE),
        RECOGNISABLE, RESPONSE_EVENT, TO_RESPONSE, TARGET,
        Column("status", "How it ended", Kind.STATUS),
    ),
    empty="With these changes there is no concern.",
)  # fmt: skip
