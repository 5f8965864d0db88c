"""Which cases go into the pack: the month's agenda or, without one, the first cases worth discussing."""

from dataclasses import dataclass
from pathlib import Path

from audit.pack.options import PackOptions
from audit.people import agenda
from audit.questions import cases_to_discuss
from audit.settings import Settings
from audit.store import database
from audit.tables.cases import MONTH_CASES
from audit.tables.definition import Table


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
    """The cases in the order of the meeting; at most `cases_most`, without an agenda `cases_without_agenda`.

    Without an agenda they are the first cases to discuss, deaths, cooling and encephalopathy among them, in the order
    of their ids: outcomes stand on pages of their own, and no order tells of them before. A pack that leaves outcomes
    out takes the first ones found without outcomes. The reasons beside the cases never tell how they ended.
    """
    items = agenda.items(db, period)
    told = _reasons(cases_to_discuss.document(con, settings, period=period))
    blind = _reasons(cases_to_discuss.document(con, settings, period=period, with_outcome=False))
    if items:
        listed = [(row["case_id"], row["question"]) for row in items[: options.cases_most]]
        drawn = {row["case_id"]: f"drawn at random from {row['drawn_from']} cases"
                 for row in items if row["drawn_from"] is not None}  # fmt: skip
    else:
        chosen = list(blind if options.outcome == "left_out" else told)[: options.cases_without_agenda]
        drawn = {}
        listed = [(case_id, None) for case_id in (chosen if options.outcome == "left_out" else sorted(chosen))]
    return [
        AgendaCase(
            case_id,
            question,
            from_agenda=bool(items),
            reasons=(
                *([drawn[case_id]] if case_id in drawn else []),
                *(reason["text"] for reason in blind.get(case_id, ())),
            ),
            outcome_reasons=tuple(reason["text"] for reason in told.get(case_id, ()) if reason["of_outcome"]),
        )
        for case_id, question in listed
    ]


def _reasons(found: database.Record) -> dict[str, list[database.Record]]:
    return {case["case_id"]: case["reasons"] for case in found["cases"]}


def month_table(con: database.Connection, settings: Settings, period: str) -> Table:
    """Every case of the month with the list it is on and why, as somebody finds them who does not know the outcomes."""
    found = cases_to_discuss.document(con, settings, period=period, with_outcome=False)
    rows = [
        {"case_id": case["case_id"], "list": "to discuss",
         "reason": "; ".join(reason["text"] for reason in case["reasons"])} for case in found["cases"]
    ]  # fmt: skip
    rows += [{**case, "list": "left out"} for case in found["left_out"]]
    return MONTH_CASES.filled([*rows, *found["others"]])
