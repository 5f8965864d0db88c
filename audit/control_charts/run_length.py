"""How often a set of rules signals when nothing has changed: the price of each further rule."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy import sparse, stats
from scipy.sparse.linalg import spsolve

# state: for rule N5 the last two points (beyond 2 standard deviations up +1, down -1, else 0), for N6 the last four
# likewise beyond 1, and the signed length of the present run on one side
State = tuple[tuple[int, ...], tuple[int, ...], int]
_COVERED = ("N1", "N2", "N5", "N6", "W4")


def average_run_length(rules: Sequence[str]) -> float | None:
    """Mean number of points until a false signal, for independent normal points about the true centre.

    `rules`: names as in `rules.RULE_TEXT`.
    Gives points: None when a rule is among them that depends on more than zones and sides (N3, N4, N7, N8).

    Exact Markov chain as Champ & Woodall, Technometrics 1987;29:393-9.
    """
    if not rules or any(rule not in _COVERED for rule in rules):
        return None
    return _run_length(tuple(sorted(set(rules))))


@lru_cache(maxsize=32)
def _run_length(rules: tuple[str, ...]) -> float:
    start: State = ((0, 0) if "N5" in rules else (), (0, 0, 0, 0) if "N6" in rules else (), 0)
    number = {start: 0}
    queue = [start]
    rows, columns, chances = [], [], []
    while queue:
        state = queue.pop()
        for zone in (-4, -3, -2, -1, 1, 2, 3, 4):
            following = _next(state, zone, rules)
            if following is None:
                continue
            if following not in number:
                number[following] = len(number)
                queue.append(following)
            rows.append(number[state])
            columns.append(number[following])
            chances.append(_chance(abs(zone)))
    size = len(number)
    stay = sparse.csc_matrix((chances, (rows, columns)), shape=(size, size))
    return float(spsolve(sparse.identity(size, format="csc") - stay, np.ones(size))[0])


def _chance(zone: int) -> float:
    """Chance of a point between zone - 1 and zone standard deviations on one side; zone 4 is everything beyond 3."""
    upper = stats.norm.sf(zone) if zone < 4 else 0.0
    return float(stats.norm.sf(zone - 1) - upper)


def _next(state: State, zone: int, rules: tuple[str, ...]) -> State | None:
    """The state after a point in a zone; None when that point completes a rule."""
    two, four, run = state
    sign, size = (1 if zone > 0 else -1), abs(zone)
    beyond_two, beyond_one = (sign if size > 2 else 0), (sign if size > 1 else 0)
    if "N1" in rules and size > 3:
        return None
    if "N5" in rules and beyond_two and two.count(beyond_two) >= 1:
        return None
    if "N6" in rules and beyond_one and four.count(beyond_one) >= 3:
        return None
    longest = min([length for rule, length in (("W4", 8), ("N2", 9)) if rule in rules], default=0)
    length = 0
    if longest:
        length = run + sign if run * sign > 0 else sign
        if abs(length) >= longest:
            return None
    return (*two[1:], beyond_two) if two else (), (*four[1:], beyond_one) if four else (), length
