"""What a file of several tables, or of another format, comes apart into: tables of our own kinds."""

from dataclasses import dataclass
from io import BytesIO

import pyarrow as pa
import pyarrow.parquet as pq

from audit.setting_tables.intake import ImportOptions, plain_word
from audit.vocabulary import CARE_EVENTS
from audit.words import counted


@dataclass(frozen=True)
class Part:
    """One table. `place`: where it stood, never by a typed name; `said`: what of it is not stored, in sentences."""

    place: str
    ending: str  # of the plain file it is written to: '.csv' or '.parquet'
    data: bytes
    said: tuple[str, ...] = ()


def table_part(place: str, columns: dict[str, object], said: tuple[str, ...] = ()) -> Part:
    """A part from columns of equal length: arrays, or lists with None where there is no value."""
    sink = BytesIO()
    pq.write_table(pa.table(columns), sink)
    return Part(place, ".parquet", sink.getvalue(), said)


def event_words(options: ImportOptions) -> frozenset[str]:
    """The words that stand for a care event, as `plain_word` compares them: the contract's and the unit's own."""
    return frozenset(plain_word(word) for word in (*CARE_EVENTS, *options.event_words))


def events_part(case_id: str, events: list[tuple[float, str]], options: ImportOptions, what: str) -> Part | None:
    """The remarks of a recording that are care events, with how many others are left where they are; None if none is.

    `events`: time in s from the first sample, and what was written there. `what`: what the format calls one.
    """
    words = event_words(options)
    kept = [(at_s, text) for at_s, text in events if plain_word(text) in words]
    left = len(events) - len(kept)
    if not kept:
        return None
    said = (f"{counted(left, what, are=True)} no care event that is known, and not stored",) if left else ()
    columns = {
        "case_id": [case_id] * len(kept),
        "at_s": [at_s for at_s, _ in kept],
        "event": [text for _, text in kept],
    }
    return table_part("annotations", dict(columns), said)
