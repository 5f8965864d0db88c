"""What labours brought with them, as columns that a regression can take."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.store.database import Record

FEWEST = 10  # births with and without a column's property, events and others among those with it; our choice
_Test = Callable[[Mapping[str, Any]], bool]


def _among(name: str, low: float, high: float) -> _Test:
    return lambda row: row[name] is not None and low <= row[name] < high


def _unknown(name: str) -> _Test:
    return lambda row: row[name] is None


def _factor(name: str) -> _Test:
    return lambda row: row["risk_factors"] is not None and name in row["risk_factors"].split()


# what was there before labour; what came up in it (meconium, fever, slow progress, epidural) may follow from care
_FACTORS = (
    *("bleeding", "growth_restriction", "previous_caesarean", "hypertension", "diabetes", "reduced_movements"),
    "induction",
)
# the rest is born at 37 to 40 weeks, one baby, of a woman who gave birth before, after a spontaneous onset
_COLUMNS: dict[str, _Test] = {
    "before 37 weeks": _among("gestation_weeks", 0, 37),
    "41 weeks and more": _among("gestation_weeks", 41, 99),
    "gestation not given": _unknown("gestation_weeks"),
    "first birth": _among("parity", 0, 1),
    "parity not given": _unknown("parity"),
    "twins or more": _among("plurality", 2, 9),
    "onset not spontaneous": lambda row: row["onset_of_labour"] not in (None, "spontaneous"),
    "onset not given": _unknown("onset_of_labour"),
    **{name.replace("_", " "): _factor(name) for name in _FACTORS},
    "risk factors not given": _unknown("risk_factors"),
}


def properties(row: Mapping[str, Any]) -> tuple[str, ...]:
    """What a labour brought with it, as names of columns: all that an adjusted share can rest on.

    `row` is of the query `units/labours`.
    """
    return tuple(name for name, test in _COLUMNS.items() if test(row))


def _has(row: Mapping[str, Any], name: str, test: _Test) -> bool:
    told = row.get("case_mix")  # of a merged summary
    return test(row) if told is None else name in told


def design(rows: Sequence[Record], events: NDArray[np.bool_]) -> tuple[list[str], NDArray[np.float64]]:
    """The columns that so many births can carry.

    `rows`: records of the query `units/labours`, or with `case_mix`: `properties` of a labour that a summary told of.
    `events`: shape (n,).
    Gives names, columns: shape (n, k) of 0 and 1. A column goes that fewer than FEWEST births have or lack, that parts
    the events without a remainder (fewer than 1 event or other birth on a side), or that says what another one says.
    """
    names: list[str] = []
    kept: list[NDArray[np.float64]] = []
    for name, test in _COLUMNS.items():
        has = np.array([_has(row, name, test) for row in rows], bool)
        sides = [side for where in (has, ~has) for side in ((where & events).sum(), (where & ~events).sum())]
        fits = min(has.sum(), (~has).sum()) >= FEWEST and min(sides, default=0) >= 1
        column = has.astype(float)
        rank = np.linalg.matrix_rank(np.column_stack([np.ones(len(rows)), *kept, column])) if fits else 0
        if fits and rank == len(kept) + 2:
            names.append(name)
            kept.append(column)
    return names, np.column_stack(kept) if kept else np.empty((len(rows), 0))
