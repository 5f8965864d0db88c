"""Rows of a care events file: when what was done, under the contract's names or the unit's own words for them."""

from dataclasses import dataclass
from typing import Any

from audit.intake.checks import fields
from audit.intake.checks.codes import as_code, bad_case_id
from audit.intake.checks.fields import BadValue, refuse_calendar_times
from audit.intake.door import words as known
from audit.intake.door.remarks import Remarks
from audit.intake.door.shape import shape
from audit.intake.formats.tables import SmallTable
from audit.setting_tables.intake import ImportOptions, plain_word
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

    @property
    def key(self) -> EventKey:
        """What makes two events of a case the same."""
        return self.at_s, self.event, self.detail or "", self.urgency or 0


def read_events(table: SmallTable, remarks: Remarks, options: ImportOptions) -> list[EventRow]:
    """The rows that can be stored, each event once."""
    refuse_calendar_times(table, options.calendar_from_s)
    named = {**{name: name for name in CARE_EVENTS}, **options.event_words}
    words = {plain_word(word): name for word, name in named.items()}
    rows: list[EventRow] = []
    seen: dict[tuple[str, EventKey], int] = {}
    dropped = 0
    for k, number in enumerate(table.row_numbers):
        row = _read_row({name: values[k] for name, values in table.columns.items()}, number, words, remarks, options)
        if row is None:
            continue
        dropped += row.detail is None and not fields.is_none(table.columns.get("detail", [None] * (k + 1))[k])
        first = seen.setdefault((row.case_id, row.key), number)
        if first != number:
            remarks.reject_row(number, f"found the same event as in row {first}, expected it once", "event", row.event)
        else:
            rows.append(row)
    if dropped:
        why = "words that are not known" if options.store_detail else "free text may identify; see import.store_detail"
        remarks.message(f"{dropped:,} details were not stored ({why})")
    return rows


def _read_row(
    values: dict[str, Any], number: int, words: dict[str, str], remarks: Remarks, options: ImportOptions
) -> EventRow | None:
    case_id = as_code(values["case_id"])
    reason = bad_case_id(case_id)
    if reason is not None:
        remarks.reject_row(number, reason, "case_id", case_id)
        return None
    case_id = remarks.case_id(case_id)
    at_s = _time(values["at_s"], number, remarks, options)
    if at_s is None:
        return None
    word = "" if fields.is_none(values["event"]) else fields.as_text(values["event"])
    event = words.get(plain_word(word))
    if event is None:
        remarks.reject_row(
            number,
            f"found {shape(word)}, expected one of {', '.join(CARE_EVENTS)}; map a word of your own in"
            " [import.event_words]"
            if word
            else "found no event, expected its name",
            "event",
            word or None,
        )
        return None
    detail = _detail(values.get("detail"), options)
    return EventRow(case_id, at_s, event, detail, number, _urgency(event, values, number, remarks))


def _time(value: Any, number: int, remarks: Remarks, options: ImportOptions) -> float | None:
    low, high = options.earliest_event_s, options.latest_s
    try:
        at_s = fields.as_number(value)
        if at_s is None:
            raise BadValue("found no time, expected seconds from the case's first sample")
        fields.check_range("at_s", at_s, low, high)
    except BadValue as error:
        remarks.reject_row(number, str(error), "at_s", value)
        return None
    return at_s


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
