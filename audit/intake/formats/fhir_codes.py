"""What the codes of FHIR resources mean here, and in which units (UCUM) their values come.

LOINC: fetal heart rate 55283-6; Apgar at 1, 5 and 10 min 9272-6, 9274-2, 9271-8; pH of arterial cord blood 28646-8;
base excess of it 28638-5; heart rate 8867-4, which excludes the fetal one and is the mother's (LOINC; HL7 value sets of
vital signs and of birth reporting). A unit's own codes stand in `[import.fhir_codes]`; no code is guessed.
"""

from collections.abc import Mapping
from typing import Any

from audit.measures.cord_gas import MMHG_PER_KPA

LOINC = "http://loinc.org"
BASE_EXCESS = "cord_artery_base_excess_mmol_l"  # stored as a deficit, with its sign changed
CHANNELS = ("fhr_bpm", "toco", "mhr_bpm")
_SHIPPED = {
    f"{LOINC}|55283-6": "fhr_bpm",
    f"{LOINC}|8867-4": "mhr_bpm",
    f"{LOINC}|9272-6": "apgar_1",
    f"{LOINC}|9274-2": "apgar_5",
    f"{LOINC}|9271-8": "apgar_10",
    f"{LOINC}|28646-8": "cord_artery_ph",
    f"{LOINC}|28638-5": BASE_EXCESS,
}
# an archived guide gives it for 5 min; what it stands for cannot be told, so it is left out with a word
DOUBTFUL = f"{LOINC}|9273-4"
_RATE = ("", "/min", "{beats}/min", "bpm", "1/min", "{h.b.}/min", "beats/min", "beats/minute")
# by the end of the column's name: unit -> factor
_UNITS: tuple[tuple[tuple[str, ...], Mapping[str, float]], ...] = (
    (("fhr_bpm", "mhr_bpm"), dict.fromkeys(_RATE, 1.0)),
    (("toco",), {"": 1.0, "1": 1.0, "%": 1.0, "{arbitrary}": 1.0, "mm[hg]": 1.0, "mmhg": 1.0, "kpa": MMHG_PER_KPA}),
    (("_ph",), {"": 1.0, "[ph]": 1.0, "ph": 1.0, "1": 1.0}),
    (("apgar_1", "apgar_5", "apgar_10", "encephalopathy_grade"), {"": 1.0, "{score}": 1.0, "1": 1.0}),
    (("_mmol_l",), {"mmol/l": 1.0, "meq/l": 1.0}),
    (("_pco2_kpa",), {"kpa": 1.0, "mm[hg]": 1 / MMHG_PER_KPA, "mmhg": 1 / MMHG_PER_KPA}),
    (("birth_weight_g",), {"g": 1.0, "kg": 1000.0}),
)


def meanings_of(concept: Any, own: Mapping[str, str]) -> list[str]:
    """The columns or event that a CodeableConcept stands for, empty when no code of it is known.

    A unit's own codes are looked up as 'system|code' and then as the code alone.
    """
    codings = concept.get("coding") if isinstance(concept, dict) else None
    for coding in codings if isinstance(codings, list) else []:
        if not isinstance(coding, dict):
            continue
        code, system = str(coding.get("code", "")), str(coding.get("system", ""))
        full = f"{system}|{code}"
        found = own.get(full) or own.get(code) or _SHIPPED.get(full)
        if found and code:
            return found.split()
    return []


def is_doubtful(concept: Any) -> bool:
    """Does it bear the code whose meaning guides do not agree on?"""
    codings = concept.get("coding") if isinstance(concept, dict) else None
    known = codings if isinstance(codings, list) else []
    return any(isinstance(c, dict) and f"{c.get('system')}|{c.get('code')}" == DOUBTFUL for c in known)


def factor_of(meaning: str, quantity: Mapping[str, Any]) -> float | None:
    """By what a value is multiplied to be in our unit; None for a unit that is none of this column's."""
    unit = str(quantity.get("code") or quantity.get("unit") or "").strip().casefold()
    for endings, units in _UNITS:
        if meaning.endswith(endings):
            return units.get(unit)
    return 1.0
