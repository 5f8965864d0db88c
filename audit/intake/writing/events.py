"""Put checked care events into the store."""

import hashlib
from collections.abc import Sequence
from dataclasses import replace as replace_in
from typing import Any

from audit.intake.checks.care_events import EventKey, EventRow
from audit.intake.checks.times import about_clocks, about_events
from audit.intake.door.report import Stored
from audit.intake.writing.ledger import Into, Ledger
from audit.intake.writing.tracings import birth_against_tracing
from audit.store import database

_KEY = ("at_s", "event", "detail", "urgency")
SAME_BIRTH_S = 60.0  # a birth event this near to the case's birth time is the same birth; our choice


def write_events(rows: Sequence[EventRow], into: Into) -> Stored:
    """Store the events.

    An event that is stored already is left as it is, others are added; a decision that was stored without its urgency
    takes it. An event whose key is stored for its case and kind with another time takes the other's place, unless its
    file was taken before: then what came later stays. With `replace` a case's events are those that this import
    brings; what it had before goes.
    """
    stored, ledger, remarks, replace = Stored(), into.ledger, into.remarks, into.replace
    of_file = ledger.files.get(into.sha256)
    offered_before = of_file is not None and of_file.rows_accepted > 0
    by_case: dict[str, list[EventRow]] = {}
    for row in rows:
        by_case.setdefault(row.case_id, []).append(row)
    before = _stored_events(into.con, list(by_case))
    new: list[EventRow] = []
    brought: list[str] = []
    gone_from: list[tuple[str, EventKey]] = []
    births_after_end_s: list[float] = []
    corrected = 0
    for case_id, events in by_case.items():
        stored_ids = before.get(case_id, {})
        known = set(stored_ids)
        former: dict[EventKey, EventKey] = {}
        if not replace:
            events, former = _corrections(events, stored_ids)
        if offered_before and former:
            corrected += len(former)
            events, former = [row for row in events if row.key not in former], {}
        fitting = _fitting(case_id, events, set() if replace else known - set(former.values()), into)
        gone = _gone(ledger, case_id, known, {row.key for row in fitting}) if replace and fitting else set()
        gone |= {former[row.key] for row in fitting if row.key in former}
        gone |= {row.key for row in fitting if row.key in known and _takes_key(row, stored_ids[row.key], replace)}
        gone |= {bare for row in fitting if row.urgency and (bare := _without_urgency(row.key)) in known}
        if gone:
            gone_from += [(case_id, key) for key in sorted(gone)]
            left = {row.key for row in fitting} | (known - gone)
            into.add_history(case_id, "A", "care_events", _sha(known), _sha(left))
            stored.replaced += 1
        told = set() if replace else {_without_urgency(key) for key in known - gone}
        added = [row for row in fitting if row.key not in known - gone and (row.urgency or row.key not in told)]
        new += added
        stored.accepted += len(fitting)
        stored.new += len(added)
        ledger.fresh |= {("care_events", case_id, row.key) for row in fitting}
        if fitting:
            brought.append(case_id)
        span = ledger.case_span_s(case_id)
        births_after_end_s += [row.at_s - span[1] for row in fitting if row.event == "birth" and span is not None]
    keys = [{"case_id": each, **dict(zip(_KEY, key, strict=True))} for each, key in gone_from]
    into.put("intake/remove_events", keys)
    unknown = into.add_stubs(brought)
    into.put("intake/add_events", [_row(row) | {"import_id": into.import_id} for row in new])
    stored.accepted += corrected
    if corrected:
        remarks.message(f"{corrected} of its events were corrected by a later file, which stays")
    remarks.message(about_clocks(births_after_end_s))
    if unknown:
        remarks.message(f"{len(unknown)} case{'s are' if len(unknown) > 1 else ' is'} not in any cases file yet")
    return stored


