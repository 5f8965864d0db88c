"""Shares of groups beside the share of all, with where chance leaves them: a funnel, never an order of merit."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from audit.control_charts.dispersion import dispersion, widened_limits
from audit.control_charts.funnel import funnel_limits

_SHOWN = ("numerator", "denominator", "share", "low", "high")
TAILS = {"95": 0.025, "998": 0.001}


@dataclass(frozen=True)
class Group:
    """A group's share with its interval; None = it has none."""

    name: str
    numerator: int
    denominator: int
    share: float | None
    low: float | None
    high: float | None


def document(
    groups: Sequence[Group], by: str, *, target: float | None, groups_min: int, clustered: str = ""
) -> dict[str, Any]:
    """Groups around the share of all, in the order given.

    `by`: what they are groups of. `target`: the share of all; None = there is none. `groups_min`: with fewer groups
    `chart` is `table`: points with their intervals, and no limits. `clustered`: what must be said of counts that are
    not independent.
    Gives `by`, `chart` (`funnel` or `table`), `target`, `points`, `phi` (spread between groups over that of chance;
    None = too few groups) and `note`. Limits are exact, or widened by phi where the groups spread beyond chance.
    """
    shown = [group.share for group in groups if group.share is not None and group.denominator]
    drawn = target is not None and 0 < target < 1 and len(shown) >= groups_min
    spread = None
    if drawn and target is not None:
        scores = [
            (group.share - target) / math.sqrt(target * (1 - target) / group.denominator)
            for group in groups
            if group.share is not None and group.denominator
        ]
        spread = dispersion(np.array(scores))
    widened = spread is not None and spread.beyond_chance
    points = []
    for group in groups:
        row: dict[str, Any] = {"group": group.name} | {name: getattr(group, name) for name in _SHOWN}
        if drawn and target is not None:
            for name, tail in TAILS.items():
                if spread is not None and widened:
                    limits = widened_limits(target, group.denominator, tail=tail, phi=spread.phi)
                else:
                    limits = funnel_limits(target, group.denominator, tail=tail)
                row |= {f"low_{name}": limits.low, f"high_{name}": limits.high}
        points.append(row)
    said = _note(groups_min, drawn=drawn, anybody=bool(shown))
    if spread is not None and widened:
        said = (
            f"The groups spread {math.sqrt(spread.phi):.1f} times as wide as chance gives, for reasons not known here:"
            " the limits are widened by that."
        )
    return {
        "by": by,
        "chart": "funnel" if drawn else "table",
        "target": target,
        "points": points,
        "phi": None if spread is None else spread.phi,
        "note": " ".join(part for part in (said, clustered if shown else "") if part),
    }


def _note(groups_min: int, *, drawn: bool, anybody: bool) -> str:
    if not anybody:
        return "No group has an episode that can be assessed."
    if drawn:
        return "Exact binomial limits."
    return f"No funnel: fewer than {groups_min} groups, or a unit's share of 0 or 1. Each share with its 95 % interval."
