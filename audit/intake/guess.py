"""A mapping proposed from a file's header and values. What is not sure is asked, never taken.

A column is taken when its heading is known and its values lie in the range of one unit alone. Nothing is stored, and
nothing that was typed is said: headings are named where each of their words is known, other columns by their place.
"""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from audit.intake.checks.channels import EXTREME_BPM, PILE
from audit.intake.door.headings import columns_of, event_of, plain_heading
from audit.intake.door.remarks import FileRefused
from audit.intake.formats import compressed, csv_file, table_shape
from audit.intake.formats.conversions import in_grams
from audit.intake.formats.dates_of_birth import DATE, could_be_mothers
from audit.intake.formats.habits import encoding_of, habits_of
from audit.intake.formats.tables import NUMBER_COLUMNS, REQUIRED
from audit.intake.proposal import Proposal
from audit.vocabulary import CARE_EVENTS

_LOOKED_AT = 5000  # rows; our choice
_CLOCK = re.compile(
    r".*\d{1,2}[:.hH]\d{2}(?:[:.]\d{2}(?:[.,]\d+)?)?(?: ?[aApP]\.?[mM]\.?)?(?: ?(?:Z|[+-]\d{2}:?\d{2}))?"
)
_WEEKS_DAYS = re.compile(r"\d{2}\s*(?:\+\s*[0-6](?:/7)?|w\s*[0-6]d?|\s[0-6]/7)", re.IGNORECASE)
# The values by which a unit is told apart: median from and to, by column and unit. Ranges of cord blood as in
# `[import.usual]`; each pair lies apart, and what falls between is asked. Our choice.
_UNITS: dict[str, tuple[tuple[str, float, float], ...]] = {
    "cord_artery_pco2_kpa": (("kPa", 3, 16), ("mmHg", 22, 120)),
    "cord_vein_pco2_kpa": (("kPa", 2.5, 14), ("mmHg", 19, 105)),
    "cord_lactate_mmol_l": (("mmol/L", 0.5, 8), ("mg/dL", 16, 200)),
    "cord_artery_ph": (("pH", 6.6, 7.6), ("nmol/L", 25, 250)),
    "cord_vein_ph": (("pH", 6.6, 7.7), ("nmol/L", 20, 250)),
    "birth_weight_g": (("g", 400, 6000), ("kg", 0.4, 4.6), ("lb", 4, 10.5), ("oz", 64, 168)),
    "gestation_weeks": (("weeks", 22, 44), ("days", 154, 308)),
    "parity": (("", 0, 12),),
    "apgar_1": (("", 0, 10),),
    "apgar_5": (("", 0, 10),),
    "apgar_10": (("", 0, 10),),
    "fhr_bpm": (("", 100, 190),),
    "mhr_bpm": (("", 45, 135),),
    "toco": (("", -10, 150),),
}
_OURS = {"kPa", "mmol/L", "pH", "g", "weeks", "", "seconds"}
_WHOLE = ("parity", "apgar_1", "apgar_5", "apgar_10")
_LONGEST_S = 345_600.0  # s, four days: no event lies further from the tracing's start; our choice
_ONLY_SAID = ("lb", "oz")  # units that a heading must name, because kilograms may have the same numbers
_SHORTEST_S = 1200.0  # s: a tracing that would be shorter, in whole steps, may be in minutes; our choice
_LARGEST_KPA = 13.0  # a toco that never goes higher may be in kPa, as in `checks/channels.py`
_BARE_DATES = ("date", "datum", "data", "fecha")


def guess(path: Path, max_mib: int) -> Proposal:
    """Look at a file of text. Raises FileRefused for what is none."""
    data = compressed.read_bytes(path, max_mib)
    text = csv_file.checked_text(data)
    lines = [line for line in text.decode("utf-8").splitlines()[:_LOOKED_AT]]
    delimiter, header_at = table_shape.delimiter_of(lines)
    header_at = table_shape.header_line(lines, delimiter, header_at)
    rows = [row for row in csv.reader(lines[header_at:], delimiter=delimiter)]
    header, body = rows[0], [row for row in rows[1:] if len(row) == len(rows[0])]
    if not body:
        raise FileRefused("found no table: a header row and rows of as many values, expected both")
    found = Proposal(lines_before_header=header_at, rows=body[:3])
    if table_shape.stands_upright(header, body):
        found.questions.append("rows as columns: the headings stand in the first column, one under the other")
        return found
    meant = _meant(header, found)
    _number_habit(text, header_at, meant, delimiter, encoding_of(data), found)
    cells = {k: [row[k].strip() for row in body] for k in range(len(header))}
    found.kind = _kind(meant)
    if not found.kind:
        found.questions.append("what kind of file this is: no heading says so (a heart rate, an event, a cord pH ...)")
    for k, column in meant.items():
        column = {"time": {"tracing": "t_s", "care_events": "at_s"}.get(found.kind, "")}.get(column, column)
        if column in ("fhr_bpm", "toco", "mhr_bpm", "event") and found.kind == "cases":
            found.questions.append(f"what column {k + 1} holds: its heading means {column}, which is none of a case's")
        elif column:
            _judge(k, column, header, cells[k], found)
    _which_vessel(cells, found)
    _finish(found, header)
    return found


