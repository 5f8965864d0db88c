"""Where readers differ, as two pictures: which answer stands beside which, and window by window. Pure."""

from collections import Counter
from collections.abc import Sequence
from itertools import permutations
from typing import Any

from audit.agreement.readers import WindowDisagreement
from audit.agreement.scales import CATEGORIES, VARIABILITY_ORDERS
from audit.vocabulary import NOT_ASSESSABLE

# windows that a picture has room for; the table below it has them all
MOST_WINDOWS = 40


def order_of(apart: Sequence[WindowDisagreement], standard: str) -> list[str]:
    """The answers that occur, from the mildest where they have an order, `not assessable` last."""
    seen = {str(answer) for window in apart for answer in window.answers.values()}
    known = [*CATEGORIES[standard], *(name for order in VARIABILITY_ORDERS for name in order), "no", "yes"]
    ordered = [name for name in dict.fromkeys(known) if name in seen]
    rest = sorted(seen - {*ordered, NOT_ASSESSABLE})
    return [*ordered, *rest, *([NOT_ASSESSABLE] if NOT_ASSESSABLE in seen else [])]


def beside(apart: Sequence[WindowDisagreement], order: Sequence[str]) -> list[dict[str, Any]]:
    """Which answer another reader gave to the same window, for each answer.

    `apart`: windows read by two or more, with named answers. `order`: of `order_of`.
    Gives rows: one, other, pairs (each two readers of a window counted both ways), of (pairs of `one`), share (pairs /
    of).

    The share of an answer beside itself is the proportion of specific agreement over all pairs of readers (Fleiss,
    Levin & Paik, Statistical Methods for Rates and Proportions, 3rd ed, 18.1; from memory).
    """
    pairs = Counter(
        (str(one), str(other)) for window in apart for one, other in permutations(window.answers.values(), 2)
    )
    of = {one: sum(pairs[one, other] for other in order) for one in order}
    return [
        {"one": one, "other": other, "pairs": pairs[one, other], "of": of[one], "share": pairs[one, other] / of[one]}
        for one in order
        for other in order
        if of[one]
    ]


def window_by_window(apart: Sequence[WindowDisagreement]) -> list[dict[str, Any]]:
    """Every answer to the windows that readers differ on, the furthest apart first, as many as a picture has room for.

    Gives rows: place (1 = furthest apart), case_id, fetus, start_s, end_s, reader, answer.
    """
    rows = []
    differing = [window for window in apart if window.score > 0][:MOST_WINDOWS]
    for place, found in enumerate(differing, start=1):
        case_id, fetus, start_s, end_s = found.window
        head = {"place": place, "case_id": case_id, "fetus": fetus, "start_s": start_s, "end_s": end_s}
        rows += [{**head, "reader": reader, "answer": str(answer)} for reader, answer in found.answers.items()]
    return rows
