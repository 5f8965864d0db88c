# ruff: noqa: E501 (one form a line reads best)
"""Invented identifiers in several countries' formats, and harmless cells of the trade, drawn with a fixed seed.

The kinds are those of 45 CFR 164.514(b)(2)(i) and of the numbers that European states give; formats from memory. Names
are put together from syllables, so that they are nobody's.
"""

import random
import string
from collections.abc import Callable
from functools import cache

import numpy as np

PER_KIND = 100
_HEADS = [
    "Bren",
    "Tar",
    "Quil",
    "Mos",
    "Hald",
    "Fen",
    "Vor",
    "Lys",
    "Ost",
    "Kram",
    "Zel",
    "Dru",
    "Pell",
    "Norv",
    "Gris",
    "Wyn",
    "Jast",
    "Ulm",
    "Cor",
    "Eld",
]
_TAILS = [
    "dahl",
    "ova",
    "lund",
    "sen",
    "etti",
    "mann",
    "berg",
    "wick",
    "ares",
    "ström",
    "ier",
    "oux",
    "inho",
    "ska",
    "nen",
    "elli",
    "field",
    "more",
    "bach",
    "ez",
]
_GIVEN = [
    "Tess",
    "Marl",
    "Ingr",
    "Olv",
    "Hel",
    "Ros",
    "Vik",
    "Ann",
    "Jor",
    "Kat",
    "Lis",
    "Per",
    "Sig",
    "Dag",
    "Elv",
    "Mir",
]
_GIVEN_ENDS = ["a", "ine", "id", "ette", "ika", "e", "ia", "us", "en", "on"]
_STREETS = ["Mill", "Station", "Church", "Quarry", "Harbour", "Orchard", "Bridge", "Castle"]
_MONTH_NAMES = [
    "January",
    "February",
    "March",
    "April",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]


def _digits(rng: random.Random, count: int) -> str:
    return "".join(rng.choice(string.digits) for _ in range(count))


def _letters(rng: random.Random, count: int) -> str:
    return "".join(rng.choice(string.ascii_uppercase) for _ in range(count))


def _surname(rng: random.Random) -> str:
    return rng.choice(_HEADS) + rng.choice(_TAILS)


def _given(rng: random.Random) -> str:
    return rng.choice(_GIVEN) + rng.choice(_GIVEN_ENDS)


def _date(rng: random.Random) -> tuple[int, int, int]:
    return rng.randint(1950, 2026), rng.randint(1, 12), rng.randint(11, 28)


def _numeric_date(rng: random.Random) -> str:
    year, month, day = _date(rng)
    forms = (f"{day:02}.{month:02}.{year}", f"{day}/{month}/{year}", f"{year}-{month:02}-{day:02}", f"{year}{month:02}{day:02}",
             f"{day:02}-{month:02}-{year % 100:02}", f"{month:02}/{day:02}/{year}")  # fmt: skip
    return rng.choice(forms)


def _word_date(rng: random.Random) -> str:
    year, month, day = _date(rng)
    name = _MONTH_NAMES[month % 11]
    return rng.choice(
        (f"{day} {name} {year}", f"{name} {day}, {year}", f"{day}th of {name}", f"{day}. {name[:3]} {year}")
    )


def _clock(rng: random.Random) -> str:
    hour, minute = rng.randint(10, 23), rng.randint(0, 59)
    return rng.choice(
        (f"{hour}:{minute:02}", f"{hour}:{minute:02}:{rng.randint(0, 59):02}", f"born at {hour}:{minute:02}")
    )


def _phone(rng: random.Random) -> str:
    d = lambda n: _digits(rng, n)  # noqa: E731 - local shorthand
    return rng.choice((f"+45 {d(2)} {d(2)} {d(2)} {d(2)}", f"({d(3)}) {d(3)}-{d(4)}", f"07{d(3)} {d(6)}", f"+49 30 {d(7)}",
                       f"0{d(1)} {d(2)} {d(2)} {d(2)} {d(2)}", f"+1-{d(3)}-{d(3)}-{d(4)}", f"0{d(9)}"))  # fmt: skip


def _national(rng: random.Random) -> str:
    d = lambda n: _digits(rng, n)  # noqa: E731 - local shorthand
    year, month, day = _date(rng)
    birth = f"{day:02}{month:02}{year % 100:02}"
    return rng.choice((f"{birth}-{d(4)}", f"9{d(2)} {d(3)} {d(4)}", f"{d(3)}-{d(2)}-{d(4)}", f"{year}{month:02}{day:02}-{d(4)}",
                       f"{_letters(rng, 2)}{d(6)}{rng.choice('ABCD')}", f"{birth}-{d(3)}{_letters(rng, 1)}"))  # fmt: skip


