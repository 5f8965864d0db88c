"""The invented unit's eight months: which case is what, and the story that the review should find.

Until the fifth month nights have one senior for the whole unit, and answers to patterns are slow there; from the
fifth month on a second senior is present at night and nights answer as days do. Two cases waited for over an hour.
"""

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from synthetic_cases.archetypes import PATHOLOGICAL, SHORTEST_HOURS, SUSPICIOUS
from synthetic_cases.care import Ending, Pace

FIRST_PERIOD = (2025, 3)
CHANGE_MONTH = 5  # counted from 1: the first month with a second senior on nights
OXYTOCIN_MONTH = 7  # from here on labours with a pattern had oxytocin, which was reduced after the answer

Special = Literal[
    "",
    "long_delay",
    "bad_outcome_unremarkable",
    "good_outcome_pathological",
    "twins",
    "preterm",
    "poor_toco",
    "maternal_channel",
    "maternal_rate",
    "near_identical_gases",
    "swapped_gases",
    "no_outcome",
    "no_events",
    "unrecorded_response",
    "died",
    "seizures",
    "transferred",
    "category_1",
    "acidosis_though_well",
]


@dataclass(frozen=True)
class CaseSpec:
    """One case of the story before anything is drawn."""

    case_id: str
    index: int  # position in the unit; seeds the case's own chance
    month: int  # 0 = first
    period: str
    archetype: str
    shift: Literal["day", "night"]
    pace: Pace
    specials: tuple[Special, ...] = ()
    hours: float = 5.0
    mode: Ending = "spontaneous_vaginal"
    gestation_weeks: int = 39
    fhr_sensor: str = "ultrasound"
    severity: int = 0
    file_format: Literal["parquet", "csv", "csv.gz"] = "parquet"


@dataclass(frozen=True)
class _Fixed:
    """A planted case: its month (from 1), archetype, shift (None = by chance) and specials."""

    month: int
    archetype: str
    shift: Literal["day", "night"] | None = None
    specials: tuple[Special, ...] = field(default=())


# In order of importance: a smaller unit keeps the first ones that find room.
FIXED = (
    _Fixed(2, "absent_variability_recurrent_late", "night", ("long_delay", "died", "seizures")),
    _Fixed(3, "recurrent_late", "night", ("long_delay", "acidosis_though_well")),
    _Fixed(3, "unremarkable", "day", ("bad_outcome_unremarkable", "transferred")),
    _Fixed(6, "recurrent_late", "day", ("good_outcome_pathological",)),
    _Fixed(4, "sinusoidal", "day"),
    _Fixed(5, "unremarkable", "day", ("twins",)),
    _Fixed(4, "unremarkable", "night", ("preterm",)),
    _Fixed(1, "terminal_bradycardia", "day"),
    _Fixed(7, "terminal_bradycardia", "night", ("seizures",)),
    _Fixed(1, "prolonged_deceleration", "day"),
    _Fixed(2, "prolonged_deceleration", "day"),
    _Fixed(5, "prolonged_deceleration", "night"),
    _Fixed(8, "prolonged_deceleration", "day"),
    _Fixed(1, "tachysystole", "day"),
    _Fixed(6, "tachysystole", "night"),
    _Fixed(2, "rising_baseline", "day"),
    _Fixed(5, "rising_baseline", "day"),
    _Fixed(1, "low_variability", "night"),
    _Fixed(6, "low_variability", "night"),
    _Fixed(4, "recurrent_late", "night"),
    _Fixed(7, "recurrent_late", "day"),
    _Fixed(8, "recurrent_late", "night", ("transferred",)),
    _Fixed(1, "recurrent_variable", "night"),
    _Fixed(2, "recurrent_variable", "night"),
    _Fixed(3, "reduced_variability", "night"),
    _Fixed(4, "recurrent_variable", "night"),
    _Fixed(1, "unremarkable", None, ("poor_toco",)),
    _Fixed(6, "unremarkable", None, ("poor_toco",)),
    _Fixed(3, "unremarkable", None, ("maternal_channel",)),
    _Fixed(5, "recurrent_variable", None, ("maternal_channel",)),
    _Fixed(8, "unremarkable", None, ("maternal_channel", "maternal_rate")),
    _Fixed(4, "unremarkable", None, ("maternal_rate",)),
    _Fixed(2, "unremarkable", None, ("near_identical_gases",)),
    _Fixed(7, "unremarkable", None, ("near_identical_gases",)),
    _Fixed(5, "unremarkable", None, ("swapped_gases",)),
    _Fixed(1, "unremarkable", None, ("no_outcome",)),
    _Fixed(7, "unremarkable", None, ("no_outcome",)),
    _Fixed(3, "unremarkable", None, ("no_events",)),
    _Fixed(6, "unremarkable", None, ("no_events",)),
    _Fixed(8, "unremarkable", None, ("no_events",)),
    _Fixed(2, "recurrent_variable", "day", ("unrecorded_response",)),
    _Fixed(7, "tachycardia", "day", ("unrecorded_response",)),
    _Fixed(8, "low_variability", "day", ("unrecorded_response",)),
    # births in category 1 for a reason that the tracing does not show, enough for a point of a month
    *(_Fixed(month, "unremarkable", None, ("category_1",)) for month in (6, 8) for _ in range(5)),
)

