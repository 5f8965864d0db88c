"""Cord blood gases: base deficit recomputed, whether a pair can be right, tiers of acidosis, units that look wrong.

A flag is a remark for the reviewer: no value is changed or dropped here. Sources stand beside each rule; the values of
the limits are in the `[cord_gas]` table of the settings.
"""

import math
from typing import Annotated

from msgspec import Meta

from audit.setting_types import Ph, Table, Unfit

Kilopascal = Annotated[float, Meta(ge=0.1, le=100, extra={"unit": "kPa"})]

MMHG_PER_KPA = 7.50062  # NIST SP 811: 1 kPa = 7.50062 mmHg
# arterial pH, each strict; the tiers that cohorts report
TIERS_PH_BELOW = (7.00, 7.05, 7.10, 7.20)
NO_TIER = "none"
# metabolic acidosis at birth: both; international consensus (MacLennan 1999), from memory. A definition, not a choice
# of a unit: what a unit lists and from where on stands in its settings.
METABOLIC_PH_BELOW = 7.00
METABOLIC_DEFICIT_MMOL_L = 12.0


class CordGasLimits(Table, frozen=True):
    """The table `[cord_gas]`: how far a pair must lie apart, and what cannot be a gas at all."""

    least_ph_difference: Annotated[float, Meta(ge=0, le=0.5, extra={"unit": "pH"})]
    least_pco2_difference_kpa: Annotated[float, Meta(ge=0, le=10, extra={"unit": "kPa"})]
    ph_lowest: Ph
    ph_highest: Ph
    pco2_lowest_kpa: Kilopascal
    pco2_highest_kpa: Kilopascal
    base_deficit_difference_mmol_l: Annotated[float, Meta(ge=0, le=30, extra={"unit": "mmol/L"})]

    def __post_init__(self) -> None:
        """Refuse limits that leave nothing between them. Raises Unfit."""
        for low, high in (("ph_lowest", "ph_highest"), ("pco2_lowest_kpa", "pco2_highest_kpa")):
            if not getattr(self, low) < getattr(self, high):
                raise Unfit(low, getattr(self, low), f"less than {high} ({getattr(self, high):g})")


def base_deficit_ecf_mmol_l(ph: float, pco2_kpa: float) -> float:
    """Base deficit of the extracellular fluid, mmol/L; positive = deficit.

    `ph`: pH of the sample. `pco2_kpa`: kPa.
    Gives base_deficit: mmol/L; NaN when pH or pCO2 is NaN.
    Raises ValueError: when pCO2 is not positive.

    Siggaard-Andersen's equation: bicarbonate = 0.230 x pCO2 x 10^(pH - 6.095);
    deficit = -(1 - 0.023 h) x (bicarbonate - 24.4 + (2.3 h + 7.7) x (pH - 7.40)), h = 3.33 mmol/L, a third of the
    haemoglobin for the extracellular space's effective share. The figures are from memory, held against a published
    case (pH 6.86, pCO2 55 mmHg: 21.1 mmol/L) and against the stored values of the open intrapartum database (Chudacek
    2014). Other equations give other answers for the same gas, up to 3 mmol/L apart.
    """
    if pco2_kpa <= 0:
        raise ValueError(f"pco2_kpa: found {pco2_kpa}, expected a positive number")
    h = 3.33
    bicarbonate = 0.230 * pco2_kpa * math.pow(10.0, ph - 6.095)
    return -(1.0 - 0.023 * h) * (bicarbonate - 24.4 + (2.3 * h + 7.7) * (ph - 7.40))


def acidosis_tier(ph: float | None) -> str | None:
    """The strictest tier that an arterial pH falls under: below 7.00, 7.05, 7.10 or 7.20, each strict; None = unknown.

    Source: the tiers that cohorts report; a pH of exactly 7.00 is not below 7.00.
    """
    if ph is None or math.isnan(ph):
        return None
    return next((f"< {limit:.2f}" for limit in TIERS_PH_BELOW if ph < limit), NO_TIER)


def metabolic_acidosis(ph: float | None, base_deficit_mmol_l: float | None) -> bool | None:
    """Arterial pH < 7.00 and base deficit >= 12.0 mmol/L (the usual cohort definition); None = cannot say.

    One criterion known not to hold is enough for False.
    """
    acid = None if ph is None or math.isnan(ph) else ph < METABOLIC_PH_BELOW
    bd = base_deficit_mmol_l
    deficit = None if bd is None or math.isnan(bd) else bd >= METABOLIC_DEFICIT_MMOL_L
    if acid is False or deficit is False:
        return False
    return None if acid is None or deficit is None else True


def pair_flags(
    artery_ph: float | None,
    artery_pco2_kpa: float | None,
    vein_ph: float | None,
    vein_pco2_kpa: float | None,
    limits: CordGasLimits,
) -> tuple[str, ...]:
    """Why an artery-vein pair may not be what it says; empty when nothing speaks against it or one side is missing.

    The artery's pH is lower by at least 0.02 and its pCO2 higher by at least 0.5 kPa (Westgate 1994, from memory).
    About a tenth of valid pairs are nearly identical, and most of those samples were arterial, so the flag asks for a
    look at the record and drops nothing (Thieme 2023). An artery above the vein suggests swapped samples.
    """
    found: list[str] = []
    least_ph, least_pco2 = limits.least_ph_difference, limits.least_pco2_difference_kpa
    if artery_ph is not None and vein_ph is not None:
        difference = round(vein_ph - artery_ph, 4)
        if difference < 0:
            found.append(f"artery pH {artery_ph:g} above vein pH {vein_ph:g}: samples swapped?")
        elif difference < least_ph:
            found.append(f"artery and vein pH differ by {difference:g}; expected at least {least_ph:g}")
    if artery_pco2_kpa is not None and vein_pco2_kpa is not None:
        difference = round(artery_pco2_kpa - vein_pco2_kpa, 4)
        if difference < least_pco2:
            found.append(
                f"artery pCO2 {artery_pco2_kpa:g} kPa and vein pCO2 {vein_pco2_kpa:g} kPa differ by {difference:g}; "
                f"expected the artery higher by at least {least_pco2:g} kPa"
            )
    return tuple(found)
