"""A mapping proposed from a file's header and values. What is not sure is asked, never taken.

A column is taken when its heading is known and its values lie in the range of one unit alone. Nothing is stored, and
nothing that was typed is said: headings are named where each of their words is known, other columns by their place.
"""

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from audit.intake.checks.channels import EXTREME_BPM, PILE
from audit.intake.door.headings import columns_of, mark_of_heart_rate, plain_heading
from audit.intake.door.remarks import FileRefused
from audit.intake.formats import compressed, csv_file, table_shape
from audit.intake.formats.conversions import in_grams
from audit.intake.formats.habits import encoding_of, habits_of
from audit.intake.formats.tables import NUMBER_COLUMNS, OPTIONAL, REQUIRED
from audit.intake.guess_times import SAMPLES_AT, numbers_of, time_choices, unit_of_period, unit_of_time
from audit.intake.guess_words import (
    names_of_cases,
    pattern_of,
    without_markers,
    without_pile,
    without_texts,
    words_of_events,
)
from audit.intake.proposal import ASKED, Choice, Proposal
from audit.setting_tables.mapping import CHANNELS, UNITS

_LOOKED_AT = 5000  # rows; our choice
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
_AS_GIVEN = "as given"
_OURS = {"kPa", "mmol/L", "pH", "g", "weeks", "", "seconds", _AS_GIVEN, "base deficit"}
_WHOLE = ("parity", "apgar_1", "apgar_5", "apgar_10")
_KINDS = ("tracing", "care_events", "cases")  # that are proposed
_ANSWERABLE = {"time", *(column for kind in _KINDS for column in (*REQUIRED[kind], *OPTIONAL[kind]))}
_ONLY_SAID = ("lb", "oz")  # units that a heading must name, because kilograms may have the same numbers
_LARGEST_KPA = 13.0  # a toco that never goes higher may be in kPa, as in `checks/channels.py`


def guess(path: Path, max_mib: int, answers: Mapping[str, str] | None = None, name: str = "") -> Proposal:
    """Look at a file of text, with what a person has answered, by key. Raises FileRefused for what is none.

    `name`: of the file, where it lies under another meanwhile.
    """
    data = compressed.read_bytes(path, max_mib)
    text = csv_file.checked_text(data)
    lines = [line for line in text.decode("utf-8").splitlines()[:_LOOKED_AT]]
    delimiter, header_at = table_shape.delimiter_of(lines)
    header_at = table_shape.header_line(lines, delimiter, header_at)
    rows = [row for row in csv.reader(lines[header_at:], delimiter=delimiter)]
    header, at = rows[0], [k for k, row in enumerate(rows) if k and len(row) == len(rows[0])]
    body = [rows[k] for k in at]
    if not body:
        raise FileRefused("found no table: a header row and rows of as many values, expected both")
    found = Proposal(lines_before_header=header_at, rows=body[:3], answers=dict(answers or {}))
    if table_shape.stands_upright(header, body):
        found.ask("rows as columns: the headings stand in the first column, one under the other")
        return found
    meant = _meant(header, found)
    _number_habit(text, header_at, meant, delimiter, encoding_of(data), found)
    cells = {k: [row[k].strip() for row in body] for k in range(len(header))}
    found.kind = _kind(meant, found)
    if not found.kind:
        found.ask("what kind of file this is: no heading says so (a heart rate, an event, a cord pH ...)")
    for k, column in meant.items():
        column = {"time": {"tracing": "t_s", "care_events": "at_s"}.get(found.kind, "")}.get(column, column)
        if column in ("fhr_bpm", "toco", "mhr_bpm", "event") and found.kind == "cases":
            found.ask(f"what column {k + 1} holds: its heading means {column}, which is none of a case's")
        elif column:
            _judge(k, column, header, cells[k], found)
    if "event" in found.places:
        words_of_events(cells[found.places["event"]], [header_at + k + 1 for k in at], found)
    _which_vessel(cells, found)
    _finish(found, header, name or path.name)
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
            question = f"what column {k + 1} holds: its heading could mean {' or '.join(columns)}, or it stands twice"
            choices = [Choice(f"columns.{column}", str(k + 1), column) for column in columns]
            if found.ask(question, choices) is None:
                found.asked_columns.update(columns)
    # without a heading that is known the first row may hold values, and would be lost as one of headings
    meant = _as_answered(meant, len(header), found) if any(every.values()) else meant
    meant, asked = _several_fetuses(header, meant, found)
    unknown = [str(k + 1) for k, columns in every.items() if not columns and k not in meant and k not in asked]
    if unknown:
        found.ask(f"whether columns {', '.join(unknown)} hold something of use: their headings are not known")
    return meant