def _meant(header: Sequence[str], found: Proposal) -> dict[int, str]:
    """What each heading means, where it can mean one thing only and no other heading means it too."""
    every = {k: columns_of(plain_heading(name)[0]) for k, name in enumerate(header)}
    times = Counter(column for columns in every.values() for column in columns)
    meant = {}
    for k, columns in every.items():
        if len(columns) == 1 and times[columns[0]] == 1:
            meant[k] = columns[0]
        elif columns:
            found.asked_columns.update(columns)
            found.questions.append(
                f"what column {k + 1} holds: its heading could mean {' or '.join(columns)}, or it stands twice"
            )
    unknown = [str(k + 1) for k, columns in every.items() if not columns]
    if unknown:
        found.questions.append(
            f"whether columns {', '.join(unknown)} hold something of use: their headings are not known"
        )
    return meant


def _number_habit(
    text: bytes, header_at: int, meant: dict[int, str], delimiter: str, encoding: str, found: Proposal
) -> None:
    start = 0
    for _ in range(header_at):
        start = text.find(b"\n", start) + 1
    width = max(meant, default=-1) + 1
    ours = {k: "t_s" if column == "time" else column for k, column in meant.items()}
    names = [ours[k] if ours.get(k) in NUMBER_COLUMNS else "" for k in range(width)]
    try:
        written = habits_of(text[start:], names, delimiter, encoding)
    except FileRefused as error:
        found.questions.append(f"which decimal mark the file has: {error}")
        return
    found.decimal = written.decimal
    found.read_as = written.sentence() or "read with commas, decimal points and UTF-8"


def _kind(meant: dict[int, str]) -> str:
    have = set(meant.values())
    if "fhr_bpm" in have:
        return "tracing"
    if "event" in have:
        return "care_events"
    return "cases" if have & {"period", *_UNITS} - {"fhr_bpm", "mhr_bpm", "toco"} else ""


def _judge(k: int, column: str, header: Sequence[str], cells: list[str], found: Proposal) -> None:
    """Take a column with its unit, or ask."""
    given = [cell for cell in cells if cell]
    unit: str | None
    if not given:
        unit = None
    elif column in ("t_s", "at_s", "birth_s"):
        unit = _unit_of_time(column, given, plain_heading(header[k]), found)
    elif column == "period":
        unit = _unit_of_period(given, plain_heading(header[k])[0], found)
    elif column in ("case_id", "event"):
        unit = ""
    else:
        unit = _unit_of(column, given, plain_heading(header[k]), found)
    if unit is None:
        found.asked_columns.add(column)
        found.questions.append(
            f"what column {k + 1} is given in: its heading means {column}, its values do not say the unit"
        )
        return
    if column == "event":
        _words_of(given, found)
    found.columns[column], found.places[column] = header[k], k
    if unit not in _OURS:
        found.units[column] = unit


