"""What a newborn's outcome gives to discuss, and what counts as a good and as a bad one. Pure."""

from collections.abc import Callable, Sequence

from audit.measures.cord_gas import metabolic_acidosis, pair_flags
from audit.questions.reason_types import Reason, Record, Rules

# a case with one of these is always listed, and before every other one, whatever the points; in this order
ALWAYS_FIRST = ("died", "cooled", "encephalopathy")
# what of a row of `find/cases` tells how the newborn was
OUTCOME_FIELDS = (
    "has_outcome", "cord_artery_ph", "cord_artery_base_deficit_mmol_l", "cord_artery_pco2_kpa", "cord_vein_ph",
    "cord_vein_pco2_kpa", "cord_lactate_mmol_l", "apgar_5", "neonatal_unit_admission", "encephalopathy_grade", "died",
    "cooled", "seizures", "transferred",
)  # fmt: skip
_DIED = {
    "antepartum": "died before labour",
    "intrapartum": "died in labour",
    "neonatal_early": "died in the first week of life",
    "neonatal_late": "died in the second to fourth week of life",
}


def outcome_reasons(fetus: Record, rules: Rules) -> list[Reason]:
    """The reasons that stem from one newborn's outcome, gravest first; empty where nothing is known."""
    return [reason for judge in _JUDGES for reason in judge(fetus, rules)]


def without_outcome(fetus: Record) -> Record:
    """The same row as it is before anybody knows how the newborn was."""
    return {**fetus, **dict.fromkeys(OUTCOME_FIELDS)}


def first_rank(reasons: Sequence[Reason]) -> int:
    """Place among those always listed first; `len(ALWAYS_FIRST)` for every other case."""
    found = {reason.kind for reason in reasons}
    return next((place for place, kind in enumerate(ALWAYS_FIRST) if kind in found), len(ALWAYS_FIRST))


def bad_outcome(fetus: Record, rules: Rules) -> bool:
    """Death, cooling, seizures, encephalopathy, acidosis under the limit or a low Apgar; unknown speaks neither way."""
    ph, apgar, grade = fetus["cord_artery_ph"], fetus["apgar_5"], fetus["encephalopathy_grade"]
    vein, lactate = fetus["cord_vein_ph"], fetus["cord_lactate_mmol_l"]
    return (
        fetus["died"] is not None
        or bool(fetus["cooled"])
        or bool(fetus["seizures"])
        or (ph is not None and ph < rules.find.bad_outcome_ph_below)
        or (vein is not None and vein < min(rules.find.vein_ph_below))
        or (lactate is not None and lactate >= max(rules.find.lactate_from_mmol_l))
        or (apgar is not None and apgar < max(rules.find.low_apgar_5_below))
        or (grade is not None and grade >= 1)
    )


def good_outcome(fetus: Record, rules: Rules) -> bool:
    """A known pH from the limit on, and nothing bad. False when the pH is unknown."""
    ph = fetus["cord_artery_ph"]
    return ph is not None and ph >= rules.find.good_outcome_ph_from and not bad_outcome(fetus, rules)


def good_recorded_outcome(fetus: Record, rules: Rules) -> bool:
    """What a control needs: an arterial pH or a 5-minute Apgar on record, a pH from the limit on, no other trouble.

    A unit that takes gases only where it fears something still has controls; a newborn of whom nothing is recorded is
    none.
    """
    ph, apgar = fetus["cord_artery_ph"], fetus["apgar_5"]
    recorded = ph is not None or apgar is not None
    well = ph is None or ph >= rules.find.good_outcome_ph_from
    away = bool(fetus["transferred"]) or bool(fetus["neonatal_unit_admission"])
    return recorded and well and not away and not bad_outcome(fetus, rules)


def _grave(fetus: Record, rules: Rules) -> list[Reason]:
    points = rules.points
    found: list[Reason] = []
    if fetus["died"] is not None:
        found.append(Reason("died", _DIED.get(fetus["died"], "died"), None, points.died, of_outcome=True))
    if fetus["cooled"]:
        found.append(Reason("cooled", "treated with cooling", None, points.cooled, of_outcome=True))
    grade = fetus["encephalopathy_grade"]
    if grade is not None and grade >= 1:
        text = f"encephalopathy grade {grade}"
        found.append(Reason("encephalopathy", text, float(grade), points.encephalopathy, of_outcome=True))
    if fetus["seizures"]:
        found.append(Reason("seizures", "seizures", None, points.seizures, of_outcome=True))
    return found


