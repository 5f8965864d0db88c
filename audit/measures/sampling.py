"""Random samples of cases, and shares weighted back from them to all that they were drawn from."""

import hashlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np
from scipy import stats

from audit.measures.proportions import Interval


def random_sample(case_ids: Collection[str], size: int, seed: int) -> dict[str, Any]:
    """A simple random sample of cases, with the probability that shares can be weighted back by.

    `case_ids`: to draw from, in any order, also more than once. `size`: how many; fewer cases are taken whole. `seed`:
    of the draw.
    Gives document: size, of (cases to draw from), probability (of each case to be drawn), seed, cases (in the order
    drawn).

    Each case's place comes from a hash of seed and case, so the same month gives the same sample on any machine, and a
    larger one begins with the smaller. Weights are 1 / probability: Horvitz & Thompson, JASA 1952;47:663-85.
    """
    every = sorted(set(case_ids), key=lambda case_id: hashlib.sha256(f"{seed}/{case_id}".encode()).hexdigest())
    drawn = every[: max(0, size)]
    probability = len(drawn) / len(every) if every else None
    return {"size": len(drawn), "of": len(every), "probability": probability, "seed": seed, "cases": drawn}


@dataclass(frozen=True)
class Drawn:
    """What was found in cases that were drawn with one probability."""

    stands_for: int  # cases that they were drawn from
    decided: int  # of the drawn ones, those with a verdict
    events: int  # of these, those with the trait


def share_of_all(drawn: Sequence[Drawn], level: float) -> tuple[float, Interval]:
    """Share with a trait of all cases that were drawn from, with its interval.

    `drawn`: one per draw; cases that were taken for certain are drawn from themselves alone. `level`: level of the
    interval, for example 0.95.
    Gives share, (low, high): 0 to 1.
    Raises ValueError: nothing drawn, no verdict in a draw, or more verdicts than cases.

    Each verdict counts 1 / probability: Horvitz & Thompson, JASA 1952;47:663-85. Where some of the drawn ones have no
    verdict the others stand for them (Hajek's ratio, within each draw). The interval joins those of the draws
    (`share_of_finite`) by the method of variance estimates recovery: Zou & Donner, Stat Med 2008;27:1693-702 (from
    memory). With one draw it is that draw's own; what was looked at whole adds nothing to it.
    """
    every = sum(one.stands_for for one in drawn)
    if not every or not all(0 <= one.events <= one.decided <= one.stands_for and one.decided for one in drawn):
        raise ValueError(f"{drawn}: expected draws with 0 <= events <= decided <= cases, and a verdict in each")
    share, down, up = 0.0, 0.0, 0.0
    for one in drawn:
        weight, own = one.stands_for / every, one.events / one.decided
        low, high = share_of_finite(one.events, one.decided, one.stands_for, level)
        share += weight * own
        down += (weight * (own - low)) ** 2
        up += (weight * (high - own)) ** 2
    return share, (max(0.0, share - sqrt(down)), min(1.0, share + sqrt(up)))


def share_of_finite(events: int, decided: int, every: int, level: float) -> Interval:
    """Exact interval of the share of a number of cases, from a simple random sample of them.

    `events`, `decided`: counts of the sample. `every`: cases that it was drawn from. `level`: for example 0.95.
    Gives low, high: 0 to 1; the share itself where all were looked at.

    The numbers of cases with the trait for which a sample like this, or one further out, is not rarer than half of
    what the level leaves on that side (hypergeometric; Buonaccorsi, Am Stat 1987;41:215-8, from memory).
    """
    tail = (1.0 - level) / 2.0
    possible = np.arange(events, every - (decided - events) + 1)
    low = possible[stats.hypergeom.sf(events - 1, every, possible, decided) > tail][0]
    high = possible[stats.hypergeom.cdf(events, every, possible, decided) > tail][-1]
    return float(low) / every, float(high) / every