def _unit_of(column: str, given: list[str], heading: tuple[list[str], str | None], found: Proposal) -> str | None:
    if column == "gestation_weeks" and all(_WEEKS_DAYS.fullmatch(cell) for cell in given):
        return ""
    if column == "birth_weight_g" and all(isinstance(in_grams(cell), float) for cell in given):
        return "lb+oz" if all("lb" in cell.casefold() for cell in given) else None
    numbers = _numbers(given, found.decimal)
    if column in ("fhr_bpm", "mhr_bpm", "toco"):
        numbers = _without_markers(column, numbers, found)
    if numbers is None or not len(numbers):
        return None
    if column in _WHOLE and not all(number == int(number) for number in numbers):
        return None
    if column == "toco" and float(np.max(numbers)) <= _LARGEST_KPA and heading[1] != "mmHg":
        return None
    if column == "cord_artery_base_deficit_mmol_l":
        return _base(numbers, heading[0])
    if column == "gestation_weeks" and (_weeks_or_days(numbers) or any(cell.endswith(".") for cell in given)):
        return None  # the 40th week is not 40 weeks
    if column == "fhr_bpm" and _piled(numbers):
        return None
    if column == "toco" and np.percentile(numbers, 99) > _UNITS["toco"][0][2]:
        return None
    middle, far = float(np.median(numbers)), (float(np.min(numbers)), float(np.max(numbers)))
    units = [
        unit
        for unit, low, high in _UNITS[column]
        if low <= middle <= high
        and (unit not in _ONLY_SAID or heading[1] == unit)
        and far[0] >= low / 3
        and far[1] <= high * 1.5
    ]
    if column in _WHOLE or column == "toco":
        units = [
            unit
            for unit, low, high in _UNITS[column]
            if low <= far[0] and far[1] <= high * (2 if column == "toco" else 1)
        ]
    said = heading[1]
    if len(units) != 1 or said not in (units[0], None, "mmHg" if column == "toco" else None):
        return None
    return units[0]


def _which_vessel(cells: dict[int, list[str]], found: Proposal) -> None:
    """Ask where most cords have the higher pH in the artery: the vein's is the higher one, as the import checks."""
    names = ("cord_artery_ph", "cord_vein_ph")
    if not set(names) <= set(found.columns) or any(name in found.units for name in names):
        return
    artery, vein = (cells[found.places[name]] for name in names)
    both = [(a, v) for a, v in zip(artery, vein, strict=True) if a and v]
    one = _numbers([a for a, _ in both], found.decimal)
    other = _numbers([v for _, v in both], found.decimal)
    if both and one is not None and other is not None and np.mean(one > other) > 0.5:
        for name in names:
            found.asked_columns.add(name)
            del found.columns[name], found.places[name]
        found.questions.append("which of the two pH is the artery's: most are higher under cord_artery_ph")


def _base(numbers: np.ndarray, words: list[str]) -> str | None:
    """Deficit or excess: the heading and the sign of the values must say the same."""
    below = float(np.mean(numbers < 0))
    text = " ".join(words)
    excess = bool(re.search(r"\b(be|eb)\b|exc|exz|ecce|overschot", text))
    deficit = bool(re.search(r"\b(bd|db)\b|defi", text))
    if np.max(np.abs(numbers)) > 40 or excess == deficit:
        return None
    if excess and below > 0.7:
        return "base excess"
    return "" if deficit and below < 0.3 else None


def _weeks_or_days(numbers: np.ndarray) -> bool:
    """Whether decimals could be days: one decimal each, none above 6, or two, none above .06."""
    tenths = np.round(numbers * 10) % 10
    with_decimal = numbers != np.floor(numbers)
    hundredths = np.round((numbers - np.floor(numbers)) * 100, 6)
    return bool(
        with_decimal.any()
        and (
            (np.all(np.abs(numbers * 10 - np.round(numbers * 10)) < 1e-6) and np.all(tenths <= 6))
            or np.all(np.isin(hundredths, np.arange(7)))
        )
    )


def _without_markers(column: str, numbers: np.ndarray | None, found: Proposal) -> np.ndarray | None:
    """The numbers without 0 and what stands for no signal: one value outside the range that comes again."""
    if numbers is None:
        return None
    outside = Counter(numbers[(numbers < -50) | (numbers > 300) | ((numbers < 0) & (column != "toco"))].tolist())
    marker = [value for value, times in outside.items() if times > 1]
    if len(outside) == 1 and marker:
        found.no_signal = tuple(dict.fromkeys((*found.no_signal, f"{marker[0]:g}")))
        numbers = numbers[numbers != marker[0]]
    return numbers[numbers != 0] if column != "toco" else numbers


def _piled(numbers: np.ndarray) -> bool:
    """Whether the lowest or highest rate comes so often, and is so rare a rate, that it may stand for no signal."""
    least = max(5.0, PILE * len(numbers))
    ends = [end for end in (numbers.min(), numbers.max()) if not EXTREME_BPM[0] < end < EXTREME_BPM[1]]
    return any(np.count_nonzero(numbers == end) >= least for end in ends)


