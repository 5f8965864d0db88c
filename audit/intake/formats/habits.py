"""How a text file is written, told from itself: encoding, the sign between columns, the decimal mark.

Files with our own column names come with the habits of the program that saved them. What can be told without a doubt is
read, and the report says how; what could mean two things is refused with both.
"""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

from audit.intake.door.remarks import FileRefused
from audit.intake.formats.numbers_in_text import Unclear
from audit.intake.formats.tables import COLUMNS, NUMBER_COLUMNS, THOUSANDS_COLUMNS

DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "vertical bars"}
_UTF8_MARK, _UTF16_MARKS, _UTF32_MARKS = b"\xef\xbb\xbf", (b"\xff\xfe", b"\xfe\xff"), (b"\xff\xfe\0\0", b"\0\0\xfe\xff")
_COMMA = re.compile(r"[+-]?\d*,\d+")
_POINT = re.compile(r"[+-]?\d*\.\d+")
_TWO_WAYS = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")  # 1,234: one and a bit, or more than a thousand
_HEAD_BYTES = 1024 * 1024  # of a large file, in which the decimal mark is looked for first; our choice


@dataclass(frozen=True)
class Habits:
    """How a file is written; the default is how the contract has it."""

    delimiter: str = ","
    decimal: str = "."
    encoding: str = "UTF-8"

    def sentence(self) -> str | None:
        """What is said of a file that is not written as the contract has it; None when it is."""
        ways = [] if self.delimiter == "," else [f"{DELIMITERS[self.delimiter]} between the columns"]
        ways += [] if self.decimal == "." else ["decimal commas"]
        ways += [] if self.encoding == "UTF-8" else [f"the encoding {self.encoding}"]
        return f"read with {', '.join(ways[:-1])}{' and ' if ways[1:] else ''}{ways[-1]}" if ways else None


OURS = Habits()


def encoding_of(data: bytes) -> str:
    """The encoding of a whole file, or of a part of one that begins at its start. Raises FileRefused.

    Bytes that are no UTF-8 anywhere are Windows-1252, which is what files called Latin-1 are too (WHATWG Encoding
    Standard, 4.2: the label `latin1` means windows-1252). A file that is UTF-8 in one place and not in another is
    damaged.
    """
    if data.startswith(_UTF32_MARKS):
        raise FileRefused("found the encoding UTF-32, expected UTF-8 or UTF-16: save it as 'CSV UTF-8'", row=1)
    if data.startswith(_UTF16_MARKS):
        return "UTF-16"
    if data.isascii():
        return "UTF-8"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        at = error.start
    else:
        return "UTF-8"
    read = data.decode("utf-8", "surrogateescape")
    letters = any(not character.isascii() and not 0xDC80 <= ord(character) <= 0xDCFF for character in set(read))
    try:
        data.decode("cp1252")
    except UnicodeDecodeError:
        letters = True
    if letters or data.startswith(_UTF8_MARK):
        raise _neither(data[at], data.count(b"\n", 0, at) + 1)
    return "Windows-1252"


def _neither(byte: int, row: int) -> FileRefused:
    reason = (
        f"found the byte 0x{byte:02X} that is not UTF-8, in a file that is neither UTF-8 nor Windows-1252 throughout:"
        " save it as 'CSV UTF-8'"
    )
    return FileRefused(reason, row=row)


class EncodingOfBlocks:
    """The encoding of a file that is seen in blocks of whole lines: what `encoding_of` says of it in one piece."""

    def __init__(self) -> None:
        self._letters = False  # some that are UTF-8 and no ASCII
        self._other: tuple[int, int] | None = None  # the first byte that is no UTF-8, and its row

    def look(self, block: bytes, rows_before: int) -> None:
        """Look at the next block. Raises FileRefused."""
        if block.isascii():
            return
        try:
            found = encoding_of(block)
        except FileRefused as error:
            error.move(rows_before)
            raise
        self._letters |= found == "UTF-8" or block.startswith(_UTF8_MARK)
        if found == "Windows-1252" and self._other is None:
            try:
                block.decode("utf-8")
            except UnicodeDecodeError as error:
                self._other = block[error.start], block.count(b"\n", 0, error.start) + 1 + rows_before
        if self._letters and self._other is not None:
            raise _neither(*self._other)

    @property
    def encoding(self) -> str:
        """Of what was seen."""
        return "UTF-8" if self._other is None else "Windows-1252"


def as_utf8(data: bytes) -> bytes:
    """The same text in UTF-8, without a byte order mark. Raises FileRefused as `encoding_of`."""
    encoding = encoding_of(data)
    if encoding == "UTF-8":
        return data.removeprefix(_UTF8_MARK)
    try:
        return data.decode({"UTF-16": "utf-16", "Windows-1252": "cp1252"}[encoding]).encode("utf-8")
    except UnicodeError as error:
        raise FileRefused(f"found damaged {encoding}: export or copy it again, or save it as 'CSV UTF-8'") from error


def delimiter_of(first_row: str) -> str:
    """The sign between the columns: the one that gives most columns of ours, then the one that stands most often."""

    def fits(sign: str) -> tuple[int, int]:
        names = [name.strip().strip('"').casefold() for name in first_row.split(sign)]
        return len(COLUMNS.intersection(names)), first_row.count(sign)

    return max(DELIMITERS, key=fits)


