"""A mapping that is proposed: what of a file is sure, what has to be asked, and how both are shown to a person."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Self

from audit.intake.door.headings import columns_of, plain_heading
from audit.intake.door.shape import shape
from audit.intake.formats.conversions import SECONDS, value
from audit.intake.formats.tables import REQUIRED

_MANY: Final = 12  # answers, which are listed once
ASKED: Final = "?"  # in place of a unit: a question stands for it


@dataclass(frozen=True)
class Choice:
    """One answer to a question: the mapping's key that it sets, the value, and what it says."""

    key: str
    value: str
    words: str

    def __str__(self) -> str:
        return f"{self.key}={self.value}"


class Question(str):
    """What has to be answered, with the answers that can be chosen, if any."""

    choices: tuple[Choice, ...] = ()

    @classmethod
    def of(cls, text: str, choices: Sequence[Choice]) -> Self:
        """A question with its answers."""
        question = cls(text)
        question.choices = tuple(choices)
        return question

    def options(self) -> str:
        """The answers as they are typed: each key with its values."""
        keys = dict.fromkeys(choice.key for choice in self.choices)
        return "; ".join(
            f"{key}={' | '.join(choice.value for choice in self.choices if choice.key == key)}" for key in keys
        )


@dataclass
class Proposal:
    """A mapping as far as it is sure, and what has to be answered by a person."""

    kind: str = ""
    columns: dict[str, str] = field(default_factory=dict)  # ours, or `ours.FETUS` -> their heading
    places: dict[str, int] = field(default_factory=dict)  # ours -> place in the file, from 0
    units: dict[str, str] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)  # of events
    no_signal: tuple[str, ...] = ()
    date_order: str = "dmy"
    lines_before_header: int = 0
    read_as: str = ""  # delimiter, decimal mark and encoding in a sentence
    questions: list[Question] = field(default_factory=list)  # with choices: `Question`
    answers: dict[str, str] = field(default_factory=dict)  # of a person: key of the mapping -> value
    answered: list[Question] = field(default_factory=list)
    used: set[str] = field(default_factory=set)  # keys of the answers that answered something
    or_since: list[Question] = field(default_factory=list)  # of what was taken for a clock and may be lengths
    samples_per_s: float = 0.0
    zone_asked: bool = False
    time_zone: str = ""
    case_id_from_file: str = ""  # pattern that finds the case id in the file's name
    asked_columns: set[str] = field(default_factory=set)
    rows: list[list[str]] = field(default_factory=list)
    decimal: str = "."

    def answer(self, text: str, choices: Sequence[Choice]) -> str | None:
        """What a person has answered to a question; None, and nothing asked, where nobody has."""
        for choice in choices:
            if self.answers.get(choice.key) == choice.value:
                if text not in self.answered:
                    self.answered.append(Question.of(text, choices))
                self.used.add(choice.key)
                return choice.value
        return None

    def ask(self, text: str, choices: Sequence[Choice] = ()) -> str | None:
        """The same; where nobody has answered it, it is asked."""
        said = self.answer(text, choices)
        if said is None and text not in self.questions:
            self.questions.append(Question.of(text, choices))
        return said

    @property
    def open_questions(self) -> list[Question]:
        """What has to be answered before a file can be read so."""
        text = "the time zone of the clock (`--time-zone Europe/Paris`)"
        if self.time_zone or not self.zone_asked:
            return self.questions
        return [*self.questions, Question.of(text, [each.choices[-1] for each in self.or_since])]

    @property
    def to_choose(self) -> list[Question]:
        """The questions that can be answered by a choice, answered or not."""
        found = {str(each): each for each in (*self.or_since, *self.questions, *self.answered)}
        return [each for each in found.values() if each.choices]

    @property
    def stored(self) -> set[str]:
        """Our columns that are proposed; one that each fetus has a column for stands once."""
        of_name = {"case_id"} if self.case_id_from_file else set()
        return {column.partition(".")[0] for column in self.columns} | of_name

    @property
    def ready(self) -> bool:
        """Whether what is proposed can be read without an answer: what is not known is only left out."""
        needed = {name for name in REQUIRED.get(self.kind, ("kind",)) if name != "toco"}
        return needed <= self.stored and bool(self.read_as) and (not self.zone_asked or bool(self.time_zone))

    def toml(self, name: str) -> str:
        """The mapping as it would stand in the unit's settings."""
        lines = [f"[import.mapping.{name}]", f'kind = "{self.kind}"']
        if self.date_order != "dmy":
            lines.append(f'date_order = "{self.date_order}"')
        if self.time_zone:
            lines.append(f"time_zone = {_quoted(self.time_zone)}")
        if self.case_id_from_file:
            lines.append(f"case_id_from_file = {_quoted(self.case_id_from_file)}")
        if self.lines_before_header:
            lines.append(f"lines_before_header = {self.lines_before_header}")
        if self.samples_per_s:
            lines.append(f"samples_per_s = {self.samples_per_s}")
        if self.no_signal:
            lines.append(f"no_signal = [{', '.join(map(_quoted, self.no_signal))}]")
        columns = {column: name for column, name in self.columns.items() if "." not in column}
        parts = {"columns": columns, "units": self.units, "words.event": self.words}
        for column, theirs in self.columns.items():
            ours, of_fetuses, fetus = column.partition(".")
            parts |= {f"fetus.{fetus}": {ours: theirs}} if of_fetuses else {}
        for part, values in parts.items():
            if values:
                lines += [f"[import.mapping.{name}.{part}]"]
                lines += [f"{_quoted(key)} = {_quoted(value)}" for key, value in values.items()]
        return "\n".join(lines) + "\n"


