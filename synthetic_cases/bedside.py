"""What the invented staff wrote down at the time, risk factors, bands, oxytocin, and the unit's own counts by month.

Nights before the second senior came leave hours without an assessment and call patterns milder than they are; from then
on they assess as days do. Each case draws from a chance of its own, so that nothing else of the unit changes.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from synthetic_cases.build import DrawnCase
from synthetic_cases.care import PlantedResponse
from synthetic_cases.scenario import CHANGE_MONTH, CaseSpec

Rng = np.random.Generator
Row = dict[str, object]
STANDARD = "nice-ng229"
HOUR, MINUTE = 3600.0, 60.0
_OXYTOCIN = ("oxytocin_increased", "oxytocin_reduced", "oxytocin_stopped")
_SKIPPED, _SECOND, _MILDER = (0.08, 0.70, 0.05), (0.38, 0.30, 0.45), 0.03


def assessments(case: DrawnCase, seed: int) -> list[Row]:
    """Hourly assessments with gaps, and those around a planted pattern: seen and called, or seen and not called."""
    spec = case.spec
    if "no_events" in spec.specials:
        return []
    rng = np.random.default_rng([seed, 7, spec.index])
    weak = spec.shift == "night" and spec.month + 1 < CHANGE_MONTH
    skipped, milder = (_SECOND[0], _SECOND[2]) if weak else (_SKIPPED[0], _SKIPPED[2])
    second = _SECOND[1] if weak else _SKIPPED[1]
    end = min(spec.hours * HOUR, float(str(case.facts["birth_s"])))
    rows: list[tuple[float, str, str]] = []
    for hour in range(int(end // HOUR)):
        draws = rng.random(4)
        if draws[0] < skipped:
            continue
        at = hour * HOUR + (6 + 44 * draws[1]) * MINUTE
        rows.append((at, _seen(case.responses, at, milder, rng), "midwife"))
        if draws[2] < second:
            later = at + (2 + 6 * draws[3]) * MINUTE
            rows.append((later, _category(case.responses, later), "second_person"))
    for planted in case.responses:
        rows += _around(planted, rng)
    kept: dict[tuple[float, str], str] = {}
    for at, category, assessor in sorted(rows):
        if at < end:
            kept.setdefault((float(round(at)), assessor), category)
    return [
        {"case_id": spec.case_id, "at_s": at, "standard": STANDARD, "category": category, "assessor": assessor,
         "risk": facts(spec)["risk_factors"] if assessor == "midwife" else None}
        for (at, assessor), category in sorted(kept.items())
    ]  # fmt: skip


def _around(planted: PlantedResponse, rng: Rng) -> list[tuple[float, str, str]]:
    """What was written down between a pattern and its answer."""
    known = _recognisable_s(planted)
    wait, before, seen_early = 3 + 4 * rng.random(), 1 + 2 * rng.random(), rng.random() < 0.5
    if known is None:
        return []
    worst = _category([planted], known + MINUTE)
    if planted.pace == "prompt" and planted.response_s is not None and planted.response_s > known:
        return [(max(known, planted.response_s - before * MINUTE), worst, "midwife")]
    # slow: half were seen and nobody was called, half were not seen until somebody came
    if planted.pace in ("slow", "unrecorded") and seen_early:
        return [(known + wait * MINUTE, worst, "midwife")]
    if planted.response_s is not None and planted.response_s > known:
        return [(planted.response_s + before * MINUTE, worst, "obstetrician")]
    return []


def _recognisable_s(planted: PlantedResponse) -> float | None:
    found = [at for name, at in planted.recognisable_s.items() if name.startswith(STANDARD)]
    return min(found, default=None)


def _category(planted: Sequence[PlantedResponse], at: float) -> str:
    """The category that was planted for the moment."""
    for each in planted:
        known = _recognisable_s(each)
        if known is not None and known <= at <= each.pattern_end_s:
            mild = all(name.endswith("suspicious_persistent") for name in each.recognisable_s if STANDARD in name)
            return "suspicious" if mild else "pathological"
    return "normal"


def _seen(planted: Sequence[PlantedResponse], at: float, milder: float, rng: Rng) -> str:
    found, draw = _category(planted, at), rng.random()
    if found == "normal":
        return "suspicious" if draw < 0.04 else "normal"
    return "normal" if draw < milder else found


def hours_truth(case: DrawnCase, rows: Sequence[Row]) -> dict[str, Any]:
    """Whole hours of the labour, how many of them have an assessment, and how many one by two people.

    Counted from the rows that were written, hour by hour from the first sample; two different roles within an hour
    are two people.
    """
    end = min(case.spec.hours * HOUR, float(str(case.facts["birth_s"])))
    whole = int(end // HOUR)
    marked: dict[int, set[object]] = {}
    for row in rows:
        marked.setdefault(int(float(str(row["at_s"])) // HOUR), set()).add(row["assessor"])
    own = [marked[hour] for hour in marked if hour < whole]
    two = sum("second_person" in roles or len(roles) > 1 for roles in own)
    return {"hours": whole, "assessed": len(own), "second_person": two}


_RISKS = {
    "meconium": 0.12, "slow_progress": 0.10, "growth_restriction": 0.06, "previous_caesarean": 0.09,
    "hypertension": 0.06, "diabetes": 0.07, "reduced_movements": 0.05, "fever_or_sepsis": 0.04, "bleeding": 0.02,
}  # fmt: skip


def facts(spec: CaseSpec) -> dict[str, object]:
    """Risk factors of a case, and for a few when and why auscultation ended."""
    rng = np.random.default_rng([41, spec.index])
    found = [name for name, share in _RISKS.items() if rng.random() < share]
    found += ["multiple_pregnancy"] if "twins" in spec.specials else []
    switched = rng.random() < 0.15
    why = str(rng.choice(["meconium", "oxytocin", "epidural", "slow_progress", "abnormal_rate_or_decelerations"]))
    ago = -float(round(60 * rng.uniform(30, 240)))
    return {
        "risk_factors": ", ".join(found) or "none",
        "auscultated_until_s": ago if switched else None,
        "monitored_because": why if switched else None,
    }


_BANDS: dict[str, tuple[tuple[str | None, float], ...]] = {
    "language_need": (("no", 0.74), ("some", 0.12), ("interpreter", 0.10), (None, 0.04)),
    "ethnicity_group": (
        ("asian", 0.15), ("black", 0.09), ("mixed", 0.05), ("white", 0.60), ("other", 0.06), (None, 0.05),
    ),
    "deprivation_fifth": (("1", 0.27), ("2", 0.22), ("3", 0.19), ("4", 0.16), ("5", 0.13), (None, 0.03)),
    "age_band": (
        ("under_20", 0.03), ("20_to_24", 0.15), ("25_to_29", 0.28), ("30_to_34", 0.32), ("35_to_39", 0.18),
        ("40_and_over", 0.04),
    ),
    "body_mass_band": (
        ("under_18.5", 0.03), ("18.5_to_24.9", 0.45), ("25_to_29.9", 0.28), ("30_to_34.9", 0.14), ("35_to_39.9", 0.06),
        ("40_and_over", 0.03), (None, 0.01),
    ),
}  # fmt: skip


def bands(spec: CaseSpec) -> dict[str, object]:
    """The bands of who gave birth, drawn by themselves: the truth is that no wait and no outcome depends on them."""
    rng = np.random.default_rng([43, spec.index])
    found: dict[str, object] = {}
    for name, shares in _BANDS.items():
        places = rng.choice(len(shares), p=[share for _, share in shares])
        found[name] = shares[int(places)][0]
    return found


def oxytocin_truth(case: DrawnCase) -> dict[str, Any]:
    """Increases while a planted pattern lasted that could be recognised, and how long until less.

    Of tachysystole, and of each pattern that began on oxytocin; None = not before the pattern's end.
    """
    at = {name: [e.at_s for e in case.events if e.event == name] for name in _OXYTOCIN}
    down = sorted([*at["oxytocin_reduced"], *at["oxytocin_stopped"]])
    found: dict[str, Any] = {"increased_s": [], "tachysystole": [], "concern": []}
    for planted in case.responses:
        found["concern"] += _concern_on_oxytocin(case, planted)
        known = max(planted.recognisable_s.values(), default=None)
        if known is not None:
            up = at["oxytocin_increased"]
            found["increased_s"] += [float(round(t)) for t in up if known <= t <= planted.pattern_end_s]
        if planted.pattern == "tachysystole":
            less = next((t for t in down if t >= planted.pattern_start_s), None)
            found["tachysystole"].append(
                {"from_s": planted.pattern_start_s, "less_s": None if less is None else float(round(less))}
            )
    return found


def _concern_on_oxytocin(case: DrawnCase, planted: PlantedResponse) -> list[dict[str, float | None]]:
    first, last = planted.pattern_start_s, planted.pattern_end_s
    changes = sorted((e.at_s, e.event) for e in case.events if e.event.startswith("oxytocin"))
    before = [name for at, name in changes if at < first]
    if not before or before[-1] == "oxytocin_stopped":
        return []
    less = next((at for at, name in changes if name in _OXYTOCIN[1:] and first <= at <= last), None)
    return [{"from_s": first, "to_s": last, "less_s": None if less is None else float(round(less))}]


def unit_months(cases: Sequence[Row], events: Sequence[Row], seed: int) -> list[Row]:
    """The unit's own counts: a few labours more than were exported, and those that were auscultated only.

    Caesareans by urgency as the decisions were noted; planned ones have no tracing and are category 4.
    """
    urgency = {row["case_id"]: row["urgency"] for row in events if row["urgency"] is not None}
    rng = np.random.default_rng([seed, 8])
    rows: list[Row] = []
    for period in sorted({str(row["period"]) for row in cases}):
        own = [row for row in cases if row["period"] == period]
        labours = len({row["case_id"] for row in own})
        missed, auscultated = int(rng.integers(1, 4)), int(0.4 * labours) + int(rng.integers(0, 5))
        operations = sum(row["mode_of_birth"] == "caesarean" for row in own)
        births = labours + missed + auscultated
        planned = int(0.1 * births)
        decided = [urgency.get(row["case_id"]) for row in own if row["mode_of_birth"] == "caesarean"]
        rows.append(
            {"period": period, "births": births + planned, "continuously_monitored": labours + missed,
             "auscultated": auscultated, "caesareans": operations + planned + 1,
             **{f"caesareans_category_{k}": decided.count(k) + planned * (k == 4) for k in (1, 2, 3, 4)},
             "neonatal_unit_admissions": sum(row["neonatal_unit_admission"] is True for row in own) + 1,
             "deaths": sum(row["died"] is not None for row in own)}
        )  # fmt: skip
    return rows
