"""Concerns that falls near 30 s or lengths near a limit alone could make: beside the clock, in no count. Pure."""

from collections.abc import Iterable, Mapping
from typing import Any

from audit.words import TAKEN_AS, hh_mm, standard_name, words

_MOST = 6  # named; a month with more is listed in the document


def sentence(rows: Iterable[Mapping[str, Any]], *, with_case: bool = False) -> str:
    """'Not found, and in no count: FIGO 2015 pathological, recognisable at 03:12 if ... were all gradual.'

    `rows`: of the query `response/possible`. `with_case`: name the case of each.
    Gives words: "" where there is none.
    """
    told = []
    for row in rows:
        case = f"{row['case_id']}: " if with_case else ""
        what = f"{standard_name(str(row['standard']))} {words(str(row['trigger']))}"
        told.append(
            f"{case}{what}, recognisable at {hh_mm(float(row['recognisable_s']))} if"
            f" {TAKEN_AS[str(row['falls_taken_as'])]}"
        )
    if not told:
        return ""
    more = f"; and {len(told) - _MOST} more" if len(told) > _MOST else ""
    return f"Not found, and in no count: {'; '.join(told[:_MOST])}{more}."
