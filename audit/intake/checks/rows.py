"""Rows of a small table: each is checked by itself, and each thing is taken once."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Protocol, TypeVar

from audit.intake.checks import fields
from audit.intake.checks.codes import as_code, bad_case_id, bad_fetus
from audit.intake.checks.fields import BadValue
from audit.intake.door.remarks import Remarks
from audit.intake.formats.tables import SmallTable

T = TypeVar("T")


class BadRow(Exception):
    """The row cannot be stored; the reason says what was found in which column and what was expected."""

    def __init__(self, reason: str, column: str, value: Any) -> None:
        super().__init__(reason)
        self.reason, self.column, self.value = reason, column, value


class OnceARow(Protocol):
    """A checked row of which the store takes one."""

    @property
    def row_number(self) -> int:
        """Where it stands in its file."""

    @property
    def key(self) -> tuple[Any, ...]:
        """What makes two rows the same thing."""

    def content(self) -> dict[str, Any]:
        """What two rows of the same thing must agree on."""


Row = TypeVar("Row", bound=OnceARow)


def checked_rows(table: SmallTable, remarks: Remarks, check: Callable[[dict[str, Any], int], T]) -> list[T]:
    """What `check` makes of each row's values and number; a row for which it raises BadRow is kept out."""
    rows = []
    for k, number in enumerate(table.row_numbers):
        try:
            rows.append(check({name: column[k] for name, column in table.columns.items()}, number))
        except BadRow as error:
            remarks.reject_row(number, error.reason, error.column, error.value)
    return rows


def once(rows: Sequence[Row], remarks: Remarks, column: str, told: Callable[[Row, int, bool], str]) -> list[Row]:
    """The same twice counts once; two that contradict each other are both kept out.

    `told` says it of a row, how many are the same thing, and whether they contradict each other; `column` is the one
    that the remark names.
    """
    together: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        together.setdefault(row.key, []).append(row)
    found = []
    for same in together.values():
        unlike = any(row.content() != same[0].content() for row in same)
        for row in same if unlike else same[1:]:
            remarks.reject_row(row.row_number, told(row, len(same), unlike), column, getattr(row, column))
        found += [] if unlike else same[:1]
    return found


def refuse(reason: str | None, column: str, value: Any) -> None:
    """Keep the row out where there is a reason to: raises BadRow."""
    if reason is not None:
        raise BadRow(reason, column, value)


@contextmanager
def needed(column: str, value: Any, hint: str = "") -> Iterator[None]:
    """A value without which the row says nothing: BadValue becomes BadRow, with a hint behind its reason."""
    try:
        yield
    except BadValue as error:
        raise BadRow(f"{error}{hint}", column, value) from error


def case_of(values: dict[str, Any], remarks: Remarks) -> str:
    """The case id as it is stored. Raises BadRow."""
    case_id = as_code(values.get("case_id"))
    refuse(bad_case_id(case_id), "case_id", case_id)
    return remarks.case_id(case_id)


def fetus_of(values: dict[str, Any]) -> str:
    """The fetus, A where the file says nothing. Raises BadRow."""
    fetus = "A" if fields.is_none(values.get("fetus")) else fields.as_text(values["fetus"])
    refuse(bad_fetus(fetus), "fetus", fetus)
    return fetus.upper()


def time_of(name: str, values: dict[str, Any], earliest_s: float, latest_s: float) -> float:
    """A time in seconds from the case's first sample, within these. Raises BadRow."""
    with needed(name, values[name]):
        found = fields.as_number(values[name])
        if found is None:
            raise BadValue("found no time, expected seconds from the case's first sample")
        fields.check_range(name, found, earliest_s, latest_s)
    return found


def needed_word(name: str, value: Any, allowed: tuple[str, ...]) -> str:
    """One of the allowed words. Raises BadRow for any other, and for none."""
    with needed(name, value):
        found = fields.as_one_of(value, allowed)
        if found is None:
            raise BadValue(f"found nothing, expected {', '.join(allowed)}")
    return found


def kept(name: str, checked: Callable[[Any], Any], values: dict[str, Any], number: int, remarks: Remarks) -> Any:
    """A checked value; one that cannot be stored is kept out of its row, with a remark."""
    try:
        return checked(values.get(name))
    except BadValue as error:
        remarks.reject_value(number, name, values.get(name), str(error))
        return None