def _as_answered(meant: dict[int, str], width: int, found: Proposal) -> dict[int, str]:
    """The same with the columns that a person has named; what stood where one goes takes its place."""
    for key, place in found.answers.items():
        column = key.removeprefix("columns.")
        if column == key or column not in _ANSWERABLE or not place.isdecimal() or not 0 < int(place) <= width:
            continue
        k, before = int(place) - 1, next((k for k, named in meant.items() if named == column), None)
        instead = meant.get(k)
        meant[k] = column
        if before is not None and before != k:
            del meant[before]
            meant |= {} if instead is None else {before: instead}
        found.used.add(key)
    return meant


def _several_fetuses(
    header: Sequence[str], meant: dict[int, str], found: Proposal
) -> tuple[dict[int, str], Sequence[int]]:
    """Heart rates whose headings differ by a number: of several fetuses where a person says so, or of several sensors.

    The meanings with theirs, and the places that this is about.
    """
    marks = {k: mark for k, name in enumerate(header) if (mark := mark_of_heart_rate(name)) is not None}
    free = [k for k in marks if meant.get(k) in (None, "fhr_bpm")]
    others = [k for k, column in meant.items() if column == "fhr_bpm" and k not in free]
    if not 2 <= len(free) <= 4 or len({marks[k] for k in free}) < len(free) or others:
        return meant, ()
    places = [k + 1 for k in sorted(free, key=marks.__getitem__)]
    choices = [Choice("fetuses", "+".join(map(str, places)), "each of a fetus")]
    choices += [Choice("columns.fhr_bpm", str(place), f"of one fetus: column {place} alone") for place in places]
    said = found.ask(f"whether the fhr_bpm of columns {', '.join(map(str, places))} are of several fetuses", choices)
    if said is None:
        found.asked_columns.add("fhr_bpm")
    one = int(said) - 1 if said is not None and said.isdecimal() else None
    kept = {k: column for k, column in meant.items() if column != "fhr_bpm" or k == one}
    each = {place - 1: f"fhr_bpm.{fetus}" for place, fetus in zip(places, "ABCD", strict=False)}
    return (kept | each if said == choices[0].value else kept), free


def _number_habit(
    text: bytes, header_at: int, meant: dict[int, str], delimiter: str, encoding: str, found: Proposal
) -> None:
    start = 0
    for _ in range(header_at):
        start = text.find(b"\n", start) + 1
    width = max(meant, default=-1) + 1
    ours = {k: "t_s" if column == "time" else column for k, column in meant.items()}
    ours = {k: column.partition(".")[0] for k, column in ours.items()}
    names = [ours[k] if ours.get(k) in NUMBER_COLUMNS else "" for k in range(width)]
    try:
        written = habits_of(text[start:], names, delimiter, encoding)
    except FileRefused as error:
        found.ask(f"which decimal mark the file has: {error}")
        return
    found.decimal = written.decimal
    found.read_as = written.sentence() or "read with commas, decimal points and UTF-8"


def _kind(meant: dict[int, str], found: Proposal) -> str:
    have = {column.partition(".")[0] for column in meant.values()}
    if "fhr_bpm" in have or ("toco" in have and "fhr_bpm" in found.asked_columns):
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
    elif column.endswith("_s"):
        unit = unit_of_time(column, given, plain_heading(header[k]), k, found)
    elif column == "period":
        unit = unit_of_period(given, plain_heading(header[k])[0], found)
    elif (ours := column.partition(".")[0]) in _UNITS or column == "cord_artery_base_deficit_mmol_l":
        unit = _unit_of(ours, given, plain_heading(header[k]), found)
    else:
        unit = ""
    if unit is None:
        question = f"what column {k + 1} is given in: its heading means {column}, its values do not say the unit"
        unit = found.ask(question, _choices(column, given, found.decimal)) or ASKED
    if unit == ASKED:
        found.asked_columns.add(column)
        return
    if unit.startswith(SAMPLES_AT):
        unit, found.samples_per_s = "samples", float(unit.removeprefix(SAMPLES_AT))
    found.columns[column], found.places[column] = header[k], k
    if unit not in _OURS:
        found.units[column] = unit