def _acidosis(fetus: Record, rules: Rules) -> list[Reason]:
    ph, deficit = fetus["cord_artery_ph"], fetus["cord_artery_base_deficit_mmol_l"]
    if ph is None:
        return []
    limits = rules.find.acidosis_ph_below
    tier = next((k for k, limit in enumerate(limits) if ph < limit), None)
    if tier is None:
        return []
    points = rules.points.acidosis[tier]
    text = f"arterial pH {ph:.2f}, below {limits[tier]:.2f}"
    if deficit is not None:
        text += f", base deficit {deficit:.1f} mmol/L"
    if metabolic_acidosis(ph, deficit):
        points = max(points, rules.points.metabolic_acidosis)
        text += ": metabolic acidosis"
    return [Reason("acidosis", text, ph, points, of_outcome=True)]


def _other_cord_blood(fetus: Record, rules: Rules) -> list[Reason]:
    """A low pH of the vein and a high lactate: often the only sample there is."""
    found: list[Reason] = []
    vein, lactate = fetus["cord_vein_ph"], fetus["cord_lactate_mmol_l"]
    below = rules.find.vein_ph_below
    tier = None if vein is None else next((k for k, limit in enumerate(below) if vein < limit), None)
    if tier is not None:
        text = f"venous pH {vein:.2f}, below {below[tier]:.2f}"
        found.append(Reason("vein_acidosis", text, vein, rules.points.vein_acidosis[tier], of_outcome=True))
    least = rules.find.lactate_from_mmol_l
    tier = None if lactate is None else next((k for k, limit in enumerate(least) if lactate >= limit), None)
    if tier is not None:
        text = f"cord lactate {lactate:.1f} mmol/L, {least[tier]:g} or more"
        found.append(Reason("high_lactate", text, lactate, rules.points.high_lactate[tier], of_outcome=True))
    return found


def _low_apgar(fetus: Record, rules: Rules) -> list[Reason]:
    apgar = fetus["apgar_5"]
    limits = rules.find.low_apgar_5_below
    tier = None if apgar is None else next((k for k, limit in enumerate(limits) if apgar < limit), None)
    if tier is None:
        return []
    points = rules.points.low_apgar[tier]
    return [Reason("low_apgar", f"Apgar {apgar} at 5 minutes", float(apgar), points, of_outcome=True)]


def _moved(fetus: Record, rules: Rules) -> list[Reason]:
    found: list[Reason] = []
    if fetus["neonatal_unit_admission"]:
        points, text = rules.points.neonatal_unit_admission, "admitted to a neonatal unit"
        found.append(Reason("neonatal_unit_admission", text, None, points, of_outcome=True))
    if fetus["transferred"]:
        text = "transferred to another unit for more care"
        found.append(Reason("transferred", text, None, rules.points.transferred, of_outcome=True))
    return found


def _cord_gas_pair(fetus: Record, rules: Rules) -> list[Reason]:
    flags = pair_flags(
        fetus["cord_artery_ph"],
        fetus["cord_artery_pco2_kpa"],
        fetus["cord_vein_ph"],
        fetus["cord_vein_pco2_kpa"],
        rules.cord_gas,
    )
    if not flags:
        return []
    artery, vein = fetus["cord_artery_ph"], fetus["cord_vein_ph"]
    value = None if artery is None or vein is None else round(vein - artery, 4)
    text = "cord gas pair that may not be what it says: " + "; ".join(flags)
    return [Reason("cord_gas_pair", text, value, rules.points.cord_gas_pair, of_outcome=True)]


_JUDGES: tuple[Callable[[Record, Rules], list[Reason]], ...] = (
    _grave,
    _acidosis,
    _other_cord_blood,
    _low_apgar,
    _moved,
    _cord_gas_pair,
)
