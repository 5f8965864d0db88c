"""Which cases go into the pack: the month's agenda or, without one, the first cases worth discussing."""

from dataclasses import dataclass
from pathlib import Path

from audit.pack.options import PackOptions
from audit.people import agenda
from audit.questions import cases_to_discuss
from audit.settings import Settings
from audit.store import database


@dataclass(frozen=True)
class AgendaCase:
    """A case of the pack, with the question put to the meeting and the reasons it was found for.

    `outcome_reasons` tell how the case ended and go with the outcome, not before it.
    """

    case_id: str
    question: str | None
    from_agenda: bool
    reasons: tuple[str, ...] = ()
    outcome_reasons: tuple[str, ...] = ()


def agenda_of(
    db: Path, con: database.Connection, settings: Settings, period: str, options: PackOptions
) -> list[AgendaCase]:
    """The cases in the order of the meeting; at most `cases_most`, without an agenda `cases_without_agenda`."""
    items = agenda.items(db, period)
    found = {
        case["case_id"]: case["reasons"] for case in cases_to_discuss.document(con, settings, period=period)["cases"]
    }
    if items:
        listed = [(row["case_id"], row["question"]) for row in items[: options.cases_most]]
    else:
        listed = [(case_id, None) for case_id in list(found)[: options.cases_without_agenda]]
    return [
        AgendaCase(
            case_id,
            question,
            from_agenda=bool(items),
            reasons=tuple(reason["text"] for reason in found.get(case_id, ()) if not reason["of_outcome"]),
            outcome_reasons=tuple(reason["text"] for reason in found.get(case_id, ()) if reason["of_outcome"]),
        )
        for case_id, question in listed
    ]