def habits_of(text: bytes, columns: Sequence[str], delimiter: str, encoding: str) -> Habits:
    """How the whole file is written. Raises FileRefused where a number could be read in two ways.

    `text`: the file in UTF-8, header row first. `columns`: its columns in lower case.
    """
    numbers = {k: name for k, name in enumerate(columns) if name in NUMBER_COLUMNS}
    if not numbers or (delimiter == "," and b'"' not in text):
        return Habits(delimiter, ".", encoding)
    start = text.find(b"\n") + 1
    cut = text.rfind(b"\n", start, start + _HEAD_BYTES) + 1 if len(text) - start > _HEAD_BYTES else len(text)
    found = _marks(text[start:cut], 2, numbers, delimiter)
    rest = text[cut:]
    if not found.sure and (b"," in rest or b"." in rest):
        found = _marks(rest, 2 + text.count(b"\n", start, cut), numbers, delimiter, found)
    return Habits(delimiter, found.mark(delimiter), encoding)


class MarkOfBlocks:
    """The decimal mark of a file that is seen in blocks of whole rows without the header: as `habits_of` tells it.

    Where the first MiB has a decimal mark, nothing after it is looked at.
    """

    def __init__(self, columns: Sequence[str], delimiter: str) -> None:
        self._numbers = {k: name for k, name in enumerate(columns) if name in NUMBER_COLUMNS}
        self.delimiter, self._found, self._quotes, self._head = delimiter, _Found(), False, _HEAD_BYTES

    def look(self, block: bytes, first: int) -> None:
        """Look at the next block; `first` is the line of its first row."""
        quotes = b'"' in block
        self._quotes |= quotes
        if not self._numbers:
            return
        if self._head > 0:
            cut = len(block) if len(block) <= self._head else block.rfind(b"\n", 0, self._head) + 1
            self._marks(block[:cut], first)
            self._head = self._head - cut if cut == len(block) else 0
            first, block = first + block.count(b"\n", 0, cut), block[cut:]
        # without quotes there is no decimal comma between commas
        if not self._found.sure and (quotes or self.delimiter != ",") and (b"," in block or b"." in block):
            self._marks(block, first)

    def _marks(self, rows: bytes, first: int) -> None:
        self._found = _marks(rows, first, self._numbers, self.delimiter, self._found)

    @property
    def mark(self) -> str:
        """Of what was seen. Raises FileRefused where a number could be read in two ways."""
        if not self._numbers or (self.delimiter == "," and not self._quotes):
            return "."
        return self._found.mark(self.delimiter)


@dataclass
class _Found:
    """The first row and column with each kind of mark."""

    comma: tuple[int, str] | None = None
    point: tuple[int, str] | None = None
    two_ways: tuple[int, str, str] | None = None

    @property
    def sure(self) -> bool:
        return self.comma is not None or self.point is not None

    def mark(self, delimiter: str) -> str:
        if self.comma and self.point:
            if delimiter == ",":
                return "."  # the contract's; a number with a comma is kept out with its row
            raise FileRefused(
                f"found decimal points (row {self.point[0]}) and decimal commas (row {self.comma[0]}) in one file,"
                " expected one of them throughout",
                row=max(self.point[0], self.comma[0]),
                column=max(self.point, self.comma)[1],
            )
        if self.two_ways and not self.sure:
            row, column, sign = self.two_ways
            raise FileRefused(
                f"found a number with a {sign} before three figures: a decimal mark, or one between thousands? Nothing"
                " else in the file says which. Expected numbers without marks between thousands and with two decimals",
                row=row,
                column=column,
            )
        return "," if self.comma else "."


def _marks(text: bytes, first: int, numbers: dict[int, str], delimiter: str, before: _Found | None = None) -> _Found:
    """Look at the number columns of some rows; `first` is the line of the first one."""
    found = before or _Found()
    reader = csv.reader(text.decode("utf-8").split("\n"), delimiter=delimiter)
    try:
        for row in reader:
            for k, name in numbers.items():
                cell = row[k].strip() if k < len(row) else ""
                if ("," not in cell and "." not in cell) or not (_COMMA.fullmatch(cell) or _POINT.fullmatch(cell)):
                    continue
                comma, at = "," in cell, first + reader.line_num - 1
                if name in THOUSANDS_COLUMNS and _TWO_WAYS.fullmatch(cell):
                    if comma or delimiter != ",":
                        found.two_ways = found.two_ways or (at, name, "comma" if comma else "point")
                elif comma:
                    found.comma = found.comma or (at, name)
                else:
                    found.point = found.point or (at, name)
    except csv.Error:
        pass  # told where the rows are read
    return found


def with_point(cell: str, decimal: str) -> str:
    """A number's text with a decimal point; one that has the other mark is marked as unclear."""
    if decimal == ".":
        return cell
    if "." in cell and any(character.isdigit() for character in cell):
        return Unclear(cell)
    return cell.replace(",", ".") if _COMMA.fullmatch(cell.strip()) else cell
