"""Waits and outcomes by band in the annual report, where the unit switched it on."""

from collections.abc import Mapping
from typing import Any

from audit.pack.model import Section
from audit.questions.equity import CAUTION
from audit.tables import equity as tables


def sections(found: Mapping[str, Any] | None) -> list[Section]:
    """One section with a table a field, on slides one row a band; nothing where it is off or no case has a band."""
    if found is None or not found["fields"]:
        return []
    words = (CAUTION, tables.hidden_words(found["min_cell"]))
    in_full, short = (tuple(map(make, found["fields"])) for make in (tables.of_field, tables.short_of_field))
    return [Section(title="Equity", paragraphs=words, tables=in_full, on_slides=short)]
