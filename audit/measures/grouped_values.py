"""Times and areas in what leaves the unit: none is a single labour's, each is the mean of a group of neighbours."""

import math
from collections.abc import Hashable, Sequence


def in_groups(values: Sequence[float], of: Sequence[Hashable], *, least: int) -> list[float] | None:
    """Each value as the mean of the neighbours it is grouped with, so that none is a single one's.

    `values`: in any order. `of`: whose each is (labours). `least`: of how many different ones a group is at least; with
    1 the values stay as they are.
    Gives values in the order given, with the same sum; None where all together are of too few.

    Micro-aggregation by the order of one variable: Defays & Nanopoulos 1993; Hundepool et al., Statistical Disclosure
    Control, 2012, ch. 3 (from memory); Glossary of Statistical Disclosure Control, UNECE/Eurostat, 2005.
    """
    if least <= 1:
        return list(values)
    groups: list[list[int]] = []
    begun: list[int] = []
    for place in sorted(range(len(values)), key=lambda k: values[k]):
        begun.append(place)
        if len({of[k] for k in begun}) >= least:
            groups.append(begun)
            begun = []
    if begun:
        if not groups:
            return None
        groups[-1] += begun
    found = [0.0] * len(values)
    for own in groups:
        mean = math.fsum(values[k] for k in own) / len(own)
        for k in own:
            # no rounding may take a mean past a limit that all its values keep
            found[k] = min(max(mean, values[own[0]]), values[own[-1]])
    return found
