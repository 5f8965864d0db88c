"""How this house writes: its decimal mark, dates and words, put over texts where they leave for a page or for paper.

What is stored, asked and sent to other programs (tables, JSON, Parquet, the terminal) keeps points, YYYY-MM-DD and our
words. A page or a pack says `use` first; then `text` turns what was written our way into the house's way. This is the
one place where a stored word becomes the unit's own.
"""

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, fields, is_dataclass, replace
from functools import cached_property
from typing import Any, Final, TypeVar

from audit.vocabulary import RISK_FACTORS

_Any = TypeVar("_Any")
# narrow and no-break, so that a figure is never broken into lines
_THIN_SPACE: Final = "\u202f"
# English words that mean more than the stored word, or something else beside it: replaced alone, not in a sentence
_OF_MANY_USES = """I II III birth both early external intrauterine late lead chair reader viewer none other present
    absent variable prolonged unclassified day night"""
_ONLY_ALONE: Final = frozenset(_OF_MANY_USES.split())
_DATE_PARTS: Final = {
    "2031-04-07": ("{y}-{m}-{d}", "{y}-{m}"),
    "07.04.2031": ("{d}.{m}.{y}", "{m}.{y}"),
    "07/04/2031": ("{d}/{m}/{y}", "{m}/{y}"),
    "07-04-2031": ("{d}-{m}-{y}", "{m}-{y}"),
    "04/07/2031": ("{m}/{d}/{y}", "{m}/{y}"),
}
# a figure beside these names a place in a text, or a version
_NAMES_A_PLACE = re.compile(r"(?:NG229|CG190|version|[Ss]ection|[Tt]able|[Cc]hapter|DuckDB|Python) $")
_WORDS_OF_A_TERM: Final = 3
_PURE_DATE = re.compile(r"\d{4}-\d\d(?:-\d\d(?: \d\d:\d\d)?)?")


@dataclass(frozen=True)
class HouseStyle:
    """The marks, the form of dates (how 7 April 2031 is written) and the shown words by the stored ones."""

    decimal: str = "."
    thousands: str = ","
    date: str = "2031-04-07"
    words: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_ours(self) -> bool:
        """Whether nothing differs from what is written anyway."""
        return (self.decimal, self.thousands, self.date, dict(self.words)) == (".", ",", "2031-04-07", {})

    @property
    def date_letters(self) -> str:
        """The form of a whole date as a calendar's settings name it."""
        return _DATE_PARTS[self.date][0].format(y="YYYY", m="MM", d="DD")

    @cached_property
    def _by_word(self) -> dict[str, str]:
        spelled: dict[str, str] = {}
        for word, shown in self.words.items():
            spaced = " ".join("IV" if part == "iv" else part for part in word.split("_"))
            spelled |= {word.lower(): shown, spaced.lower(): shown}
        return spelled

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        joined = sorted((w for w in self._by_word if w not in _LOWER_ALONE), key=len, reverse=True)
        words = "|".join(re.escape(word).replace(r"\ ", " ") for word in joined) or r"(?!)"
        dash, point = r"\\?-", r"\\?\."  # a page's own escapes may stand before them
        return re.compile(
            rf"(?P<kept>`[^`]*`|\]\([^)]*\)|\S*(?:://|@)\S*)"
            rf"|(?<![\w.,/-])(?<!\d:)(?P<y>(?:19|20|21)\d\d){dash}(?P<m>0[1-9]|1[0-2])(?:{dash}(?P<d>[0-3]\d))?(?![\w/-])"
            rf"|(?<![\w.,/])(?P<whole>\d{{1,3}}(?:,\d{{3}})+|\d+)(?:{point}(?P<part>\d+))?(?![\w]|{point}\d|,\d)"
            rf"|(?<!\w)category (?P<tier>III|II|I)(?!\w)"
            rf"|(?<!\w)(?P<share>III|II|I)(?= \d+ ?%)"
            rf"|(?<!\w)(?P<tiers>I II III)(?!\w)"
            rf"|(?<![\w`/.\"])(?P<word>{words})(?![\w`/])(?!\.\w)",
            re.IGNORECASE,
        )

    def text(self, text: str) -> str:
        """A sentence, heading or cell as this house writes it. Code between backticks and addresses stay."""
        if self.is_ours:
            return text
        label, colon, listed = text.rpartition(": ")
        parts = listed.split(", ")
        if all(len(part.split()) <= _WORDS_OF_A_TERM for part in parts):  # terms alone, or a list of them
            return (self._sentence(label) if label else "") + colon + ", ".join(map(self._term, parts))
        return self._sentence(text)

    def cell(self, text: str) -> str:
        """A whole cell of a table for work elsewhere: one stored word, or a date and nothing else; anything else stays.

        What tells the form of dates in words follows it.
        """
        if is_date(text):
            return self._date(text[:4], text[5:7], text[8:10]) + text[10:]
        whole, of_month = (form.format(y="YYYY", m="MM", d="DD") for form in _DATE_PARTS[self.date])
        told = text.replace("YYYY-MM-DD", whole).replace("YYYY-MM", of_month)
        several = text.split(" ")  # risk factors of a case stand in one cell
        if len(several) > 1 and set(several) <= set(RISK_FACTORS) and any(word in self._by_word for word in several):
            return ", ".join(self._by_word.get(word, word) for word in several)
        return self._by_word.get(text.lower(), told)

    def _term(self, text: str) -> str:
        alone = self._by_word.get(text.strip().lower())
        return self._sentence(text) if alone is None else _as_large(text.strip(), alone)

    def _sentence(self, text: str) -> str:

        def put(found: re.Match[str]) -> str:
            if found["kept"]:
                return found[0]
            if found["y"]:
                return self._date(found["y"], found["m"], found["d"])
            if found["whole"]:
                before = text[max(0, found.start() - 10) : found.start()]
                return found[0] if _NAMES_A_PLACE.search(before) else self._figure(found["whole"], found["part"])
            if found["tier"]:
                return f"{found[0][:9]}{self._tier(found['tier'])}"
            if tiers := found["share"] or found["tiers"]:
                return ", ".join(map(self._tier, tiers.split())) if " " in tiers else self._tier(tiers)
            return _as_large(found["word"], self._by_word[found["word"].lower()])

        return self._pattern.sub(put, text)

    def _tier(self, tier: str) -> str:
        return self.words.get(tier.upper(), tier)

    def figure(self, figure: str) -> str:
        """A number that is written with a point, and commas between its thousands, if any."""
        whole, _, part = figure.partition(".")
        return self._figure(whole, part or None)

    def _figure(self, whole: str, part: str | None) -> str:
        between = _THIN_SPACE if self.thousands == " " else self.thousands
        return whole.replace(",", between) + ("" if part is None else self.decimal + part)

    def _date(self, year: str, month: str, day: str | None) -> str:
        whole, of_month = _DATE_PARTS[self.date]
        return (whole if day else of_month).format(y=year, m=month, d=day)


