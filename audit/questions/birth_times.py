"""From decision to birth over many labours: minutes per labour, and the share within the published 30 and 75 minutes.

No mean of intervals is given: a few very long ones are real and would decide it.
"""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from audit.measures.proportions import LEVEL, wilson_interval
from audit.response.birth_intervals import LIMITS_MIN, beside_published, birth_interval
from audit.response.types import CareEvent
from audit.store import database
from audit.store.database import Record, records

NOT_GIVEN = "not given"
EVERY = "all"
CAESAREAN, OTHER = "caesarean", "other than caesarean"
SOURCE = "NICE NG192 (30 and 75 minutes from decision to birth by caesarean; from memory)"


def births_decided(con: database.Connection, period: str | None) -> list[Record]:
    """`birth_times` of a month of birth, those of merged summaries last; None = all, NO_MONTH = cases without one."""
    own = birth_times(records(con, "response/birth_events", {"period": period, "case_id": None}))
    return own + [_told(row) for row in records(con, "summaries/births", {"period": period})]


def _told(row: Record) -> Record:
    """A labour of a merged summary: no case, no moment, only how long it took."""
    minutes = row["minutes"]
    return {
        "case_id": None, "period": row["period"], "shift": None,
        "mode_of_birth": None if row["kind_of_birth"] == NOT_GIVEN else row["kind_of_birth"],
        "decision_s": None, "decision_to_incision_minutes": None, "decision_to_birth_minutes": minutes, "note": None,
        **beside_published(minutes, row["urgency"]),
    }  # fmt: skip


def birth_times(events: Sequence[Record]) -> list[Record]:
    """Decision to incision and to birth, one record per labour with a noted decision.

    `events`: records of the query `response/birth_events`, rows of one labour together.
    Gives records: case_id, period, shift, mode_of_birth and the fields of `BirthInterval` (s, minutes); None = unknown.
    """
    found = []
    for case_id, rows in groupby(events, key=lambda row: row["case_id"]):
        own = list(rows)
        acts = [CareEvent(at_s=row["at_s"], event=row["event"], urgency=row["urgency"]) for row in own]
        interval = birth_interval(acts, birth_s=own[0]["birth_s"])
        if interval is not None:
            head = {name: own[0][name] for name in ("period", "shift", "mode_of_birth")}
            found.append({"case_id": case_id, **head, **vars(interval)})
    return found


def shares_within(labours: Sequence[Record]) -> list[dict[str, Any]]:
    """Share born within 30 and within 75 minutes of the decision, by kind of birth and urgency, caesareans first.

    `labours`: records of `birth_times`.
    Gives rows: urgency, births, labours, known (birth interval known), unknown, and for each limit within_M, share_M,
    low_M, high_M (0 to 1, of the known; Wilson 95 % interval; None where none is known). Caesareans of more than one
    urgency have a row for all of them. Empty for no labours.

    The published minutes are for caesarean births, so births of another kind are never counted with them.
    Source: NICE NG192, from memory. Wilson: Newcombe, Stat Med 1998;17:857-72.
    """
    rows = []
    for births in (CAESAREAN, OTHER, NOT_GIVEN):
        own = [row for row in labours if kind_of_birth(row) == births]
        urgencies = sorted({urgency_words(row["urgency"]) for row in own}, key=lambda name: (name == NOT_GIVEN, name))
        for urgency in urgencies:
            rows.append(_shares(urgency, births, [row for row in own if urgency_words(row["urgency"]) == urgency]))
        if births == CAESAREAN and len(urgencies) > 1:
            rows.append(_shares(EVERY, births, own))
    return rows


def kind_of_birth(row: Record) -> str:
    """Caesarean, another kind, or not given."""
    mode = row["mode_of_birth"]
    return NOT_GIVEN if mode is None else CAESAREAN if mode == CAESAREAN else OTHER


def _shares(urgency: str, births: str, labours: Sequence[Record]) -> dict[str, Any]:
    known = [row for row in labours if row["decision_to_birth_minutes"] is not None]
    found: dict[str, Any] = {
        "urgency": urgency, "births": births, "labours": len(labours), "known": len(known),
        "unknown": len(labours) - len(known),
    }  # fmt: skip
    for limit in LIMITS_MIN:
        within = sum(bool(row[f"within_{limit}"]) for row in known)
        low, high = wilson_interval(within, len(known), LEVEL) if known else (None, None)
        share = within / len(known) if known else None
        found |= {f"within_{limit}": within, f"share_{limit}": share, f"low_{limit}": low, f"high_{limit}": high}
    return found


def urgency_words(urgency: int | None) -> str:
    """A category of urgency in words."""
    return NOT_GIVEN if urgency is None else f"category {urgency}"


def longest_first(labours: Sequence[Record]) -> list[Record]:
    """The labours that are here by their interval from decision to birth; those whose interval is not known last."""
    return sorted(
        (row for row in labours if row["case_id"]), key=lambda row: -(row["decision_to_birth_minutes"] or 0.0)
    )
