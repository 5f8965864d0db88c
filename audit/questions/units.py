"""Several units beside each other: funnels and shares adjusted by case mix, one unit named and the others as letters.

Never an order of merit: units stand in the order of their size, and no rank is given anywhere.
"""

import string
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.control_charts.options import TrendOptions
from audit.errors import one_of
from audit.measures.proportions import wilson_interval
from audit.measures.standardised import NotFitted, count_limits, logistic_probabilities, standardised
from audit.questions import case_mix, funnels, waits
from audit.questions.trends import ANSWERED, EPISODES_CLUSTERED, waits_of
from audit.settings import Settings
from audit.store import database, one_unit
from audit.store.database import Record, records

# column of the query `units/labours` -> what it says, and whether it tells how newborns were
SHARES: dict[str, tuple[str, bool]] = {
    "concern": ("Labours with at least one concern episode, of those seen enough to tell.", False),
    "caesarean": ("Births by caesarean, of those whose mode is known.", False),
    "acidosis": ("Labours with a newborn below the pH of the trends, of those with a cord gas.", True),
    "admission": ("Labours with a newborn admitted to a neonatal unit, of those where it is known.", True),
}
OF_OUTCOME = tuple(name for name, (_, of_outcome) in SHARES.items() if of_outcome)
NOT_JUDGED = (
    "Adjusted for what labours brought with them as far as it was recorded: what was not recorded is not adjusted for,"
    " and a unit that records more risk looks better for it. No order of merit follows from it."
)


def document(
    con: database.Connection,
    settings: Settings,
    *,
    standard: str,
    unit: str | None = None,
    period: str | None = None,
    with_outcome: bool = True,
) -> dict[str, Any] | None:
    """Shares of every unit; None where fewer than two units have cases.

    `con`: a connection that sees every unit. `unit`: the one that is named; None = all are letters. `period`: month of
    birth; None = all, which is what summaries tell of. `with_outcome`: False leaves out what tells how newborns were.
    Gives `units` (how many), `unit`, and `measures`: each `name`, `says`, `of_outcome`, `funnel` (as
    `audit.questions.funnels`) and `adjusted` (None for episodes): `case_mix` (names of its columns), `points` (group,
    observed, expected, births, share adjusted, and the limits of chance), `note`.
    Raises UsageError: a unit that has no cases.
    """
    known = labours(con, settings.trends, standard, period)
    names = _names(one_unit.units(con), unit)
    if len(names) < 2:
        return None
    times = [row for row in records(con, "response/times", {"period": period, "standard": standard}) if row["unit"]]
    measures = [_answered(times, names, settings)]
    # a summary tells this of all its months together
    told = records(con, "summaries/case_mix", {"standard": standard}) if period is None else []
    for name, (says, of_outcome) in SHARES.items():
        if with_outcome or not of_outcome:
            counted = [row for row in known if row["unit"] is not None and row[name] is not None]
            counted += [row | {name: row["event"]} for row in told if row["measure"] == name]
            shares = _shares(counted, name, names, settings)
            measures.append({"name": name, "says": says, "of_outcome": of_outcome, **shares})
    return {"units": len(names), "unit": unit, "measures": measures}


def labours(con: database.Connection, options: TrendOptions, standard: str, period: str | None) -> list[Record]:
    """Every labour of some months of birth (None = all), with what the shares count and what the case mix is of."""
    asked = {"standard": standard, **options.seen_enough, "acidosis_ph_below": options.acidosis_ph_below}
    return records(con, "units/labours", {**asked, "period": period})


def _names(sizes: dict[str, int], own: str | None) -> dict[str, str]:
    """What each unit is called, the largest first; only the one that asks by its code."""
    one_of("unit", own, sorted(sizes))
    ordered = sorted(sizes, key=lambda name: (-sizes[name], name))
    return {name: name if name == own else f"unit {_letters(k)}" for k, name in enumerate(ordered)}


