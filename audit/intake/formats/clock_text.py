"""Clock times as text to seconds: of the day, or with a date, under the clock changes of a time zone."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from audit.intake.formats.workbook_apart import length_s

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_DAY_S = 86_400.0
_DATES = {
    "dmy": r"(?P<d>[0-9]{1,2})[-./ ](?P<m>[0-9]{1,2})[-./ ](?P<y>[0-9]{4}|[0-9]{2})",
    "mdy": r"(?P<m>[0-9]{1,2})[-./ ](?P<d>[0-9]{1,2})[-./ ](?P<y>[0-9]{4}|[0-9]{2})",
    "ymd": r"(?P<y>[0-9]{4})[-./]?(?P<m>[0-9]{2})[-./]?(?P<d>[0-9]{2})",
}
_TIME = (
    r"(?P<H>[0-9]{1,2})[:.hH](?P<M>[0-9]{2})(?:[:.](?P<S>[0-9]{2})(?:[.,](?P<f>[0-9]{1,9}))?)?"
    r"(?: ?(?P<p>[AaPp])\.?[Mm]\.?)?"
)
_ZONE = r"(?P<z>Z|[+-][0-9]{2}:?[0-9]{2})?"


@dataclass(frozen=True)
class ClockTimes:
    """Wall clock of each row, seconds; arrays of shape (n_rows,).

    wall_s : since 1970-01-01 00:00 on that wall's clock when `dated`, else since midnight; NaN = not readable.
    explicit_s : offset from UTC that the text itself gives; NaN = none.
    """

    wall_s: FloatArray
    explicit_s: FloatArray
    dated: bool


@dataclass(frozen=True)
class Offsets:
    """What a zone says of wall times: offsets from UTC before and after a change, seconds; equal but near changes."""

    first_s: FloatArray
    second_s: FloatArray

    @property
    def twice(self) -> BoolArray:
        """The wall shows this time twice (the clock goes back)."""
        return self.first_s > self.second_s

    @property
    def never(self) -> BoolArray:
        """The wall never shows this time (the clock goes forward)."""
        return self.first_s < self.second_s


def parse_clock(text: pa.Array, order: str, dates: pa.Array | None = None) -> ClockTimes:
    """Read times of day, with the date before them or in a column of its own.

    `order` is that of day, month and year; a date that begins with a year of four figures is read as such anyway.
    """
    typed = pc.utf8_trim_whitespace(pc.fill_null(text.cast(pa.string()), ""))
    if pc.any(pc.starts_with(typed, "PT")).as_py():
        typed = pa.array([_on_the_clock(cell) for cell in typed.to_pylist()], pa.string())
    if dates is not None:
        typed = pc.binary_join_element_wise(
            pc.utf8_trim_whitespace(pc.fill_null(dates.cast(pa.string()), "")), typed, " "
        )
    dated = dates is not None or bool(
        pc.any(pc.match_substring_regex(typed, r"[0-9][-./][0-9]{1,2}[-./][0-9]")).as_py()
    )
    wall = np.full(len(typed), np.nan)
    explicit = np.full(len(typed), np.nan)
    between = r"(?:[ T]+|, ?)"
    patterns = [f"^{_DATES[each]}{between}{_TIME} ?{_ZONE}$" for each in dict.fromkeys((order, "ymd"))]
    for pattern in patterns if dated else [f"^{_TIME}$"]:
        found = pc.extract_regex(typed, pattern)
        valid = np.asarray(pc.is_valid(found).to_numpy(zero_copy_only=False), dtype=bool) & np.isnan(wall)
        if not valid.any():
            continue
        at = np.flatnonzero(valid)
        got = found.take(pa.array(at))
        wall[at] = _time_of_day(got) + (_days(got) * _DAY_S if dated else 0.0)
        if dated:
            explicit[at] = _explicit(got)
    return ClockTimes(wall, explicit, dated)


def offsets(wall_s: FloatArray, zone: ZoneInfo) -> Offsets:
    """The zone's offsets at dated wall times; looked up once for each quarter of an hour, on which changes fall."""
    first, second = np.full(len(wall_s), np.nan), np.full(len(wall_s), np.nan)
    known = np.isfinite(wall_s)
    quarters, inverse = np.unique(np.floor(wall_s[known] / 900), return_inverse=True)
    one, two = np.empty(len(quarters)), np.empty(len(quarters))
    for k, quarter in enumerate(quarters.tolist()):
        at = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=900 * quarter)).replace(tzinfo=zone)
        one[k], two[k] = _seconds(at.replace(fold=0)), _seconds(at.replace(fold=1))
    first[known], second[known] = one[inverse], two[inverse]
    return Offsets(first, second)


