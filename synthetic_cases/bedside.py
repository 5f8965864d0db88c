"""What the invented staff wrote down at the time, the risk factors, and the unit's own counts by month.

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
        rows += _around(planted, end, rng)
    kept: dict[tuple[float, str], str] = {}
    for at, category, assessor in sorted(rows):
        if at < end:
            kept.setdefault((float(round(at)), assessor), category)
    return [
        {"case_id": spec.case_id, "at_s": at, "standard": STANDARD, "category": category, "assessor": assessor,
         "risk": facts(spec)["risk_factors"] if assessor == "midwife" else None}
        for (at, assessor), category in sorted(kept.items())
    ]  # fmt: skip


def _around(planted: PlantedResponse, end: float, rng: Rng) -> list[tuple[float, str, str]]:
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
    """Whole hours, and in how many of them something was planted: what an hourly audit should find."""
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


def unit_months(cases: Sequence[Row], seed: int) -> list[Row]:
    """The unit's own counts: a few labours more than were exported, and those that were auscultated only."""
    rng = np.random.default_rng([seed, 8])
    rows: list[Row] = []
    for period in sorted({str(row["period"]) for row in cases}):
        own = [row for row in cases if row["period"] == period]
        labours = len({row["case_id"] for row in own})
        missed, auscultated = int(rng.integers(1, 4)), int(0.4 * labours) + int(rng.integers(0, 5))
        operations = sum(row["mode_of_birth"] == "caesarean" for row in own)
        births = labours + missed + auscultated
        planned = int(0.1 * births)
        rows.append(
            {"period": period, "births": births + planned, "continuously_monitored": labours + missed,
             "auscultated": auscultated, "caesareans": operations + planned + 1,
             "neonatal_unit_admissions": sum(row["neonatal_unit_admission"] is True for row in own) + 1,
             "deaths": sum(row["died"] is not None for row in own)}
        )  # fmt: skip
    return rows
