"""What a proposal says of columns of times and dates: their unit, the order of day and month, or what is asked."""

import re
from collections.abc import Sequence

import numpy as np

from audit.intake.formats.conversions import duration_s
from audit.intake.formats.dates_of_birth import DATE, could_be_mothers
from audit.intake.proposal import ASKED, Choice, Proposal, Question

_CLOCK = re.compile(
    r".*\d{1,2}[:.hH]\d{2}(?:[:.]\d{2}(?:[.,]\d+)?)?(?: ?[aApP]\.?[mM]\.?)?(?: ?(?:Z|[+-]\d{2}:?\d{2}))?"
)
# 10:45, 10h45, and behind a date also 10.45, which alone is a number
_SURELY_CLOCK = re.compile(r"\d[:hH]\d{2}|[-./]\d{2,4}[ T]\d{1,2}\.\d{2}(?:\.\d{2})?$")
_WITH_SECONDS = re.compile(r"[:hH]\d{2}[:.]\d{2}|[ T]\d{1,2}\.\d{2}\.\d{2}$")
_MONTH = re.compile(r"\d{4}-\d{2}")
_MONTH_FIRST = re.compile(r"(?:0?[1-9]|1[0-2])[-./](?:19|20)\d{2}")
_LONGEST_S = 345_600.0  # s, four days: no event lies further from the tracing's start; our choice
_SHORTEST_S = 1200.0  # s: a tracing that would be shorter, in whole steps, may be in minutes; our choice
_DAY_S = 86_400.0
_BARE_DATES = ("date", "datum", "data", "fecha")
_RATES_HZ = ("1", "2", "4", "8", "10")  # that are offered where samples are counted; common practice, no source
SAMPLES_AT = "samples at "  # before the rate, as a choice has it
_ORDER = (Choice("date_order", "dmy", "day first"), Choice("date_order", "mdy", "month first"))


def unit_of_time(
    column: str, given: list[str], heading: tuple[list[str], str | None], place: int, found: Proposal
) -> str | None:
    """The unit of times of a case, ASKED where a question of its own stands for it, or None where nothing says it."""
    lengths = [duration_s(cell) for cell in given]
    if all(length is not None for length in lengths):
        return _clock_or_since(column, [length for length in lengths if length is not None], place, found)
    if all(_SURELY_CLOCK.search(cell) and _CLOCK.fullmatch(cell) for cell in given):
        if column == "t_s" and not any(_WITH_SECONDS.search(cell) for cell in given):
            return None  # hours and minutes are too far apart for samples: minutes and seconds?
        dated = [cell for cell in given if DATE.fullmatch(cell)]
        if dated and not _order(dated, found):
            return ASKED
        found.zone_asked = True
        return "clock"
    numbers = numbers_of(given, found.decimal)
    if numbers is None or len(numbers) < 2 or _clock_without_colons(given):
        return None
    in_seconds = heading[1] == "seconds" or any(word.startswith(("sec", "seg", "sek")) for word in heading[0])
    if column == "t_s":
        return _unit_of_steps(numbers, in_seconds, heading[1], place, found)
    # without the heading's word the numbers tell no unit: minutes since admission may go on for days
    return "seconds" if in_seconds and float(np.max(np.abs(numbers))) <= _LONGEST_S else None


def unit_of_period(given: list[str], words: list[str], found: Proposal) -> str | None:
    """The unit of months, ASKED where a question of its own stands for it, or None where nothing says it."""
    bare = len(words) == 1 and words[0] in _BARE_DATES
    for months, day in ((_MONTH, "{}-01"), (_MONTH_FIRST, "01-{}")):
        if all(months.fullmatch(cell) for cell in given):
            if could_be_mothers([day.format(cell) for cell in given]) or (bare and months is _MONTH_FIRST):
                return None
            return "" if months is _MONTH else "date"
    if not all(DATE.fullmatch(cell) for cell in given):
        return None
    question = ""
    if bare:
        question = "of what the dates are: births, admissions or something else"
    elif could_be_mothers(given):
        question = "whose dates of birth they are: some are too old, or too far apart, for newborns alone"
    if question and not found.ask(question, (Choice("units.period", "date", "births of the newborns"),)):
        return ASKED
    return "date" if _order(given, found) else ASKED