def months(text: pa.Array, order: str) -> list[str | None]:
    """The months (YYYY-MM) of dates, with or without a time of day; None where there is no date. Days go no further."""
    typed = pc.utf8_trim_whitespace(pc.fill_null(text.cast(pa.string()), ""))
    out: list[str | None] = [None] * len(typed)
    month_only = {"dmy": r"(?P<m>[0-9]{1,2})[-./ ](?P<y>[0-9]{4})", "mdy": r"(?P<m>[0-9]{1,2})[-./ ](?P<y>[0-9]{4})"}
    rest = r"(?:[ T].*)?$"
    patterns = [f"^{_DATES[each]}{rest}" for each in dict.fromkeys((order, "ymd"))]
    patterns += [f"^{month_only['dmy']}$", r"^(?P<y>[0-9]{4})[-./](?P<m>[0-9]{1,2})$"]
    for pattern in patterns:
        for k, got in enumerate(pc.extract_regex(typed, pattern).to_pylist()):
            if got is not None and out[k] is None and 1 <= int(got["m"]) <= 12 and 1 <= int(got.get("d") or 1) <= 31:
                out[k] = f"{_year(int(got['y'])):04d}-{int(got['m']):02d}"
    return out


def months_in_doubt(text: pa.Array, order: str) -> list[bool]:
    """Dates whose day may be their month, in a column where another date says that the order is not this one."""
    typed = pc.utf8_trim_whitespace(pc.fill_null(text.cast(pa.string()), ""))
    found: list[tuple[int, int] | None] = [None] * len(typed)
    for each in dict.fromkeys((order, "ymd")):
        for k, got in enumerate(pc.extract_regex(typed, f"^{_DATES[each]}(?:[ T].*)?$").to_pylist()):
            if got is not None and found[k] is None:
                found[k] = int(got["d"]), int(got["m"])
    if not any(parts is not None and parts[0] <= 12 < parts[1] <= 31 for parts in found):
        return [False] * len(typed)
    return [parts is not None and parts[0] <= 12 and parts[0] != parts[1] for parts in found]


def _on_the_clock(cell: str) -> str:
    """A time that a spreadsheet holds as a length since midnight, as a time of day; any other text as it is."""
    seconds = length_s(cell)
    if seconds is None or seconds >= _DAY_S:
        return cell
    whole = int(seconds)
    fraction = f"{round(seconds - whole, 6):.6f}"[1:] if seconds != whole else ""
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}{fraction}"


def _seconds(at: datetime) -> float:
    offset = at.utcoffset()
    return 0.0 if offset is None else offset.total_seconds()


def _numbers(got: pa.StructArray, name: str) -> FloatArray:
    text = pc.struct_field(got, name)
    text = pc.if_else(pc.equal(text, ""), pa.scalar(None, pa.string()), text)
    return np.nan_to_num(np.array(text.cast(pa.float64()).to_numpy(zero_copy_only=False), dtype=np.float64))


def _time_of_day(got: pa.StructArray) -> FloatArray:
    hour, minute, second = (_numbers(got, name) for name in "HMS")
    figures = pc.struct_field(got, "f")
    fraction = _numbers(got, "f") / 10.0 ** np.array(pc.utf8_length(pc.fill_null(figures, "")), dtype=np.float64)
    half = np.array([(text or "").lower() for text in pc.struct_field(got, "p").to_pylist()], dtype=object)
    # 12 am is midnight and 12 pm noon; common usage, no source
    good = (minute < 60) & (second < 60) & np.where(half == "", hour < 24, (hour >= 1) & (hour <= 12))
    hour = np.where(half == "", hour, hour % 12 + np.where(half == "p", 12, 0))
    day_s = hour * 3600 + minute * 60 + second
    return np.where(good, np.round(day_s + fraction, 6), np.nan)


def _days(got: pa.StructArray) -> FloatArray:
    """Days since 1970-01-01; NaN for dates that the calendar does not have."""
    year, month, day = (_numbers(got, name) for name in "ymd")
    key = np.stack([year, month, day], axis=1)
    dates, inverse = np.unique(key, axis=0, return_inverse=True)
    days = np.full(len(dates), np.nan)
    for k, (y, m, d) in enumerate(dates.astype(int).tolist()):
        try:
            days[k] = (datetime(_year(y), m, d) - datetime(1970, 1, 1)).days
        except ValueError:
            continue
    return days[np.ravel(inverse)]


def _year(year: int) -> int:
    return year if year >= 100 else 2000 + year if year < 70 else 1900 + year


def _explicit(got: pa.StructArray) -> FloatArray:
    texts = pc.fill_null(pc.struct_field(got, "z"), "").to_pylist()
    if not any(texts):
        return np.full(len(texts), np.nan)
    return np.array([_offset(text) for text in texts], dtype=np.float64)


def _offset(text: str) -> float:
    if not text:
        return np.nan
    if text == "Z":
        return 0.0
    digits = text[1:].replace(":", "")
    seconds = int(digits[:2]) * 3600.0 + int(digits[2:]) * 60.0
    return -seconds if text[0] == "-" else seconds
