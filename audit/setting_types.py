"""What a setting may be: a record per table, kinds of values with unit and range, and the check that reads them.

A table of the settings is a record (`Table`); the type of each field says the unit and the range of possible values, so
that the check, its message and the code that uses the value all rest on one line. The ranges are wide, for what nothing
could work with; how far a unit may go from a packaged number is in `setting_spans.py`. Ranges are our choice.
"""

import difflib
import math
import operator
import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, ClassVar, TypeVar, get_args, get_origin, get_type_hints

import msgspec
import numpy as np
from msgspec import Meta, inspect
from numpy.typing import NDArray

from audit.errors import SettingsError


class Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One table of the settings; a subclass names `frozen=True` again, for the type checker.

    It checks in `__post_init__` what its values must be to each other, and raises `Unfit`.
    """


class Unfit(ValueError):
    """A value that does not go with another one of its table: the key within the table, what was found and expected."""

    def __init__(self, key: str, found: object, expected: str) -> None:
        super().__init__(f"{key}: found {found!r}, expected {expected}")
        self.key, self.found, self.expected = key, found, expected


def _kind(unit: str, low: float, high: float) -> Meta:
    return Meta(ge=low, le=high, extra={"unit": unit})


# Measured values. A rate lies where hearts beat; other amounts of bpm are depths, heights and steps.
Rate = Annotated[float, _kind("bpm", 30, 250)]
Bpm = Annotated[float, _kind("bpm", 0, 200)]
CyclesPerMin = Annotated[float, _kind("cycles per minute", 0, 60)]
Seconds = Annotated[float, _kind("s", 0, 604_800)]
Minutes = Annotated[float, _kind("min", 0, 1440)]
# what nothing would be left of at 0, and rounding that leaves more than one step
Step = Annotated[float, Meta(gt=0, le=200, extra={"unit": "bpm"})]
Length = Annotated[float, Meta(gt=0, le=604_800, extra={"unit": "s"})]
Share = Annotated[float, Meta(gt=0, le=1, extra={"unit": "fraction"})]
RoundedTo = Annotated[float, _kind("bpm", 0, 20)]
TargetMinutes = Annotated[float, Meta(ge=1, le=120, extra={"unit": "min"})]
WholeMinutes = Annotated[int, _kind("min", 0, 1440)]
Hours = Annotated[float, _kind("h", 0, 168)]
Preterm = Annotated[float, _kind("weeks", 20, 37)]  # at 37 weeks a birth is at term, WHO
Ph = Annotated[float, _kind("pH", 6, 8)]
TocoUnits = Annotated[float, _kind("toco units", 0, 300)]
# Shares and numbers.
Fraction = Annotated[float, _kind("fraction", 0, 1)]
LowPercentile = Annotated[float, _kind("percentile", 0, 50)]
HighPercentile = Annotated[float, _kind("percentile", 50, 100)]
Count = Annotated[int, _kind("count", 0, 1_000_000_000)]
Positive = Annotated[int, _kind("count", 1, 1_000_000_000)]
Number = Annotated[float, _kind("count", 0, 1_000_000)]
Cost = Annotated[float, _kind("cost", 0, 1_000_000)]
Factor = Annotated[float, _kind("factor", 0, 1000)]
Name = Annotated[str, Meta(min_length=1)]

_OPERATORS: dict[str, Callable[[Any, Any], Any]] = {
    ">": operator.gt,
    ">=": operator.ge,
    "<": operator.lt,
    "<=": operator.le,
}


class Limit:
    """An operator and a number, written as '>= 50'. The subclasses say of what, and between which numbers."""

    unit: ClassVar[str] = ""
    low: ClassVar[float] = -math.inf
    high: ClassVar[float] = math.inf

    def __init__(self, symbol: str, value: float) -> None:
        self.symbol, self.value = symbol, value

    @classmethod
    def parsed(cls, text: object) -> "Limit":
        """Read an operator and a number. ValueError when it is none, or the number is not plausible for the unit."""
        parts = text.split() if isinstance(text, str) else []
        if len(parts) != 2 or parts[0] not in _OPERATORS:
            raise ValueError("not an operator and a number")
        value = float(parts[1])
        if not (math.isfinite(value) and cls.low <= value <= cls.high):
            raise ValueError("outside the plausible range")
        return cls(parts[0], value)

    @classmethod
    def expected(cls) -> str:
        """What a limit of this kind looks like, in words."""
        span = f" from {cls.low:g} to {cls.high:g} {cls.unit}" if math.isfinite(cls.high) else ""
        return f"an operator (>, >=, <, <=) and a number{span}, as '>= 50'"

    def met(self, measured: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Which measured values meet the limit. NaN (not seen) never does."""
        result: NDArray[np.bool_] = _OPERATORS[self.symbol](measured, self.value)
        return result

    def met_by(self, measured: float) -> bool:
        """Whether one measured value meets the limit. NaN (not seen) never does."""
        return bool(_OPERATORS[self.symbol](measured, self.value))

    @property
    def number(self) -> str:
        """The number as printed in a reason: no trailing zeros."""
        return f"{self.value:g}"

    def __str__(self) -> str:
        return f"{self.symbol} {self.number}"

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self.symbol!r}, {self.value!r})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Limit) and (self.symbol, self.value) == (other.symbol, other.value)

    def __hash__(self) -> int:
        return hash((self.symbol, self.value))