def shown(found: Proposal, *, asked: bool = True) -> list[str]:
    """What is proposed, the first rows before and after, and what must be answered; no typed word is repeated."""
    lines = [f"This looks like {found.kind.replace('_', ' ') or 'none of the known kinds'}, {found.read_as}."]
    for column, name in found.columns.items():
        unit = found.units.get(column)
        known = f" ({name})" if columns_of(plain_heading(name)[0]) else ""
        lines.append(f"  {column} from column {found.places[column] + 1}{known}{f', given in {unit}' if unit else ''}")
    for number, row in enumerate(found.rows, start=1):
        cells = [f"{column}: {_told(column, row[k], found)}" for column, k in found.places.items()]
        lines.append(f"  row {number}: {'; '.join(cells)}")
    if found.case_id_from_file:
        lines.append("  case_id from the file's name")
    told: set[tuple[str, ...]] = set()
    for question in found.open_questions if asked else ():
        values = tuple(choice.value for choice in question.choices)
        how = f" --answer {question.choices[0].key}=..., one of those above" if values in told else ""
        if values and not how:
            how = f" --answer one of {question.options()}"
            told |= {values} if len(values) > _MANY else set()
        lines.append(f"To be answered: {question}.{how}")
    return lines


def _told(column: str, cell: str, found: Proposal) -> str:
    """A cell before and after: numbers as they are, other things by their form."""
    number = re.fullmatch(r"[+-]?\d{1,6}(?:[.,]\d{1,4})?|\d{2} ?\+ ?\d", cell.strip())
    time = column.endswith("_s") and found.units.get(column) not in SECONDS
    if column in ("case_id", "period", "event") or time or not number:
        after: Any = found.words.get(cell.strip()) or {
            "period": "its month",
            "case_id": "the code, or a pseudonym",
        }.get(column)
        return f"{shape(cell)} becomes {after}" if after else shape(cell)
    after = value(cell, column, found.units.get(column), found.decimal)
    return f"{cell.strip()} becomes {after:g}" if isinstance(after, float) else f"{cell.strip()} becomes {after}"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
