"""Do the cord gas values of one newborn fit each other? What does not is flagged; a sign taken wrongly is kept out."""

from collections.abc import Callable
from typing import Any

from audit.intake.door.remarks import Remarks
from audit.measures.cord_gas import base_deficit_ecf_mmol_l
from audit.settings import Settings

# A pH below this with a base surplus needs a very high pCO2; our choice.
_LOW_PH = 7.25


def check_gases(
    outcome: dict[str, Any], place: Callable[[str], tuple[int, str]], remarks: Remarks, settings: Settings
) -> None:
    """Check base deficit against pH and pCO2, then artery against vein. May set the base deficit to None."""
    _check_base_deficit(outcome, place, remarks, settings)
    artery, vein = outcome.get("cord_artery_ph"), outcome.get("cord_vein_ph")
    least = settings.cord_gas.least_ph_difference
    if artery is not None and vein is not None and round(vein - artery, 6) < least:
        swapped = "the samples may be swapped" if artery > vein else "both may be from one vessel"
        remarks.flag(
            *place("cord_artery_ph"), artery,
            f"found {artery:g} in the artery and {vein:g} in the vein, expected the artery lower by {least:g} or more:"
            f" {swapped}",
        )  # fmt: skip
    artery, vein = outcome.get("cord_artery_pco2_kpa"), outcome.get("cord_vein_pco2_kpa")
    least = settings.cord_gas.least_pco2_difference_kpa
    if artery is not None and vein is not None and round(artery - vein, 6) < least:
        remarks.flag(
            *place("cord_artery_pco2_kpa"), artery,
            f"found {artery:g} kPa in the artery and {vein:g} kPa in the vein, expected the artery higher by {least:g}"
            " kPa or more",
        )  # fmt: skip


def _check_base_deficit(
    outcome: dict[str, Any], place: Callable[[str], tuple[int, str]], remarks: Remarks, settings: Settings
) -> None:
    name = "cord_artery_base_deficit_mmol_l"
    deficit, ph, pco2 = outcome.get(name), outcome.get("cord_artery_ph"), outcome.get("cord_artery_pco2_kpa")
    if deficit is None:
        return
    row, column = place(name)
    tolerance = settings.cord_gas.base_deficit_difference_mmol_l
    if ph is not None and pco2 is not None:
        expected = base_deficit_ecf_mmol_l(ph, pco2)
        if abs(deficit - expected) <= tolerance:
            return
        if deficit < 0 and abs(-deficit - expected) <= tolerance:
            remarks.reject_value(
                row, column, deficit, f"found {deficit:g}; pH {ph:g} and pCO2 {pco2:g} kPa give a base deficit of"
                f" {expected:.1f} mmol/L: this looks like base excess, change its sign",
            )  # fmt: skip
            outcome[name] = None
            return
        remarks.flag(
            row, column, deficit,
            f"found {deficit:g}, expected about {expected:.1f} mmol/L from pH {ph:g} and pCO2 {pco2:g} kPa",
        )  # fmt: skip
    if deficit <= settings.import_.base_excess_from:
        remarks.reject_value(
            row, column, deficit, f"found {deficit:g}, expected a base deficit (positive in acidosis): this looks like"
            " base excess, change its sign",
        )  # fmt: skip
        outcome[name] = None
    elif deficit < 0 and ph is not None and ph < _LOW_PH and pco2 is None:
        remarks.flag(
            row, column, deficit,
            f"found {deficit:g} with pH {ph:g}, expected a positive base deficit: is it base excess?",
        )  # fmt: skip