class RateLimit(Limit):
    """A limit of a heart rate or of a baseline."""

    unit, low, high = "bpm", 30.0, 250.0


class BpmLimit(Limit):
    """A limit of a depth, a height, a step or an amplitude."""

    unit, low, high = "bpm", 0.0, 100.0


class SecondsLimit(Limit):
    """A limit of a length in seconds."""

    unit, low, high = "s", 5.0, 1200.0


class MinutesLimit(Limit):
    """A limit of a length in minutes."""

    unit, low, high = "min", 1.0, 240.0


class WeeksLimit(Limit):
    """A limit of a gestational age before term."""

    unit, low, high = "weeks", 20.0, 37.0


class FractionLimit(Limit):
    """A limit of a share."""

    unit, low, high = "fraction", 0.0, 1.0


class CyclesLimit(Limit):
    """A limit of the rate of a wave."""

    unit, low, high = "cycles/min", 1.0, 15.0


class PerTenMinutesLimit(Limit):
    """A limit of how many there are in 10 minutes."""

    unit, low, high = "per 10 min", 1.0, 20.0


class CountLimit(Limit):
    """A limit of a number of things."""

    unit, low, high = "count", 0.0, 1000.0


class AreaLimit(Limit):
    """A limit of an area between the baseline and the rate."""

    unit, low, high = "bpm·s", 0.0, 1_000_000.0


T = TypeVar("T", bound=Table)
FileOf = Callable[[str], str]  # from a dotted key to the name of the file that set it


def build(kind: type[T], values: object, where: str, file_of: FileOf) -> T:
    """A table from the values of a file, checked key by key.

    `kind`: the record of the table. `values`: what the file holds under `where`. `where`: dotted name of the table, ""
    for the whole file. `file_of`: which file a key comes from, for the message.
    Raises SettingsError: names file, key, what was found and what was expected.
    """
    if not isinstance(values, Mapping):
        raise _error(file_of, where, values, "a table")
    fields = {field.encode_name: field for field in msgspec.structs.fields(kind)}
    unknown = [key for key in values if key not in fields]
    if unknown:
        _unknown_key(unknown[0], list(fields), where, file_of)
    hints = get_type_hints(kind, include_extras=True)
    made: dict[str, Any] = {}
    for key, field in fields.items():
        if key in values:
            made[field.name] = _value(hints[field.name], values[key], dotted(where, key), file_of)
        elif field.required:
            raise _error(lambda _: file_of(where), dotted(where, key), None, _expected(hints[field.name]))
    try:
        return kind(**made)
    except Unfit as error:
        # the packaged values go together, so it is the unit's own file that brought them apart, whichever key is named
        name = f"{where}.{error.key}" if where else error.key
        raise _error(lambda _: file_of(where or name), name, error.found, error.expected) from error


