"""What each standard says of a window if one reads the truth itself: the hidden grade that invented readers aim at."""

from dataclasses import dataclass

import numpy as np

from audit.vocabulary import NICHD_TIERS, THREE_TIERS
from synthetic_cases.fhr import samples
from synthetic_cases.truth import Artefact, Truth

CATEGORIES = {"figo-2015": THREE_TIERS, "nice-ng229": THREE_TIERS, "nichd-2008": NICHD_TIERS}


@dataclass(frozen=True)
class WindowFacts:
    """The truth of one window, counted."""

    contractions: int
    late: int
    variable: int
    early: int
    prolonged: int
    longest_s: float
    accelerations: int
    baseline_bpm: float
    variability_bpm: float
    low_variability_min: float  # minutes under 5 bpm up to the window's end, in a row
    sinusoidal: bool
    lost_fraction: float
    toco_usable: bool


def window_facts(truth: Truth, start_s: float, end_s: float) -> WindowFacts:
    """Count what was drawn between two times (events by their onset)."""

    def inside(at: float) -> bool:
        return start_s <= at < end_s

    falls = [d for d in truth.decelerations if inside(d.onset_s)]
    kinds = [d.kind for d in falls]
    minutes = truth.variability_1min_bpm[int(start_s // 60) : int(end_s // 60)]
    before = truth.variability_1min_bpm[: int(end_s // 60)][::-1]
    low = int(np.argmax(before >= 5)) if (before >= 5).any() else before.size
    here = slice(samples(start_s), samples(end_s))
    return WindowFacts(
        contractions=sum(inside(c.onset_s) for c in truth.contractions),
        late=kinds.count("late"),
        variable=kinds.count("variable"),
        early=kinds.count("early"),
        prolonged=kinds.count("prolonged") + sum(inside(c.onset_s) for c in truth.level_changes),
        longest_s=max([d.end_s - d.onset_s for d in falls], default=0.0),
        accelerations=sum(inside(a.onset_s) for a in truth.accelerations),
        baseline_bpm=float(np.median(truth.baseline_bpm_4hz[here])),
        variability_bpm=float(np.median(minutes)) if minutes.size else float("nan"),
        low_variability_min=float(low),
        sinusoidal=any(s.start_s < end_s - 20 * 60 and s.end_s > start_s for s in truth.sinusoidal),
        lost_fraction=float(np.mean(truth.artefact_4hz[here] == Artefact.LOSS)),
        toco_usable=bool(np.mean(truth.toco_usable_4hz[here]) > 0.7),
    )


def grade(facts: WindowFacts, standard: str) -> int:
    """0, 1 or 2 on the standard's three steps, by a plain reading of the window's truth."""
    share = max(facts.contractions, 1)
    late, variable = facts.late / share, facts.variable / share
    if standard == "nichd-2008":
        absent = facts.variability_bpm < 1.5
        if facts.sinusoidal or (absent and (late >= 0.5 or variable >= 0.5 or facts.baseline_bpm < 110)):
            return 2
        untroubled = 110 <= facts.baseline_bpm <= 160 and 6 <= facts.variability_bpm <= 25
        return 0 if untroubled and facts.late + facts.variable + facts.prolonged == 0 else 1
    low_for = facts.low_variability_min
    if facts.sinusoidal or low_for > 50 or facts.longest_s > 300 or facts.baseline_bpm < 100 or late > 0.5:
        return 2
    if standard == "figo-2015":
        odd = not 110 <= facts.baseline_bpm <= 160 or facts.variability_bpm < 5
        return 1 if odd or variable > 0.5 or facts.late > 2 else 0
    if facts.baseline_bpm > 160 or facts.longest_s >= 180:
        return 2
    amber = (low_for >= 30) + (facts.baseline_bpm < 110) + (facts.contractions / 3 >= 5) + (facts.late > 0)
    return min(int(amber), 2)