_SHARE_SUSPICIOUS, _SHARE_PATHOLOGICAL = 0.25, 0.08
_SUSPICIOUS_MIX = {
    "recurrent_variable": 0.38,
    "reduced_variability": 0.20,
    "short_prolonged_deceleration": 0.16,
    "tachysystole": 0.12,
    "rising_baseline": 0.08,
    "tachycardia": 0.06,
}
_PATHOLOGICAL_MIX = {"recurrent_late": 0.4, "prolonged_deceleration": 0.35, "low_variability": 0.25}


def period(month: int) -> str:
    """'YYYY-MM' of the month counted from 0."""
    year, first = FIRST_PERIOD
    return f"{year + (first - 1 + month) // 12}-{(first - 1 + month) % 12 + 1:02d}"


def unit(seed: int, months: int, per_month: int) -> list[CaseSpec]:
    """All cases of the unit, in order of month.

    `seed`: the story's chance; the planted cases are the same for every seed. `months`, `per_month`: size. A month too
    small for its planted cases keeps the most important ones.
    """
    rng = np.random.default_rng([seed, 1])
    specs: list[CaseSpec] = []
    for month in range(months):
        planted = [f for f in FIXED if f.month == month + 1][:per_month]
        slots = planted + [_Fixed(month + 1, a) for a in _fill(rng, planted, per_month)]
        for number in rng.permutation(len(slots)):
            specs.append(_spec(rng, slots[number], len(specs), month))
    return specs


def busy(seed: int, months: int, per_month: int, labours: int) -> list[CaseSpec]:
    """Short labours beyond `per_month` in the last month, so that it is as large as a unit's; the others stay."""
    rng = np.random.default_rng([seed, 5])
    first, specs = months * per_month, []
    for k in range(max(0, labours - per_month)):
        archetype = "recurrent_variable" if k % 12 == 5 else "unremarkable"
        spec = _spec(rng, _Fixed(months, archetype), first + k, months - 1)
        specs.append(replace(spec, hours=round(60 * float(rng.uniform(1.1, 1.5))) / 60, file_format="parquet"))
    return specs