_LOWER_ALONE = frozenset(word.lower() for word in _ONLY_ALONE)
OURS: Final = HouseStyle()
_IN_FORCE = [OURS]


def of(table: Any) -> HouseStyle:
    """The style of a settings table `[locale]`."""
    words = {**table.words, **table.roles, **table.events, **table.categories}
    return HouseStyle(table.decimal, table.thousands, table.date, words)


def use(style: HouseStyle) -> HouseStyle:
    """Write this way from now on, in this process; the style until now."""
    former, _IN_FORCE[0] = _IN_FORCE[0], style
    return former


@contextmanager
def written(style: HouseStyle) -> Iterator[None]:
    """Write this way within the block."""
    former = use(style)
    try:
        yield
    finally:
        use(former)


def in_force() -> HouseStyle:
    """The style in use."""
    return _IN_FORCE[0]


def figure(figure: str) -> str:
    """A number with a point, and commas between its thousands, as the house writes it."""
    return _IN_FORCE[0].figure(figure)


def text(text: str) -> str:
    """A text as the house writes it."""
    return _IN_FORCE[0].text(text)


def is_date(text: str) -> bool:
    """Whether a cell is a month, a day or a moment and nothing else: sorted as it is, shown as the house does."""
    return _PURE_DATE.fullmatch(text) is not None


def everywhere(found: _Any, *, but: frozenset[str] = frozenset()) -> _Any:
    """The same lists, tables and records with every text in them as the house writes it.

    `but` names the fields and keys whose content stays: names of files, of fields, drawings.
    """
    if _IN_FORCE[0].is_ours:
        return found
    changed: _Any = _put(found, but)
    return changed


def _put(found: Any, but: frozenset[str]) -> Any:
    if type(found) is str:  # no member of an enumeration
        return _IN_FORCE[0].text(found)
    if isinstance(found, dict):
        return {key: value if key in but else _put(value, but) for key, value in found.items()}
    if isinstance(found, list | tuple):
        return type(found)([_put(value, but) for value in found])
    if is_dataclass(found) and not isinstance(found, type):
        changed = {f.name: _put(getattr(found, f.name), but) for f in fields(found) if f.init and f.name not in but}
        return replace(found, **changed)
    return found


def _as_large(ours: str, own: str) -> str:
    return own[:1].upper() + own[1:] if ours[:1].isupper() and not ours.isupper() else own