def _letter_number(rng: random.Random) -> str:
    d = lambda n: _digits(rng, n)  # noqa: E731 - local shorthand
    return rng.choice((f"{d(8)}{_letters(rng, 1)}", f"{_letters(rng, 1)}{d(9)}", f"{_letters(rng, 6)}{d(2)}{_letters(rng, 1)}{d(2)}{_letters(rng, 1)}{d(3)}{_letters(rng, 1)}"))  # fmt: skip


def _postcode(rng: random.Random) -> str:
    d, c = lambda n: _digits(rng, n), lambda n: _letters(rng, n)
    return rng.choice((f"{c(2)}{d(1)} {d(1)}{c(2)}", f"{c(1)}{d(2)} {d(1)}{c(2)}", f"{c(1)}{d(1)}{c(1)} {d(1)}{c(1)}{d(1)}", f"{rng.randint(1000, 9999)} {c(2)}"))  # fmt: skip


def _address(rng: random.Random) -> str:
    number, street = rng.randint(1, 240), rng.choice(_STREETS)
    return rng.choice(
        (f"{number} {street} Road", f"{street}strasse {number}", f"{street}gade {number}", f"{number} {street} Street")
    )


KINDS: dict[str, Callable[[random.Random], str]] = {
    "full name": lambda r: f"{_given(r)} {_surname(r)}",
    "surname, given name": lambda r: f"{_surname(r)}, {_given(r)}",
    "initial and surname": lambda r: f"{_given(r)[0]}. {_surname(r)}",
    "surname in capitals": lambda r: f"{_surname(r).upper()}, {_given(r)}",
    "name with title": lambda r: f"{r.choice(('Dr', 'Mrs', 'Ms', 'Prof.', 'Midwife', 'Frau'))} {_surname(r)}",
    "name with dots": lambda r: f"{_given(r)}.{_surname(r)}".lower(),
    "double name": lambda r: f"{_given(r)} {_surname(r)}-{_surname(r)}",
    "date in figures": _numeric_date,
    "date in words": _word_date,
    "time of day": _clock,
    "telephone number": _phone,
    "e-mail address": lambda r: f"{_given(r)}.{_surname(r)}@mail{r.randint(1, 99)}.example".lower(),
    "web address": lambda r: f"https://www.{_surname(r).lower()}.example/{_digits(r, 4)}",
    "network address": lambda r: ".".join(str(r.randint(1, 254)) for _ in range(4)),
    "device address": lambda r: ":".join(f"{r.randint(0, 255):02X}" for _ in range(6)),
    "national number": _national,
    "national number with letters": _letter_number,
    "record number": lambda r: r.choice((f"MRN {_digits(r, 7)}", _digits(r, 8), f"H{_digits(r, 7)}", f"{_digits(r, 6)}/{_digits(r, 2)}")),
    "device serial": lambda r: r.choice((f"SN{_digits(r, 8)}", f"serial no {_letters(r, 2)}{_digits(r, 6)}", f"S/N {_digits(r, 7)}")),
    "bank account": lambda r: f"{_letters(r, 2)}{_digits(r, 2)} {_digits(r, 4)} {_digits(r, 4)} {_digits(r, 4)} {_digits(r, 2)}",
    "postcode": _postcode,
    "street address": _address,
}  # fmt: skip


def identifiers(seed: int = 12) -> list[tuple[str, str]]:
    """(kind, cell), `PER_KIND` of each kind, no cell twice."""
    rng, made, seen = random.Random(seed), [], set()
    for kind, draw in KINDS.items():
        count = 0
        while count < PER_KIND:
            cell = draw(rng)
            if cell not in seen:
                seen.add(cell)
                made.append((kind, cell))
                count += 1
    return made


_SENTENCES = (
    "Discussed with {} during handover.", "{} was informed before birth", "Why did {} wait for the senior?",
    "The note says {} and nothing else", "Ask {} about the second stage",
)  # fmt: skip


def texts_with_identifiers(seed: int = 12) -> list[tuple[str, str]]:
    """(kind, sentence) as somebody at a meeting might write it, each with one identifier in it."""
    rng = random.Random(seed)
    return [(kind, rng.choice(_SENTENCES).format(cell)) for kind, cell in identifiers(seed)]


