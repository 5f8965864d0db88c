"""Invented readers: they aim at the hidden grade, each with a bias and a scatter of their own, and one overcalls."""

from dataclasses import dataclass

import numpy as np

from synthetic_cases.build import DrawnCase
from synthetic_cases.literal import CATEGORIES, WindowFacts, grade, window_facts

Rng = np.random.Generator
WINDOW_S = 1800.0
OVERCALLER = "R4"


@dataclass(frozen=True)
class Reader:
    name: str
    bias: float
    scatter: float


READERS = (Reader("R1", -0.05, 0.28), Reader("R2", 0.0, 0.30), Reader("R3", 0.05, 0.34), Reader(OVERCALLER, 0.55, 0.32))
_SHARED_SCATTER = 0.22  # what makes a strip look better or worse to everybody
_NOT_ASSESSABLE_LOSS = 0.45

Row = dict[str, object]


def reads_of_month(cases: list[DrawnCase], rng: Rng) -> list[Row]:
    """Reads of one month's cases: two 30-minute windows of about a third of them, some read twice.

    The concerning cases come first and unremarkable ones are mixed in as controls. Every chosen window is read by all
    readers under FIGO 2015, and under one of the other two standards in turn.
    """
    striking = [c for c in cases if c.responses and c.responses[0].pattern not in ("short_prolonged_deceleration",)]
    plain = [c for c in cases if not c.responses]
    wanted = max(len(cases) // 3, 1)
    chosen = [striking[i] for i in rng.permutation(len(striking))[: (wanted + 1) // 2]]
    chosen += [plain[i] for i in rng.permutation(len(plain))[: wanted - len(chosen)]]
    rows: list[Row] = []
    for number, case in enumerate(chosen):
        for start in _windows(case, rng):
            facts = window_facts(case.truths["A"], start, start + WINDOW_S)
            other = "nichd-2008" if number % 2 else "nice-ng229"
            twice = bool(rng.random() < 0.2)
            for standard in ("figo-2015", other):
                rows += _window_rows(case.spec.case_id, start, facts, standard, twice, rng)
    return rows


def _windows(case: DrawnCase, rng: Rng) -> list[float]:
    """The last 30 minutes, and 30 minutes around the planted pattern (or anywhere); whole minutes, not overlapping."""
    duration = case.spec.hours * 3600
    last = float((duration - WINDOW_S) // 60 * 60)
    if case.responses:
        first, end = case.responses[0].pattern_start_s, case.responses[0].pattern_end_s
        middle = (min(end, duration) + first) / 2 - WINDOW_S / 2
    else:
        middle = float(rng.uniform(0, max(last - WINDOW_S, 1)))
    middle = float(max(middle, 0) // 60 * 60)
    return [middle, last] if middle + WINDOW_S <= last else [last]


def _window_rows(case_id: str, start: float, facts: WindowFacts, standard: str, twice: bool, rng: Rng) -> list[Row]:
    shared = float(grade(facts, standard)) + _SHARED_SCATTER * float(rng.standard_normal())
    rows = []
    for reader in READERS:
        for occasion in (1, 2) if twice and reader.name in ("R1", "R2", OVERCALLER) else (1,):
            felt = shared + reader.bias + reader.scatter * float(rng.standard_normal())
            rows.append(_row(case_id, start, facts, standard, reader, felt, occasion, rng))
    return rows


def _row(
    case_id: str, start: float, facts: WindowFacts, standard: str, reader: Reader, felt: float, occasion: int, rng: Rng
) -> Row:
    step = int(np.clip(round(felt), 0, 2))
    unreadable = facts.lost_fraction > _NOT_ASSESSABLE_LOSS
    seen_rate = max(facts.contractions / 3 + float(rng.normal(0, 0.3)), 0) if facts.toco_usable else None
    return {
        "case_id": case_id,
        "reader": reader.name,
        "start_s": start,
        "end_s": start + WINDOW_S,
        "standard": standard,
        "category": "not assessable" if unreadable else CATEGORIES[standard][step],
        "fetus": "A",
        "baseline_bpm": 5 * round((facts.baseline_bpm + float(rng.normal(0, 3))) / 5),
        "variability": _variability(facts.variability_bpm * float(np.exp(rng.normal(0, 0.2)))),
        "accelerations": "present" if facts.accelerations > 0 else "absent",
        "decelerations": _decelerations(facts, rng),
        "contractions_per_10_min": None if seen_rate is None else round(seen_rate, 1),
        "would_act": step == 2 or (step == 1 and bool(rng.random() < 0.3)),
        "outcome_hidden": True,
        "occasion": occasion,
    }


def _variability(bpm: float) -> str:
    return "absent" if bpm < 1.2 else "minimal" if bpm <= 5 else "moderate" if bpm <= 25 else "marked"


def _decelerations(facts: WindowFacts, rng: Rng) -> str:
    """The kind a reader names for the window: the most frequent, mixed up now and then."""
    counts = {"prolonged": 2 * facts.prolonged, "late": facts.late, "variable": facts.variable, "early": facts.early}
    kind = max(counts, key=lambda k: counts[k])
    if counts[kind] == 0:
        return "none"
    if kind != "prolonged" and rng.random() < 0.15:
        return str(rng.choice(["variable", "late", "early"]))
    return kind