def _letters(number: int) -> str:
    """A, B ... Z, AA, AB ..."""
    before, last = divmod(number, 26)
    return (_letters(before - 1) if before else "") + string.ascii_uppercase[last]


def _answered(times: Sequence[Record], names: dict[str, str], settings: Settings) -> dict[str, Any]:
    every = waits.wait_groups(times, None)[0] if times else None
    found = {group.name: waits_of(group) for group in waits.wait_groups(times, "unit")}
    groups = [funnels.Group(called, *_known(found[unit], settings)) for unit, called in names.items() if unit in found]
    funnel = funnels.document(
        groups,
        "unit",
        target=None if every is None else every.share,
        groups_min=settings.trends.funnel_groups_min,
        clustered=EPISODES_CLUSTERED,
    )
    says = "Concern episodes answered within target, of those that can be assessed."
    return {"name": ANSWERED, "says": says, "of_outcome": False, "funnel": funnel, "adjusted": None}


def _known(group: funnels.Group, settings: Settings) -> tuple[int, int, float | None, float | None, float | None]:
    shown = group.denominator >= settings.trends.denominator_min
    return (
        group.numerator,
        group.denominator,
        *((group.share, group.low, group.high) if shown else (None, None, None)),
    )


def _shares(known: Sequence[Record], name: str, names: dict[str, str], settings: Settings) -> dict[str, Any]:
    events = np.array([row[name] for row in known], bool)
    groups = []
    for unit, members in _by_unit(known, names).items():
        n, of = int(events[members].sum()), len(members)
        if not of:
            continue  # it told of this in a summary only, or not at all
        interval = wilson_interval(n, of, settings.trends.interval_level)
        group = funnels.Group(names[unit], n, of, n / of, *interval)
        groups.append(funnels.Group(names[unit], *_known(group, settings)))
    target = float(events.mean()) if len(events) else None
    funnel = funnels.document(groups, "unit", target=target, groups_min=settings.trends.funnel_groups_min)
    # of labours that were too few to be told by their case mix a summary gives the sum alone
    shown = np.array([row.get("case_mix", ()) is not None for row in known], bool)
    adjusted = _adjusted([row for row, told in zip(known, shown, strict=True) if told], events[shown], names, settings)
    if not shown.all():
        adjusted["note"] += f" {(~shown).sum()} of {len(shown)} labours are left out: summaries hide their case mix."
    return {"funnel": funnel, "adjusted": adjusted}


def _adjusted(known: Sequence[Record], events: Any, names: dict[str, str], settings: Settings) -> dict[str, Any]:
    columns, matrix = case_mix.design(known, events)
    if not columns:
        note = "Not adjusted: no part of the case mix is known of enough births."
        return {"case_mix": [], "points": [], "note": note}
    try:
        probabilities = logistic_probabilities(matrix, events)
    except NotFitted as error:
        return {"case_mix": columns, "points": [], "note": f"Not adjusted: {error}."}
    overall = float(events.mean())
    points = []
    for unit, members in _by_unit(known, names).items():
        group = standardised(events[members], probabilities[members])
        if group.births < settings.trends.denominator_min or group.ratio is None:
            continue
        points.append(
            {
                "group": names[unit],
                "observed": group.observed,
                "expected": group.expected,
                "births": group.births,
                "share": group.ratio * overall,
                **_chance(probabilities[members], group.expected, overall),
            }
        )
    return {"case_mix": columns, "points": points, "note": NOT_JUDGED}


def _by_unit(known: Sequence[Record], names: dict[str, str]) -> dict[str, list[int]]:
    """The places of each unit's labours."""
    return {unit: [k for k, row in enumerate(known) if row["unit"] == unit] for unit in names}


def _chance(own: NDArray[np.float64], expected: float, overall: float) -> dict[str, float]:
    """Where chance leaves the adjusted share of a unit that does as all do."""
    found: dict[str, float] = {}
    for name, tail in funnels.TAILS.items():
        low, high = count_limits(own, tail=tail)
        found |= {f"low_{name}": low / expected * overall, f"high_{name}": high / expected * overall}
    return found