def time_choices(column: str, given: list[str], decimal: str) -> tuple[Choice, ...]:
    """The units in which times of this look could be."""
    if not given or numbers_of(given, decimal) is None:
        return ()
    units = ["seconds", "milliseconds", "minutes", "hours"]
    samples = [f"{SAMPLES_AT}{rate}" for rate in _RATES_HZ] if column == "t_s" else []
    words = [f"{each} a second" for each in samples]
    both = zip([*units, *samples], [*units, *words], strict=True)
    return tuple(Choice(f"units.{column}", unit, said) for unit, said in both)


def _clock_or_since(column: str, seconds: list[float], place: int, found: Proposal) -> str:
    """Times such as 10:05:30 without a date: of the clock, unless somebody says or they suggest that it is not so."""
    clock = Choice(f"units.{column}", "clock", "the clock")
    since = Choice(f"units.{column}", "duration", "the time since the tracing's start")
    question = f"whether column {place + 1}, {column}, shows the clock or the time since the tracing's start"
    if max(seconds) >= _DAY_S:  # of the clock, and run on past midnight, they cannot be read
        said = found.ask(f"{question}: some are past 24 hours", (since,)) or ASKED
    elif column == "t_s" and seconds[0] == 0:
        said = found.ask(f"{question}: it begins with 0", (clock, since)) or ASKED
    else:
        said = found.answer(question, (clock, since)) or "clock"
    if said == "clock":
        found.zone_asked = True
        found.or_since.append(Question.of(question, (clock, since)))
    return said


def _unit_of_steps(numbers: np.ndarray, in_seconds: bool, unit: str | None, place: int, found: Proposal) -> str | None:
    steps = np.diff(numbers)
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    counted = bool(np.all(numbers == np.rint(numbers)) and np.all(np.abs(steps[steps > 0] - 1) < 1e-9))
    short = float(np.ptp(numbers)) < _SHORTEST_S
    if step >= 1 and (counted or short) and not in_seconds and unit is None:
        if not counted:
            return None
        question = (
            f"what column {place + 1} counts, t_s in seconds or sample numbers: 0, 1, 2, 3 (of samples, give"
            ' units = {t_s = "samples"} and samples_per_s)'
        )
        return found.ask(question, time_choices("t_s", ["1"], ".")) or ASKED
    units = [("seconds", 0.1, 2.0), ("milliseconds", 100.0, 2000.0)]
    fitting = [name for name, low, high in units if low <= step <= high]
    return fitting[0] if fitting and unit in (None, fitting[0]) else None


def _clock_without_colons(given: list[str]) -> bool:
    """Whether whole numbers could be hours, minutes and seconds without a sign between (`142230`)."""
    if not all(re.fullmatch(r"(?:[01]?\d|2[0-3])[0-5]\d[0-5]\d", cell) for cell in given):
        return False
    return any(cell.startswith("0") for cell in given) or any(len(cell) == 6 for cell in given)


def _order(dates: list[str], found: Proposal) -> bool:
    """Tell the order of day and month, and keep it; False where the dates do not say and nobody has."""
    parts = [match for cell in dates if (match := DATE.fullmatch(cell))]
    if all(len(part[1]) == 4 for part in parts) and not any(int(part[3]) > 12 for part in parts):
        order = "ymd"
    elif any(int(part[1]) > 12 for part in parts) and not any(int(part[3]) > 12 for part in parts):
        order = "dmy"
    elif any(int(part[3]) > 12 for part in parts) and not any(int(part[1]) > 12 for part in parts):
        order = "mdy"
    elif all(part[2] == "." for part in parts):
        order = "dmy"
    else:
        said = found.ask("whether day or month stands first in the dates, as date_order", _ORDER)
        if said is None:
            return False
        order = said
    if order != "ymd":
        found.date_order = order
    return True


def numbers_of(given: Sequence[str], decimal: str) -> np.ndarray | None:
    """All cells as numbers, or None where one is none."""
    if decimal == "," and any("." in cell for cell in given):
        return None  # a point between thousands
    try:
        return np.array([float(cell.replace(",", ".") if decimal == "," else cell) for cell in given])
    except ValueError:
        return None
