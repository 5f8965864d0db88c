"""The table of a case's outcome: one row per measure, one column per newborn, and what follows from the cord gas."""

from typing import Any

import pandas as pd

from audit import words as words_
from audit.measures.cord_gas import CordGasLimits, acidosis_tier, base_deficit_ecf_mmol_l, pair_flags
from audit.tables.definition import Row, Table, dynamic, is_unknown, rows_of


def outcome_table(rows: pd.DataFrame, cord_gas: CordGasLimits, **words: str) -> Table:
    """The outcome as one row per measure and one column per newborn; what was not given says so.

    cord_gas : the limits of the settings, for the remarks on the cord gas that stand below the measures.
    words : title, note, `of`, as `TableDefinition.filled` takes them.
    """
    newborns = [f"Fetus {name}" for name in rows["fetus"]] if "fetus" in rows else []
    definition = dynamic("outcome", ["Measure", *newborns], title="How it ended", empty="No outcome was imported.")
    found: dict[str, dict[str, str]] = {}
    for newborn, row in zip(newborns, rows_of(rows), strict=True):
        given = {_measure_words(str(name)): _given(value, str(name)) for name, value in row.items() if name != "fetus"}
        for measure, value in (given | _cord_gas(row, cord_gas)).items():
            found.setdefault(measure, {"Measure": measure})[newborn] = value
    return definition.filled(found.values(), **words)


def _cord_gas(row: Row, limits: CordGasLimits) -> dict[str, str]:
    """What follows from the cord gas: tier, base deficit recomputed, whether the pair can be right."""
    names = ("cord_artery_ph", "cord_artery_pco2_kpa", "cord_vein_ph", "cord_vein_pco2_kpa")
    ph, pco2, vein_ph, vein_pco2 = (None if is_unknown(row[name]) else float(row[name]) for name in names)
    tier = acidosis_tier(ph)
    deficit = None if ph is None or pco2 is None or pco2 <= 0 else base_deficit_ecf_mmol_l(ph, pco2)
    remarks = pair_flags(ph, pco2, vein_ph, vein_pco2, limits)
    pair = "nothing against it" if ph is not None and vein_ph is not None else "no pair"
    return {
        "arterial pH falls under": "not known" if tier is None else tier,
        "base deficit recomputed from pH and pCO2, mmol/L": "not known" if deficit is None else f"{deficit:.1f}",
        "artery and vein as a pair": "; ".join(remarks) or pair,
    }


_UNITS = {"mmol_l": "mmol/L", "kpa": "kPa", "g": "g"}


def _measure_words(name: str) -> str:
    for ending, unit in _UNITS.items():
        if name.endswith(f"_{ending}"):
            return f"{words_.words(name.removesuffix(f'_{ending}'))}, {unit}".replace("pco2", "pCO2")
    if name.startswith("apgar_"):
        return f"Apgar score at {name.removeprefix('apgar_')} min"
    return words_.words(name).replace(" ph", " pH")


def _given(value: Any, name: str) -> str:
    if is_unknown(value):
        return "not given"
    if isinstance(value, bool) or str(type(value).__name__) == "bool":
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return words_.words(str(value))
    text = f"{value:g}"
    # a pH is written 7.00, as its limits are; one that was given more finely keeps its digits
    return f"{value:.2f}" if name.endswith("_ph") and len(text.partition(".")[2]) < 2 else text
