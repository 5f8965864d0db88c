"""How much room text takes in the face of the slides, without the face: so many lines, so high.

The advance widths are in thousandths of the size, those of Liberation Sans, which was made with the widths of Arial;
the tests ask an installed one for each letter.
"""

import unicodedata
from collections.abc import Iterator, Sequence
from functools import cache

FACE = "Arial"
LINE_HEIGHT = 1.15  # of the size: ascent, descent and the gap between two lines
_REGULAR = {
    191: "'", 222: "ijl", 260: "|", 278: " !,./:;I[\\]ft·", 333: "()-`r²", 334: "{}", 355: '"', 389: "*", 400: "°",
    469: "^", 500: "Jcksvxyz", 549: "≥≤≈", 556: "#$0123456789?L_abdeghnopqu–", 576: "µ", 584: "+<=>~×", 611: "FTZß",
    667: "&ABEKPSVXY", 722: "CDHNRUw", 778: "GOQ", 833: "Mm", 889: "%", 944: "W", 1000: "…", 1015: "@",
}  # fmt: skip
_BOLD = {
    238: "'", 278: " ,./I\\ijl·", 280: "|", 333: "!()-:;[]`ft²", 389: "*r{}", 400: "°", 474: '"', 500: "z", 549: "≥≤≈",
    556: "#$0123456789J_aceksvxy–", 576: "µ", 584: "+<=>^~×", 611: "?FLTZbdghnopquß", 667: "EPSVXY", 722: "&ABCDHKNRU",
    778: "GOQw", 833: "M", 889: "%m", 944: "W", 975: "@", 1000: "…",
}  # fmt: skip
_WIDTHS = {
    is_bold: {letter: width for width, letters in table.items() for letter in letters}
    for is_bold, table in ((False, _REGULAR), (True, _BOLD))
}
_WIDEST = 1000  # of a letter that neither table knows


def width_pt(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Width of text on one line (pt)."""
    return sum(_thousandths(letter, bold) for letter in text) * size_pt / 1000


@cache
def _thousandths(letter: str, bold: bool) -> int:
    known = _WIDTHS[bold]
    if letter in known:
        return known[letter]
    plain = unicodedata.normalize("NFD", letter)  # a letter with an accent is as wide as the letter
    return known.get(plain[0], _WIDEST)


def longest_word_pt(texts: Sequence[str], size_pt: float, *, bold: bool = False) -> float:
    """Width of the widest word of all texts (pt)."""
    return max((width_pt(word, size_pt, bold=bold) for text in texts for word in text.split()), default=0.0)


def line_count(text: str, room_pt: float, size_pt: float, *, bold: bool = False) -> int:
    """Lines that text takes in a column of so much room (pt), broken between words; a word that is wider is split."""
    return sum(1 for _ in _lines(text, room_pt, size_pt, bold))


def height_pt(text: str, room_pt: float, size_pt: float, *, bold: bool = False, after_pt: float = 0) -> float:
    """Height of the lines of text in a column of so much room (pt), with `after_pt` below each paragraph."""
    lines = line_count(text, room_pt, size_pt, bold=bold)
    return lines * size_pt * LINE_HEIGHT + after_pt * (text.count("\n") + 1)


def fitting(text: str, room_pt: float, most_pt: float, size_pt: float, *, after_pt: float = 0) -> str:
    """As much of a text as fits into a column so wide and high (pt), cut between words with a sign that more stands
    elsewhere."""

    def fits(candidate: str) -> bool:
        return height_pt(candidate, room_pt, size_pt, after_pt=after_pt) <= most_pt

    if fits(text):
        return text
    ends = [k for k, letter in enumerate(text) if letter.isspace()]
    low, high = 0, len(ends)
    while low < high:  # the longest part that fits, by halves
        middle = (low + high + 1) // 2
        if fits(text[: ends[middle - 1]] + " …"):
            low = middle
        else:
            high = middle - 1
    return text[: ends[low - 1]].rstrip() + " …" if low else "…"


def _lines(text: str, room_pt: float, size_pt: float, bold: bool) -> Iterator[float]:
    """The width of each line (pt)."""
    space = width_pt(" ", size_pt, bold=bold)
    for paragraph in text.split("\n"):
        line = 0.0
        for word in paragraph.split():
            wide = width_pt(word, size_pt, bold=bold)
            if line and line + space + wide <= room_pt:
                line += space + wide
                continue
            if line:
                yield line
            while wide > room_pt > size_pt:  # split: every line but the last is full
                yield room_pt
                wide -= room_pt - size_pt  # up to a letter's width of a split line stays free
            line = wide
        yield line
