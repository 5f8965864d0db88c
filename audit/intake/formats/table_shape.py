"""Where the headings of an unknown table stand, and what stands between its columns."""

import csv
from collections import Counter
from collections.abc import Sequence

from audit.intake.door.headings import columns_of, plain_heading
from audit.intake.door.remarks import FileRefused
from audit.intake.formats.habits import DELIMITERS

_NEAR = 10  # lines among which the headings are looked for; our choice


def delimiter_of(lines: Sequence[str]) -> tuple[str, int]:
    """The sign between the columns, and how many lines stand before the header."""
    best = (0, ",", 0)
    for sign in DELIMITERS:
        counts = [len(row) for row in csv.reader(lines[:200], delimiter=sign)]
        width, times = Counter(counts).most_common(1)[0]
        if width > 1 and times * width > best[0]:
            best = (times * width, sign, counts.index(width))
    if not best[0]:
        raise FileRefused("found no columns, expected commas, semicolons, tabs or bars between them")
    return best[1], best[2]


def _known(names: Sequence[str]) -> int:
    """How many of these are headings that are known."""
    return sum(bool(columns_of(plain_heading(name)[0])) for name in names)


def header_line(lines: Sequence[str], delimiter: str, first: int) -> int:
    """The line with most known headings among the first ones: titles and spanning headings may stand above it."""
    near = list(csv.reader(lines[first : first + _NEAR], delimiter=delimiter))
    return first + max(range(len(near)), key=lambda k: (_known(near[k]), -k), default=0)


def stands_upright(header: Sequence[str], body: Sequence[Sequence[str]]) -> bool:
    """Whether the headings stand in the first column instead, one under the other."""
    return _known(header) < 2 <= _known([row[0] for row in body[:_NEAR]])
