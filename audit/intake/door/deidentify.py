"""The door: a file with a direct identifier in it is refused, by column name and by content; its value is never echoed.

What counts follows the list of the United States Safe Harbor rule, 45 CFR 164.514(b)(2)(i): names, all parts of dates
but the year, telephone and fax numbers, e-mail addresses, national and record numbers, device serials, web and
network addresses. A month of birth is let through where the contract asks for it (`period`). No rule of this kind is
complete: the unit remains responsible for what it exports.
"""

import re
from collections.abc import Iterable
from itertools import pairwise

from audit.intake.door.remarks import FileRefused

# Column names, split into words, that announce an identifier.
_WORDS = """
    surname forename firstname lastname fullname givenname familyname maidenname middlename initials signature
    dob birthdate birthday dateofbirth geburtsdatum fodselsdato datetime date datum fecha
    mrn ssn cpr nhs nhsno nhsnumber hospitalnumber recordnumber personnummer insurance policy passport
    phone telephone telefon tel mobile cellphone fax pager email mail address adresse street postcode postalcode zip
    zipcode city town village serial serialno serialnumber imei udi mac ip ipaddress url hostname licence license
    vorname nachname nom prenom apellido nombre cognome nome
"""
_NAME_WORDS = frozenset(_WORDS.split())
# Pairs of words side by side that do.
_NAME_PAIRS = frozenset(
    {
        ("patient", "id"), ("patient", "number"), ("patient", "no"), ("patient", "identifier"), ("patient", "key"),
        ("mother", "id"), ("mother", "number"), ("mothers", "id"), ("hospital", "number"), ("hospital", "no"),
        ("hospital", "id"), ("record", "number"), ("record", "no"), ("case", "note"), ("case", "notes"),
        ("national", "id"), ("person", "id"), ("personal", "number"), ("identity", "number"), ("social", "security"),
        ("account", "number"), ("device", "id"), ("monitor", "id"), ("machine", "id"), ("birth", "time"),
        ("time", "of"), ("encounter", "id"), ("episode", "number"), ("visit", "number"), ("accession", "number"),
    }
)  # fmt: skip
# `name` is an identifier unless it is the name of one of these things.
_THINGS = "event file column standard unit channel signal drug source format category shift"
_NAMED_THINGS = frozenset(_THINGS.split())
_PERSONS = "patient mother father baby partner midwife doctor clinician staff consultant nurse"
_PEOPLE = frozenset(_PERSONS.split())

_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
# A pattern starts where no letter, digit or point stands before it, so that decimals and codes are left alone.
_ALONE = r"(?<![\w.])"
_DAY, _MONTH = r"(?:0?[1-9]|[12]\d|3[01])", r"(?:0?[1-9]|1[0-2])"
_PATTERNS: tuple[tuple[str, str], ...] = (
    ("an e-mail address", r"[\w.+-]+@[\w-]+\.[\w.-]+"),
    ("a web address", r"\b(?:https?://|www\.|HTTPS?://|WWW\.)\S+"),
    ("a network address", r"\b(?:\d{1,3}\.){3}\d{1,3}\b"),
    ("a network address", r"\b(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}\b"),
    ("a calendar date", rf"(?<!\d)(?:19|20)\d\d([-/.]){_MONTH}\1{_DAY}(?!\d)"),
    ("a calendar date", rf"(?<![\d.]){_DAY}([-/.]){_DAY}\1(?:(?:19|20)\d\d|\d\d)(?![\d.])"),
    ("a calendar date", rf"(?i)\b\d{{1,2}}[ -]?(?:{_MONTHS})[a-z]*\.?[ ,-]*(?:19|20)?\d\d\b"),
    ("a calendar date", rf"(?i)\b(?:{_MONTHS})[a-z]*\.? \d{{1,2}},? (?:19|20)\d\d\b"),
    ("a calendar date", r"(?<!\d)(?:19|20)\d\d(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])(?:T?\d{4,6})?(?!\d)"),
    ("a time of day", r"(?<![\d:])(?:[01]?\d|2[0-3]):[0-5]\d(?::[0-5]\d)?(?![\d:])"),
    ("a national number", rf"{_ALONE}\d{{3}}-\d{{2}}-\d{{4}}(?![\w.])"),
    ("a national number", rf"{_ALONE}\d{{6}}[-+]\d{{4}}(?![\w.])"),
    ("a national number", rf"{_ALONE}[A-Z]{{2}} ?\d{{2}} ?\d{{2}} ?\d{{2}} ?[A-D](?!\w)"),
    ("a national number", rf"{_ALONE}\d{{3}} \d{{3}} \d{{4}}(?![\w.])"),
    ("a telephone number", rf"{_ALONE}\+\d{{1,3}}[ ()./-]*\d(?:[ ()./-]*\d){{6,12}}(?!\d)"),
    ("a telephone number", rf"{_ALONE}\(?0?\d{{2,4}}\)?[ /-]\d{{3,4}}[ -]\d{{3,4}}(?![\w.])"),
    ("a telephone number", rf"{_ALONE}0\d{{2,4}}[ /-]?\d{{6,8}}(?![\w.])"),
    ("a device serial number", r"(?i)\b(?:s/?n|serial)[ .:#-]*[a-z]*\d{4,}"),
    ("a record number", r"(?i)\b(?:mrn|nhs|hosp)[ .:#-]*\d{4,}"),
    ("a record number", r"(?<![\w.-])\d{7,13}(?![\w.-])"),
    ("a name", r"^\s*[^\W\d_][\w'’-]+, ?[^\W\d_][\w'’.-]*(?: [^\W\d_][\w'’.-]*)*\s*$"),
    ("a name", r"\b(?:[Dd]r|DR|[Mm]rs?|MRS?|[Mm]iss|Ms|Prof|Sister)\.? (?:[A-Z]\. ?)*[A-Z][a-z'’-]+"),
    ("a name", r"\b(?:named|called|name is)\s+[A-Z][a-z]+"),
)
_CONTENT = tuple((kind, re.compile(pattern)) for kind, pattern in _PATTERNS)
_TWO_WORDS = re.compile(r"^\s*[^\W\d_][^\W\d_'’-]+(?:[ _.-]+[^\W\d_][^\W\d_'’]+)+\s*$")
_CAPITALISED_PAIR = re.compile(r"^\s*[A-Z][a-z'’]+(?:[ ][A-Z][a-z'’-]+)+\s*$")
_ORDINARY = """
    case record demo test sample twin twins labour labor birth unit tracing recording invented synthetic example
    reader expert midwife obstetrician consultant computed consensus review group panel senior junior trainee
    one two three four five six seven eight nine ten first second third last early late poor good normal fetus the
    term preterm night day toco sinusoidal story a b c d x y z
"""
_NEUTRAL = frozenset(_ORDINARY.split())
MOSTLY = 0.5  # share of distinct values that look like names; our choice
_FIX = {
    "a calendar date": "give times as seconds from the case's first sample (and the month of birth in `period`)",
    "a time of day": "give times as seconds from the case's first sample",
}
_FIX_ELSE = "remove the column, or put a code of your own in its place, and export the file again"


