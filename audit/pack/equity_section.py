"""Waits and outcomes by band in the annual report, where the unit switched it on."""

from collections.abc import Mapping
from typing import Any

from audit.pack.model import Section
from audit.questions.equity import CAUTION
from audit.tables import equity as tables


def sections(found: Mapping[str, Any] | None) -> list[Section]:
    """One section with a table a field; nothing where it is off or no case has a band."""
    if found is None or not found["fields"]:
        return []
    words = (CAUTION, tables.hidden_words(found["min_cell"]))
    return [Section(title="Equity", paragraphs=words, tables=tuple(map(tables.of_field, found["fields"])))]