def _choices(column: str, given: list[str], decimal: str) -> tuple[Choice, ...]:
    """The units that a column of these values could be in."""
    if column.endswith("_s"):
        return time_choices(column, given, decimal)
    key, numbers = f"units.{column}", numbers_of(given, decimal)
    if not given or column == "period":
        return ()
    if numbers is None:
        pounds = column == "birth_weight_g" and all(isinstance(in_grams(cell), float) for cell in given)
        return (Choice(key, "lb+oz", "pounds and ounces"),) if pounds else ()
    if column not in UNITS:
        return (Choice(key, _AS_GIVEN, "the numbers as they are"),)
    return tuple(Choice(key, unit, unit) for unit in UNITS[column] if unit != "lb+oz")


def _unit_of(column: str, given: list[str], heading: tuple[list[str], str | None], found: Proposal) -> str | None:
    if column == "gestation_weeks" and all(_WEEKS_DAYS.fullmatch(cell) for cell in given):
        return ""
    if column == "birth_weight_g" and all(isinstance(in_grams(cell), float) for cell in given):
        return "lb+oz" if all("lb" in cell.casefold() for cell in given) else None
    if column in CHANNELS:
        signal = without_texts(column, given, found)
        if signal is None:
            return ASKED
        given = signal
    numbers = numbers_of(given, found.decimal)
    if column in CHANNELS and numbers is not None:
        numbers = without_markers(column, numbers, found)
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
    if column == "fhr_bpm" and (pile := _piled(numbers)) is not None:
        signal_alone = without_pile(column, numbers, pile, found)
        if signal_alone is None:
            return ASKED
        numbers = signal_alone
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
    one = numbers_of([a for a, _ in both], found.decimal)
    other = numbers_of([v for _, v in both], found.decimal)
    doubtful = both and one is not None and other is not None and np.mean(one > other) > 0.5
    if doubtful or f"columns.{names[0]}" in found.answers:
        places = sorted(found.places[name] + 1 for name in names)
        choices = [Choice(f"columns.{names[0]}", str(place), f"column {place}") for place in places]
        if found.ask("which of the two pH is the artery's: most are higher under cord_artery_ph", choices) is None:
            for name in names:
                found.asked_columns.add(name)
                del found.columns[name], found.places[name]


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


def _piled(numbers: np.ndarray) -> float | None:
    """The lowest or highest rate, where it comes so often, and is so rare a rate, that it may stand for no signal."""
    least = max(5.0, PILE * len(numbers))
    ends = [float(end) for end in (numbers.min(), numbers.max()) if not EXTREME_BPM[0] < end < EXTREME_BPM[1]]
    return next((end for end in ends if np.count_nonzero(numbers == end) >= least), None)


def _finish(found: Proposal, header: Sequence[str], file_name: str) -> None:
    needed = [name for name in REQUIRED.get(found.kind, ()) if name != "toco"]
    for name in needed:
        known = name in found.stored or name in found.asked_columns
        if known and f"columns.{name}" not in found.answers:
            continue
        hint = ", or case_id_from_file where each file is a case" if name == "case_id" else ""
        free = [k for k in range(len(header)) if k not in found.places.values() or k == found.places.get(name)]
        choices = [Choice(f"columns.{name}", str(k + 1), f"column {k + 1}") for k in free]
        choices += names_of_cases(file_name, found) if name == "case_id" else []
        said = found.ask(f"which column is {name}{hint}", choices)
        if said is None:
            found.asked_columns.add(name)
        elif name == "case_id" and (pattern := pattern_of(said)):
            found.case_id_from_file = pattern
    if len({plain for plain in (" ".join(name.casefold().split()) for name in header)}) < len(header):
        found.ask("which is which: two columns have the same heading")
