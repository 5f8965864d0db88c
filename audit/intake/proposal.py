"""A mapping that is proposed: what of a file is sure, what has to be asked, and how both are shown to a person."""

import re
from dataclasses import dataclass, field
from typing import Any

from audit.intake.door.shape import shape
from audit.intake.formats.conversions import value
from audit.intake.formats.tables import REQUIRED


@dataclass
class Proposal:
    """A mapping as far as it is sure, and what has to be answered by a person."""

    kind: str = ""
    columns: dict[str, str] = field(default_factory=dict)  # ours -> their heading
    places: dict[str, int] = field(default_factory=dict)  # ours -> place in the file, from 0
    units: dict[str, str] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)  # of events
    no_signal: tuple[str, ...] = ()
    date_order: str = "dmy"
    lines_before_header: int = 0
    read_as: str = ""  # delimiter, decimal mark and encoding in a sentence
    questions: list[str] = field(default_factory=list)
    zone_asked: bool = False
    time_zone: str = ""
    asked_columns: set[str] = field(default_factory=set)
    rows: list[list[str]] = field(default_factory=list)
    decimal: str = "."

    @property
    def open_questions(self) -> list[str]:
        """What has to be answered before a file can be read so."""
        zone = (
            ["the time zone of the clock (`--time-zone Europe/Paris`)"]
            if self.zone_asked and not self.time_zone
            else []
        )
        return [*self.questions, *zone]

    @property
    def ready(self) -> bool:
        """Whether what is proposed can be read without an answer: what is not known is only left out."""
        needed = {name for name in REQUIRED.get(self.kind, ("kind",)) if name != "toco"}
        return needed <= set(self.columns) and bool(self.read_as) and (not self.zone_asked or bool(self.time_zone))

    def toml(self, name: str) -> str:
        """The mapping as it would stand in the unit's settings."""
        lines = [f"[import.mapping.{name}]", f'kind = "{self.kind}"']
        if self.date_order != "dmy":
            lines.append(f'date_order = "{self.date_order}"')
        if self.time_zone:
            lines.append(f"time_zone = {_quoted(self.time_zone)}")
        if self.lines_before_header:
            lines.append(f"lines_before_header = {self.lines_before_header}")
        if self.no_signal:
            lines.append(f"no_signal = [{', '.join(map(_quoted, self.no_signal))}]")
        parts = {"columns": self.columns, "units": self.units, "words.event": self.words}
        for part, values in parts.items():
            if values:
                lines += [f"[import.mapping.{name}.{part}]"]
                lines += [f"{_quoted(key)} = {_quoted(value)}" for key, value in values.items()]
        return "\n".join(lines) + "\n"


def shown(found: Proposal) -> list[str]:
    """What is proposed, the first rows before and after, and what must be answered; no typed word is repeated."""
    lines = [f"This looks like {found.kind.replace('_', ' ') or 'none of the known kinds'}, {found.read_as}."]
    for column, name in found.columns.items():
        unit = found.units.get(column)
        lines.append(
            f"  {column} from column {found.places[column] + 1} ({name}){f', given in {unit}' if unit else ''}"
        )
    for number, row in enumerate(found.rows, start=1):
        cells = [f"{column}: {_told(column, row[k], found)}" for column, k in found.places.items()]
        lines.append(f"  row {number}: {'; '.join(cells)}")
    lines += [f"To be answered: {question}." for question in found.open_questions]
    return lines


def _told(column: str, cell: str, found: Proposal) -> str:
    """A cell before and after: numbers as they are, other things by their form."""
    number = re.fullmatch(r"[+-]?\d{1,6}(?:[.,]\d{1,4})?|\d{2} ?\+ ?\d", cell.strip())
    if column in ("case_id", "period", "t_s", "at_s", "birth_s", "event") or not number:
        after: Any = found.words.get(cell.strip()) or {
            "period": "its month",
            "case_id": "the code, or a pseudonym",
        }.get(column)
        return f"{shape(cell)} becomes {after}" if after else shape(cell)
    after = value(cell, column, found.units.get(column), found.decimal)
    return f"{cell.strip()} becomes {after:g}" if isinstance(after, float) else f"{cell.strip()} becomes {after}"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