def changed(table: T, **values: object) -> T:
    """The same table with other values, given as a file gives them. SettingsError as `build` raises it."""
    return build(type(table), {**plain(table), **values}, "", lambda _: "settings")


def plain(table: Table) -> dict[str, Any]:
    """A table as a file would hold it: numbers, text, lists and tables of them."""
    result: dict[str, Any] = msgspec.to_builtins(table, enc_hook=str)
    return result


def dotted(where: str, key: str) -> str:
    """The name of a key within a table, quoted as TOML wants it where it must be."""
    name = key if re.fullmatch(r"[A-Za-z0-9_.\-]+", key) else f'"{key}"'
    return f"{where}.{name}" if where else name


def _unknown_key(key: str, known: list[str], where: str, file_of: FileOf) -> None:
    near = difflib.get_close_matches(key, known, n=1)
    hint = f"did you mean {near[0]}?" if near else f"expected one of {', '.join(sorted(known))}"
    name = dotted(where, key)
    raise SettingsError(f"{file_of(name)}: {name}: unknown key; {hint}")


def _value(kind: Any, value: object, name: str, file_of: FileOf) -> Any:
    if isinstance(kind, type) and issubclass(kind, Table):
        return build(kind, value, name, file_of)
    if get_origin(kind) is dict and isinstance(get_args(kind)[1], type) and issubclass(get_args(kind)[1], Table):
        if not isinstance(value, Mapping):
            raise _error(file_of, name, value, "a table")
        return {key: build(get_args(kind)[1], one, dotted(name, key), file_of) for key, one in value.items()}
    try:
        return msgspec.convert(value, kind, strict=True, dec_hook=_decode)
    except (msgspec.ValidationError, ValueError) as error:
        raise _error(file_of, name, value, _expected(kind)) from error


def _decode(kind: type, value: object) -> Any:
    if issubclass(kind, Limit):
        return kind.parsed(value)
    raise TypeError(f"no setting is a {kind}")  # a mistake in the program, not in a file


def _error(file_of: FileOf, name: str, found: object, expected: str) -> SettingsError:
    what = "missing" if found is None else f"found {found!r}"
    return SettingsError(f"{file_of(name)}: {name}: {what}, expected {expected}")


def _expected(kind: Any) -> str:
    return _words(inspect.type_info(kind))


def _words(info: inspect.Type) -> str:
    """What a kind of value is, in words, with range and unit."""
    unit = ""
    if isinstance(info, inspect.Metadata):
        unit, info = str((info.extra or {}).get("unit", "")), info.type
    match info:
        case inspect.IntType() | inspect.FloatType():
            word = "a whole number" if isinstance(info, inspect.IntType) else "a number"
            above = "" if info.gt is None else f" above {info.gt:g}"
            least = above if info.ge is None else f" from {info.ge:g}"
            below = "" if info.lt is None else f" and below {info.lt:g}"
            span = least + (below if info.le is None else f" to {info.le:g}")
            return f"{word}{span}{f' ({unit})' if unit else ''}"
        case inspect.BoolType():
            return "true or false"
        case inspect.StrType():
            return f"text of the form {info.pattern}" if info.pattern else "text"
        case inspect.LiteralType():
            return f"one of {', '.join(repr(value) for value in info.values)}"
        case inspect.CustomType():
            return str(info.cls.expected()) if issubclass(info.cls, Limit) else info.cls.__name__
        case inspect.ListType() | inspect.VarTupleType():
            return f"a list of {_how_many(info.min_length, info.max_length)}, each {_words(info.item_type)}"
        case inspect.TupleType():
            return f"a list of {len(info.item_types)}, each {_words(info.item_types[0])}"
        case inspect.DictType():
            return f"a table, each {_words(info.value_type)}"
        case _:
            return "a table"


def _how_many(least: int | None, most: int | None) -> str:
    if least is not None and least == most:
        return str(least)
    return f"{least} or more" if least else "any number"