def _fill(rng: np.random.Generator, planted: list[_Fixed], per_month: int) -> list[str]:
    """Archetypes of the month's other cases, so that the whole month has the asked shares."""
    free = per_month - len(planted)
    have_suspicious = sum(f.archetype in SUSPICIOUS for f in planted)
    have_pathological = sum(f.archetype in PATHOLOGICAL for f in planted)
    suspicious = min(max(round(_SHARE_SUSPICIOUS * per_month) - have_suspicious, 0), free)
    pathological = min(max(round(_SHARE_PATHOLOGICAL * per_month) - have_pathological, 0), free - suspicious)
    names = [str(n) for n in rng.choice(list(_SUSPICIOUS_MIX), suspicious, p=list(_SUSPICIOUS_MIX.values()))]
    names += [str(n) for n in rng.choice(list(_PATHOLOGICAL_MIX), pathological, p=list(_PATHOLOGICAL_MIX.values()))]
    return names + ["unremarkable"] * (free - suspicious - pathological)


def _spec(rng: np.random.Generator, slot: _Fixed, index: int, month: int) -> CaseSpec:
    shift = slot.shift or ("night" if rng.random() < 0.42 else "day")
    hours = float(np.clip(rng.gamma(6.0, 0.8), 2.0, 9.0))
    hours = max(hours, SHORTEST_HOURS.get(slot.archetype, 2.0))
    if "long_delay" in slot.specials:
        hours = max(hours, 5.5)
    mode = _mode(rng, slot)
    return CaseSpec(
        case_id=f"K{index + 1:03d}",
        index=index,
        month=month,
        period=period(month),
        archetype=slot.archetype,
        shift=shift,
        pace=_pace(slot, shift, month),
        specials=slot.specials,
        hours=round(hours * 60) / 60,
        mode=mode,
        gestation_weeks=30 if "preterm" in slot.specials else _gestation(rng, slot),
        fhr_sensor=_sensor(rng, slot),
        severity=_severity(rng, slot),
        file_format="csv" if index % 67 == 11 else "csv.gz" if index % 67 == 40 else "parquet",
    )


def _pace(slot: _Fixed, shift: str, month: int) -> Pace:
    if "long_delay" in slot.specials:
        return "long_delay"
    if "unrecorded_response" in slot.specials:
        return "unrecorded"
    if slot.archetype in ("prolonged_deceleration", "terminal_bradycardia"):
        return "prompt"
    return "slow" if shift == "night" and month + 1 < CHANGE_MONTH else "prompt"


def _mode(rng: np.random.Generator, slot: _Fixed) -> Ending:
    if slot.archetype in ("absent_variability_recurrent_late", "sinusoidal", "recurrent_late"):
        return "caesarean"
    if slot.archetype == "terminal_bradycardia" or "category_1" in slot.specials:
        return "caesarean"
    draw = rng.random()
    if slot.archetype == "unremarkable":
        return "caesarean" if draw < 0.12 else "instrumental_vaginal" if draw < 0.2 else "spontaneous_vaginal"
    return "caesarean" if draw < 0.25 else "instrumental_vaginal" if draw < 0.45 else "spontaneous_vaginal"


def _gestation(rng: np.random.Generator, slot: _Fixed) -> int:
    if "twins" in slot.specials:
        return 36
    return int(np.clip(round(rng.normal(39.5, 1.2)), 35, 42))


def _sensor(rng: np.random.Generator, slot: _Fixed) -> str:
    # The mother's rate is mistaken for the fetus's by ultrasound, not through an electrode on the scalp.
    if {"maternal_rate", "preterm", "twins"} & set(slot.specials):
        return "ultrasound"
    return "scalp_electrode" if rng.random() < (0.35 if slot.archetype in PATHOLOGICAL else 0.15) else "ultrasound"


def _severity(rng: np.random.Generator, slot: _Fixed) -> int:
    if {"bad_outcome_unremarkable", "died", "seizures", "transferred"} & set(slot.specials):
        return 3
    if slot.archetype == "absent_variability_recurrent_late":
        return 3
    if "good_outcome_pathological" in slot.specials:
        return 0
    if slot.archetype in ("recurrent_late", "terminal_bradycardia", "sinusoidal"):
        return 2
    if slot.archetype in PATHOLOGICAL:
        return 1
    if slot.archetype in SUSPICIOUS:
        return int(rng.random() < 0.35)
    return int(rng.random() < 0.06)