def refuse_column_names(names: Iterable[str]) -> None:
    """Raise FileRefused for the first column whose name announces an identifier."""
    for name in names:
        if announces_identifier(name):
            raise FileRefused(
                f"the column name announces a direct identifier; expected de-identified data only: {_FIX_ELSE}",
                row=1,
                column=_plain(name),
            )


def announces_identifier(name: str) -> bool:
    """Does a column of this name hold names, dates, numbers or addresses of a person or device?"""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    words = [word for word in re.split(r"[\W_]+", spaced.lower()) if word]
    if not words:
        return False
    if any(word in _NAME_WORDS for word in words) or "".join(words) in _NAME_WORDS:
        return True
    if any(pair in _NAME_PAIRS for pair in pairwise(words)):
        return not (words[0] == "time" and words[-1] in {"s", "seconds", "min"})
    if words[-1] in {"name", "names"}:
        return len(words) == 1 or words[-2] not in _NAMED_THINGS or bool(_PEOPLE & set(words))
    return False


def identifier_in(text: str, *, code: bool = False) -> str | None:
    """What kind of identifier the text holds, or None. `code`: the text should be a code (a case id, a reader)."""
    for kind, pattern in _CONTENT:
        if pattern.search(text):
            return kind
    if code and _TWO_WORDS.match(text) and not _neutral(text):
        return "a name"
    return None


def refuse_content(column: str, values: Iterable[tuple[int, str]], *, code: bool = False) -> None:
    """Raise FileRefused for the first (row, value) that holds an identifier. The value is masked.

    `values` need each distinct value once. Free text is also refused when most of it is made of capitalised word
    pairs, as names are.
    """
    seen, named = 0, None
    matches = 0
    for row, value in values:
        kind = identifier_in(value, code=code)
        if kind is not None:
            raise refusal(kind, row, column, value)
        seen += 1
        if not code and _CAPITALISED_PAIR.match(value) and not _neutral(value):
            matches += 1
            named = named or (row, value)
    if named is not None and matches > MOSTLY * seen:
        raise refusal("a name", named[0], column, named[1])


def identifier_in_name(source: str) -> str | None:
    """What kind of identifier a file's name holds, or None. Dates of export and running numbers are let through."""
    found = (identifier_in(part.rsplit(".", 1)[0]) for part in source.split("/"))
    return next((kind for kind in found if kind in ("an e-mail address", "a national number", "a name")), None)


def refusal(kind: str, row: int | None, column: str, value: str) -> FileRefused:
    """The refusal for an identifier found in a value."""
    fix = _FIX.get(kind, _FIX_ELSE)
    reason = f"found what looks like {kind} {masked(value)}, expected de-identified data only: {fix}"
    return FileRefused(reason, row=row, column=_plain(column), value=masked(value))


def masked(value: str) -> str:
    """Stands for a value that must not be repeated."""
    return f"(masked, {len(value)} characters)"


def _neutral(text: str) -> bool:
    return any(word in _NEUTRAL for word in re.split(r"[\W_\d]+", text.lower()) if word)


def _plain(column: str) -> str:
    """The column's own name, unless that itself holds an identifier (a file without a header row)."""
    return column if identifier_in(column) is None else masked(column)