def harmless_texts(seed: int = 12) -> list[str]:
    """Questions, learning points and notes of the trade, with figures, doses, scores and our own capitalised words."""
    rng, made = random.Random(seed), []
    n = rng.randint
    forms: tuple[Callable[[], str], ...] = (
        lambda: f"{n(2, 9)} decelerations {n(30, 90)} bpm", lambda: f"dec {n(30, 90)} at {n(20, 60)}",
        lambda: f"Apgar {n(1, 9)}/{n(1, 9)}/10", lambda: f"{n(1, 9)}/{n(1, 9)}/10", lambda: f"second stage {n(0, 3)}:{n(10, 59)}",
        lambda: f"oxytocin {n(1, 10)} units in 500 ml", lambda: f"terbutaline 0.25 mg given after {n(3, 20)} minutes",
        lambda: f"Position Change after {n(2, 12)} min", lambda: f"baseline {n(110, 160)} bpm, rose to {n(161, 190)}",
        lambda: f"pH 7.{n(10, 35)}, lactate {n(2, 9)}.{n(0, 9)}, base deficit {n(2, 14)}",
        lambda: f"birth weight {n(2400, 4400)} g at {n(37, 42)}+{n(0, 6)} weeks", lambda: f"row {n(1, 4000)} of the table",
        lambda: f"Category II for {n(20, 90)} minutes, senior called late", lambda: f"Was FIGO 2015 pathological from minute {n(10, 400)}?",
        lambda: "Why was Oxytocin not reduced when contractions came every two minutes?",
        lambda: f"Good: Senior at bedside within {n(3, 15)} minutes. Poor: no Scalp Sample.",
        lambda: f"Signal loss {n(10, 60)} % in the last {n(30, 90)} min; electrode not offered",
        lambda: f"G{n(1, 6)}P{n(0, 5)}, {n(36, 41)}+{n(0, 6)}, induced, epidural at {n(3, 9)} cm",
        lambda: f"case {n(1, 60)} of {n(60, 90)}: readers split {n(1, 4)} to {n(2, 6)}",
        lambda: f"IV fluid bolus {n(250, 999)} ml then ephedrine {n(3, 12)} mg", lambda: f"contractions {n(3, 7)} in 10",
        lambda: "Teach tachysystole with Late Decelerations before the next Meeting.",
        lambda: f"Bring forward the audit of decision to birth: {n(10, 60)} of {n(60, 120)} within 30 minutes",
        lambda: f"rates {n(110, 150)} {n(110, 150)} {n(110, 150)} bpm read off the paper", lambda: f"NICE NG229 and NICHD 2008 differ at minute {n(1, 300)}",
        lambda: "Midwife and Registrar agreed; Anaesthetist called early.", lambda: f"Kielland forceps after {n(2, 4)} pulls of the vacuum",
    )  # fmt: skip
    while len(made) < 2160:
        made.append(forms[len(made) % len(forms)]())
    return made


def _ends(form: bytes) -> tuple[int, int]:
    """Its first and its last four bytes."""
    return int.from_bytes(form[:4], "little"), int.from_bytes(form[-4:], "little")


@cache
def _sought(cells: tuple[str, ...]) -> tuple[dict[str, set[bytes]], np.ndarray]:
    """How each may be written in small letters, and which three bytes its first and last four begin with."""
    forms = {cell: {cell.encode().lower(), cell.casefold().encode().lower()} for cell in cells}
    begins = np.zeros(1 << 24, dtype=bool)
    for form in (form for each in forms.values() for form in each):
        begins[[end & 0xFFFFFF for end in _ends(form)]] = True
    return forms, begins


def found_in(content: bytes, cells: list[str]) -> list[str]:
    """Those that stand in it, in large or small letters; those beyond a to z as planted or folded.

    Only those whose first and last four bytes stand somewhere are looked for, which leaves few: thousands in each of
    many files took most of the time of the tests that ask.
    """
    forms, begins = _sought(tuple(cells))
    lowered = content.lower()
    there = set()
    for k in range(4):
        words = np.frombuffer(lowered[k : len(lowered) - (len(lowered) - k) % 4], dtype="<u4")
        there |= set(words[begins[words & 0xFFFFFF]].tolist())

    def stands(form: bytes) -> bool:
        return (len(form) < 4 or there.issuperset(_ends(form))) and form in lowered

    return [cell for cell, each in forms.items() if any(stands(form) for form in each)]
