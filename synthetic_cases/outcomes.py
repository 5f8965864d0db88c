"""Outcomes of birth with cord gases that fit together."""

from dataclasses import dataclass, replace

import numpy as np

Rng = np.random.Generator

# Extracellular base deficit from pH and pCO2 (Siggaard-Andersen form; haemoglobin term 10/3 mmol/L). It reproduces a
# published case: pH 6.86 with 55 mmHg (7.333 kPa) gives 21.1 mmol/L.
_HB_MMOL_L = 3.33


def base_deficit_mmol_l(ph: float, pco2_kpa: float) -> float:
    """Base deficit of the extracellular fluid, mmol/L, from pH and pCO2 in kPa."""
    bicarbonate = 0.230 * pco2_kpa * 10 ** (ph - 6.095)
    slope = 2.3 * _HB_MMOL_L + 7.7
    return -(1 - 0.023 * _HB_MMOL_L) * (bicarbonate - 24.4 + slope * (ph - 7.40))


@dataclass(frozen=True)
class Outcome:
    """One baby's outcome; None = not recorded."""

    cord_artery_ph: float | None = None
    cord_artery_base_deficit_mmol_l: float | None = None
    cord_artery_pco2_kpa: float | None = None
    cord_vein_ph: float | None = None
    cord_vein_pco2_kpa: float | None = None
    cord_lactate_mmol_l: float | None = None
    apgar_1: int | None = None
    apgar_5: int | None = None
    apgar_10: int | None = None
    birth_weight_g: int | None = None
    neonatal_unit_admission: bool | None = None
    encephalopathy_grade: int | None = None
    died: str | None = None
    cooled: bool | None = None
    seizures: bool | None = None
    transferred: bool | None = None


# severity: mean and spread of arterial pH, and of the five-minute Apgar; our choice inside published term ranges
_PH = {0: (7.27, 0.045), 1: (7.23, 0.05), 2: (7.15, 0.05), 3: (6.98, 0.03)}
_APGAR_5 = {0: (9.3, 0.6), 1: (8.9, 0.8), 2: (7.8, 1.0), 3: (5.0, 0.8)}


def outcome(rng: Rng, severity: int, gestation_weeks: int, *, gases: bool = True, pair: str = "plausible") -> Outcome:
    """Draw an outcome.

    `severity`: 0 well, 1 a little low, 2 acidotic, 3 severely acidotic. `gestation_weeks`: completed weeks; sets the
    weight. `gases`: whether cord blood was taken. `pair`: 'plausible', or planted faults 'near_identical' and 'swapped'
    (artery and vein).
    """
    mean, spread = _PH[severity]
    apgar_5 = int(np.clip(round(rng.normal(*_APGAR_5[severity])), 2, 10))
    apgar_1 = int(np.clip(apgar_5 - rng.integers(0, 3), 1, 10))
    apgar_10 = int(np.clip(apgar_5 + rng.integers(0, 2), 3, 10))
    weight = int(np.clip(3450 + 150 * (gestation_weeks - 39.5) + rng.normal(0, 390), 900, 5200))
    admitted = severity >= 3 or gestation_weeks < 34 or bool(rng.random() < 0.03 + 0.1 * severity)
    record = {
        "apgar_1": apgar_1,
        "apgar_5": apgar_5,
        "apgar_10": apgar_10,
        "birth_weight_g": round(weight, -1),
        "neonatal_unit_admission": admitted,
        "encephalopathy_grade": 2 if severity == 3 else 0,
        "cooled": severity == 3,
        "seizures": False,
        "transferred": False,
    }
    if not gases:
        return Outcome(**record)  # type: ignore[arg-type]
    ph = float(np.clip(rng.normal(mean, spread), mean - 2 * spread, mean + 2 * spread))
    pco2 = float(np.clip(7.2 - 8.5 * (ph - 7.25) + rng.normal(0, 0.55), 4.6, 11.0))
    vein_ph, vein_pco2 = ph + float(rng.uniform(0.04, 0.12)), pco2 - float(rng.uniform(0.8, 2.0))
    if pair == "near_identical":
        vein_ph, vein_pco2 = ph + 0.01, pco2 - 0.1
    elif pair == "swapped":
        ph, pco2, vein_ph, vein_pco2 = vein_ph, vein_pco2, ph, pco2
    ph, pco2 = round(ph, 2), round(pco2, 1)
    deficit = base_deficit_mmol_l(ph, pco2)
    return Outcome(
        cord_artery_ph=ph,
        cord_artery_base_deficit_mmol_l=round(deficit, 1),
        cord_artery_pco2_kpa=pco2,
        cord_vein_ph=round(vein_ph, 2),
        cord_vein_pco2_kpa=round(max(vein_pco2, 3.4), 1),
        cord_lactate_mmol_l=round(float(np.clip(2.2 + 0.42 * max(deficit, 0) + rng.normal(0, 0.5), 1.0, 20)), 1),
        **record,  # type: ignore[arg-type]
    )


def after_birth(found: Outcome, *, died: bool, seizures: bool, transferred: bool) -> Outcome:
    """The outcome with what followed in the newborn's first days: died in the first week, seizures, another unit."""
    if died:
        found = replace(found, died="neonatal_early", encephalopathy_grade=3)
    return replace(found, seizures=found.seizures or seizures, transferred=found.transferred or transferred)


def acidosis_though_well(found: Outcome) -> Outcome:
    """The outcome with cord blood just below pH 7.10 and a newborn that was well: a long wait that ended well."""
    ph, pco2, vein_ph, vein_pco2 = 7.07, 8.6, 7.14, 7.2
    deficit = base_deficit_mmol_l(ph, pco2)
    return replace(
        found,
        cord_artery_ph=ph,
        cord_artery_base_deficit_mmol_l=round(deficit, 1),
        cord_artery_pco2_kpa=pco2,
        cord_vein_ph=vein_ph,
        cord_vein_pco2_kpa=vein_pco2,
        cord_lactate_mmol_l=round(2.2 + 0.42 * deficit, 1),
        apgar_5=max(found.apgar_5 or 0, 8),
        apgar_10=max(found.apgar_10 or 0, 9),
        neonatal_unit_admission=False,
        encephalopathy_grade=0,
        cooled=False,
    )
