"""Rows of a care events file: when what was done, under the contract's names or the unit's own words for them."""

from dataclasses import dataclass
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.codes import as_code, bad_event_id
from audit.intake.checks.fields import BadValue, refuse_calendar_times
from audit.intake.checks.rows import BadRow, case_of, checked_rows, time_of
from audit.intake.door import words as known
from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.tables import SmallTable
from audit.setting_tables.intake import ImportOptions, plain_word
from audit.settings import Settings
from audit.vocabulary import CARE_EVENTS

EventKey = tuple[float, str, str, int]  # time, event, detail or "", urgency or 0
DECISION = "decision_for_birth"


@dataclass(frozen=True)
class EventRow:
    """One checked event. `detail` is None unless the unit keeps details; `urgency` is coded, and kept always."""

    case_id: str
    at_s: float
    event: str
    detail: str | None
    row_number: int
    urgency: int | None = None
    event_id: str | None = None  # the source's own key

    @property
    def key(self) -> EventKey:
        """What makes two events of a case the same."""
        return self.at_s, self.event, self.detail or "", self.urgency or 0


def read_events(table: SmallTable, remarks: Remarks, settings: Settings) -> list[EventRow]:
    """The rows that can be stored, each event once."""
    options = settings.import_
    refuse_calendar_times(table, options.calendar_from_s)
    named = {**{name: name for name in CARE_EVENTS}, **options.event_words}
    words = {plain_word(word): name for word, name in named.items()}
    read = checked_rows(table, remarks, lambda values, number: _read_row(values, number, words, remarks, options))
    rows: list[EventRow] = []
    seen: dict[tuple[str, EventKey], int] = {}
    ids: dict[tuple[str, str, str], int] = {}
    for row in read:
        number = row.row_number
        first = seen.setdefault((row.case_id, row.key), number)
        same = ids.setdefault((row.case_id, row.event, row.event_id), number) if row.event_id else number
        if first != number:
            remarks.reject_row(number, f"found the same event as in row {first}, expected it once", "event", row.event)
        elif same != number:
            said = f"found the key of row {same} at another time, expected one time of an event"
            remarks.reject_row(number, said, "event_id", row.event_id)
        else:
            rows.append(row)
    details = dict(zip(table.row_numbers, table.columns.get("detail", [])))
    dropped = sum(row.detail is None and not fields.is_none(details.get(row.row_number)) for row in read)
    if dropped:
        why = "words that are not known" if options.store_detail else "free text may identify; see import.store_detail"
        remarks.message(f"{dropped:,} details were not stored ({why})")
    return rows


def _read_row(
    values: dict[str, Any], number: int, words: dict[str, str], remarks: Remarks, options: ImportOptions
) -> EventRow:
    case_id = case_of(values, remarks)
    at_s = time_of("at_s", values, options.earliest_event_s, options.latest_s)
    word = "" if fields.is_none(values["event"]) else fields.as_text(values["event"])
    event = words.get(plain_word(word))
    if event is None:
        raise BadRow(
            f"found {shape(word)}, expected one of {', '.join(CARE_EVENTS)}; map a word of your own in"
            " [import.event_words]"
            if word
            else "found no event, expected its name",
            "event",
            word or None,
        )
    detail = _detail(values.get("detail"), options)
    urgency = _urgency(event, values, number, remarks)
    return EventRow(case_id, at_s, event, detail, number, urgency, _event_id(values.get("event_id"), number, remarks))


def _event_id(value: Any, number: int, remarks: Remarks) -> str | None:
    typed = as_code(value)
    reason = bad_event_id(typed)
    if reason is not None:
        remarks.reject_value(number, "event_id", typed, reason)
        return None
    return remarks.event_id(typed) if typed else None


def _urgency(event: str, values: dict[str, Any], number: int, remarks: Remarks) -> int | None:
    """The urgency of a decision, from its column or else from a detail that says nothing but an urgency."""
    given = values.get("urgency")
    try:
        urgency = fields.as_urgency(given)
    except BadValue as error:
        remarks.reject_value(number, "urgency", given, str(error))
        return None
    if event != DECISION:
        if urgency is not None:
            remarks.reject_value(number, "urgency", given, f"found an urgency for {event}, expected it for {DECISION}")
        return None
    if urgency is not None:
        return urgency
    try:
        return fields.as_urgency(values.get("detail"))
    except BadValue:
        return None


def _detail(value: Any, options: ImportOptions) -> str | None:
    if not options.store_detail or fields.is_none(value):
        return None
    return known.detail(fields.as_text(value))