def _unit_of_time(column: str, given: list[str], heading: tuple[list[str], str | None], found: Proposal) -> str | None:
    if all(":" in cell and _CLOCK.fullmatch(cell) for cell in given):
        if column == "t_s" and not any(re.search(r":\d{2}[:.]\d{2}", cell) for cell in given):
            return None  # hours and minutes are too far apart for samples: minutes and seconds?
        dated = [cell for cell in given if DATE.fullmatch(cell)]
        if dated and not _order(dated, found):
            return None
        found.zone_asked = True
        return "clock"
    numbers = _numbers(given, found.decimal)
    if numbers is None or len(numbers) < 2 or _clock_without_colons(given):
        return None
    in_seconds = heading[1] == "seconds" or any(word.startswith(("sec", "seg", "sek")) for word in heading[0])
    if column == "t_s":
        steps = np.diff(numbers)
        step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
        counted = bool(np.all(numbers == np.rint(numbers)) and np.all(np.abs(steps[steps > 0] - 1) < 1e-9))
        short = float(np.ptp(numbers)) < _SHORTEST_S
        if step >= 1 and (counted or short) and not in_seconds and heading[1] is None:
            if counted:
                found.questions.append(
                    "seconds or sample numbers: the times count 0, 1, 2, 3 (of samples, give"
                    ' units = {t_s = "samples"} and samples_per_s)'
                )
            return None
        units = [("seconds", 0.1, 2.0), ("milliseconds", 100.0, 2000.0)]
        fitting = [unit for unit, low, high in units if low <= step <= high]
        return fitting[0] if fitting and heading[1] in (None, fitting[0]) else None
    # without the heading's word the numbers tell no unit: minutes since admission may go on for days
    return "seconds" if in_seconds and float(np.max(np.abs(numbers))) <= _LONGEST_S else None


def _clock_without_colons(given: list[str]) -> bool:
    """Whether whole numbers could be hours, minutes and seconds without a sign between (`142230`)."""
    if not all(re.fullmatch(r"(?:[01]?\d|2[0-3])[0-5]\d[0-5]\d", cell) for cell in given):
        return False
    return any(cell.startswith("0") for cell in given) or any(len(cell) == 6 for cell in given)


def _unit_of_period(given: list[str], words: list[str], found: Proposal) -> str | None:
    if all(re.fullmatch(r"\d{4}-\d{2}", cell) for cell in given):
        return ""
    if len(words) == 1 and words[0] in _BARE_DATES:
        found.questions.append("of what the dates are: births, admissions or something else")
        return None
    if not all(DATE.fullmatch(cell) for cell in given) or not _order(given, found):
        return None
    if could_be_mothers(given):
        found.questions.append("whose dates of birth they are: some are too old, or too far apart, for newborns alone")
        return None
    return "date"


def _order(dates: list[str], found: Proposal) -> bool:
    """Tell the order of day and month, and keep it; False where the dates do not say."""
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
        found.questions.append("whether day or month stands first in the dates, as date_order")
        return False
    if order != "ymd":
        found.date_order = order
    return True


def _words_of(given: list[str], found: Proposal) -> None:
    known = {name.replace("_", " ") for name in CARE_EVENTS}
    unknown = 0
    for word in dict.fromkeys(given):
        event = event_of(word)
        if event is not None:
            found.words[word] = event
        elif word.casefold().replace("_", " ") not in known:
            unknown += 1
    if unknown:
        found.questions.append(f"what {unknown} words for events mean, as words.event; rows with them are kept out")


def _numbers(given: list[str], decimal: str) -> np.ndarray | None:
    """All cells as numbers, or None where one is none."""
    if decimal == "," and any("." in cell for cell in given):
        return None  # a point between thousands
    try:
        return np.array([float(cell.replace(",", ".") if decimal == "," else cell) for cell in given])
    except ValueError:
        return None


def _finish(found: Proposal, header: Sequence[str]) -> None:
    needed = [name for name in REQUIRED.get(found.kind, ()) if name != "toco"]
    for name in needed:
        if name not in found.columns and name not in found.asked_columns:
            found.asked_columns.add(name)
            hint = ", or case_id_from_file where each file is a case" if name == "case_id" else ""
            found.questions.append(f"which column is {name}{hint}")
    if len({plain for plain in (" ".join(name.casefold().split()) for name in header)}) < len(header):
        found.questions.append("which is which: two columns have the same heading")