def _fitting(case_id: str, events: list[EventRow], known: set[EventKey], into: Into) -> list[EventRow]:
    """The events that fit the case's birth; the others are rejected."""
    case, remarks = into.ledger.cases.get(case_id), into.remarks
    births = sorted({row.at_s for row in events if row.event == "birth"} | {k[0] for k in known if k[1] == "birth"})
    most = max(1, (case.plurality or 1) if case is not None else 1)
    stated = case.birth_s if case is not None else None
    birth_s = stated if stated is not None else (births[-1] if births else None)
    kept = []
    for row in events:
        if row.event == "birth" and len(births) > most and row.key not in known:
            reason = f"found births at {', '.join(f'{b:g}' for b in births)} s for a case of {most}, expected {most}"
            remarks.reject_row(row.row_number, reason, "event", row.event)
            continue
        if birth_s is not None and not _near_birth(row, birth_s, into):
            continue
        if row.event == "birth" and stated is not None and most == 1 and abs(row.at_s - stated) > SAME_BIRTH_S:
            odd = f"found birth at {row.at_s:g} s, the cases row says {stated:g} s"
            remarks.flag(row.row_number, "at_s", row.at_s, odd)
        kept.append(row)
    span = into.ledger.case_span_s(case_id)
    if span is not None and kept:
        remarks.flag(kept[0].row_number, "at_s", kept[0].at_s, about_events([row.at_s for row in kept], span))
        for row in kept:
            if row.event == "birth" and stated is None:
                remarks.flag(row.row_number, "at_s", row.at_s, birth_against_tracing(row.at_s, span, into.options))
    return kept


def _near_birth(row: EventRow, birth_s: float, into: Into) -> bool:
    hours = (row.at_s - birth_s) / 3600.0
    if hours > into.options.event_after_birth_kept_h:
        found = f"found {row.event} at {row.at_s:g} s, {hours:.1f} h after birth at {birth_s:g} s"
        reason = f"{found}, expected it before or soon after birth"
        into.remarks.reject_row(row.row_number, reason, "at_s", row.at_s)
        return False
    if hours > into.options.event_after_birth_usual_h:
        late = f"found {row.event} {hours:.1f} h after birth at {birth_s:g} s"
        into.remarks.flag(row.row_number, "at_s", row.at_s, late)
    return True


def _gone(ledger: Ledger, case_id: str, known: set[EventKey], keys: set[EventKey]) -> set[EventKey]:
    return {key for key in known - keys if ("care_events", case_id, key) not in ledger.fresh}


def _corrections(
    events: list[EventRow], stored: dict[EventKey, str | None]
) -> tuple[list[EventRow], dict[EventKey, EventKey]]:
    """The events, and what some take the place of: that of the same kind and key which is stored otherwise.

    An event that comes again without its urgency or detail keeps what is stored of them.
    """
    by_id = {(key[1], event_id): key for key, event_id in stored.items() if event_id is not None}
    rows: list[EventRow] = []
    former: dict[EventKey, EventKey] = {}
    for row in events:
        known = by_id.get((row.event, row.event_id or ""))
        if known is not None:
            row = replace_in(row, detail=row.detail or known[2] or None, urgency=row.urgency or known[3] or None)
            if known != row.key:
                former[row.key] = known
        rows.append(row)
    return rows, former


def _takes_key(row: EventRow, stored_id: str | None, replace: bool) -> bool:
    """An event that is stored already takes the key that it comes with now."""
    return row.event_id is not None and row.event_id != stored_id and (stored_id is None or replace)


def _without_urgency(key: EventKey) -> EventKey:
    return (*key[:3], 0)


def _stored_events(con: database.Connection, case_ids: list[str]) -> dict[str, dict[EventKey, str | None]]:
    found: dict[str, dict[EventKey, str | None]] = {}
    for row in database.records(con, "intake/events_of", {"case_ids": case_ids}):
        key = row["at_s"], row["event"], row["detail"] or "", row["urgency"] or 0
        found.setdefault(row["case_id"], {})[key] = row["event_id"]
    return found


def _row(row: EventRow) -> dict[str, Any]:
    return {name: getattr(row, name) for name in ("case_id", *_KEY, "event_id")}


def _sha(keys: set[EventKey]) -> str:
    return hashlib.sha256(repr(sorted(keys)).encode()).hexdigest()
