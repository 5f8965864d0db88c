"""Why a case may be worth the meeting's time: one small function per kind of reason. Pure."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from audit.measures.cord_gas import CordGasLimits, metabolic_acidosis, pair_flags
from audit.questions.episode_points import gravest, oxytocin_words, points_of
from audit.questions.lasted import sentence as lasted
from audit.questions.votes import sentence
from audit.setting_tables.find import FindOptions, ReasonPoints

Record = Mapping[str, Any]
GAPS = frozenset({"care events", "outcome", "birth time"})


@dataclass(frozen=True)
class Reason:
    """One reason, with the value behind it and its points; `of_outcome` reasons stay hidden from blind readers."""

    kind: str
    text: str
    value: float | None
    points: float
    of_outcome: bool = False


@dataclass(frozen=True)
class Rules:
    """The settings tables that the reasons need."""

    find: FindOptions
    cord_gas: CordGasLimits

    @property
    def points(self) -> ReasonPoints:
        """Points by kind of reason."""
        return self.find.points


def reasons_of(fetus: Record, episodes: Sequence[Record], rules: Rules) -> list[Reason]:
    """Every reason that one fetus's labour gives.

    Parameters
    ----------
    fetus : a row of the query `find/cases`; None = unknown. `usually_recorded`, if given, says which of GAPS its
        month usually has; a gap in the others is none of this case's.
    episodes : the fetus's rows of the query `delays`, late ones first.
    rules : limits and points.

    Returns
    -------
    reasons : in the order in which a reviewer would want them; empty for an unremarkable case. Times in min, areas in
        bpm s per hour; each reason's text names its unit.

    Notes
    -----
    Limits and points are our choice, except where the settings name a source.
    """
    found = _response(episodes, rules)
    for judge in _JUDGES:
        found += judge(fetus, rules)
    return found


def _response(episodes: Sequence[Record], rules: Rules) -> list[Reason]:
    """Late or no response: the case's gravest episode; and oxytocin that was raised during any."""
    found: list[Reason] = []
    worst = gravest(episodes, rules.find)
    if worst is not None:
        late = worst["status"] == "late"
        value = worst["minutes_to_response"] if late else worst["evidence_minutes"]
        trigger = f"{worst['standard']} {worst['trigger'].replace('_', ' ')}"
        target = f"(target {worst['target_minutes']:.0f} min)"
        text = (
            f"{worst['decided_by'] or 'response'} {value:.0f} min after {trigger} was recognisable {target}".replace(
                "_", " "
            )
            if late
            else f"no response recorded to {trigger} {target}"
        )
        parts = [text, lasted(worst), sentence(worst)]
        kind = "late_response" if late else "no_response"
        found.append(Reason(kind, "; ".join(part for part in parts if part), value, points_of(worst, rules.find)))
    oxytocin = oxytocin_words(episodes)
    if oxytocin is not None:
        found.append(Reason("oxytocin_during_concern", oxytocin, None, rules.points.oxytocin_during_concern))
    return found


def _burden(fetus: Record, rules: Rules) -> list[Reason]:
    rank, of, area = fetus["area_rank"], fetus["area_rank_of"], fetus["area_per_seen_hour_bpm_s"]
    if rank is None or of < rules.find.burden_ranked_at_least or not area:
        return []
    if rank > rules.find.burden_top_fraction * of:
        return []
    seen = fetus["last_hour_seen_fraction"] * fetus["last_hour_minutes"]
    among = "in its month" if fetus["period"] else "of those without a month"
    text = (
        f"deceleration area in the last hour ranks {rank} of {of} {among}: {area / 60.0:.0f} bpm min per seen"
        f" hour ({seen:.0f} of {fetus['last_hour_minutes']:.0f} min seen)"
    )
    return [Reason("high_burden", text, area, rules.points.high_burden)]


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


def _low_apgar(fetus: Record, rules: Rules) -> list[Reason]:
    apgar = fetus["apgar_5"]
    limits = rules.find.low_apgar_5_below
    tier = None if apgar is None else next((k for k, limit in enumerate(limits) if apgar < limit), None)
    if tier is None:
        return []
    points = rules.points.low_apgar[tier]
    return [Reason("low_apgar", f"Apgar {apgar} at 5 minutes", float(apgar), points, of_outcome=True)]


def _newborn(fetus: Record, rules: Rules) -> list[Reason]:
    found: list[Reason] = []
    grade = fetus["encephalopathy_grade"]
    if grade is not None and grade >= 1:
        text = f"encephalopathy grade {grade}"
        found.append(Reason("encephalopathy", text, float(grade), rules.points.encephalopathy, of_outcome=True))
    if fetus["neonatal_unit_admission"]:
        points = rules.points.neonatal_unit_admission
        text = "admitted to a neonatal unit"
        found.append(Reason("neonatal_unit_admission", text, None, points, of_outcome=True))
    return found


def _outcome_against_tracing(fetus: Record, rules: Rules) -> list[Reason]:
    if fetus["tracing"] != "read":
        return []
    if bad_outcome(fetus, rules) and unremarkable_tracing(fetus, rules):
        points = rules.points.bad_outcome_unremarkable_tracing
        text = "bad outcome, and no concern episode under any standard"
        return [Reason("bad_outcome_unremarkable_tracing", text, fetus["cord_artery_ph"], points, of_outcome=True)]
    minutes, standards = fetus["pathological_minutes"], rules.find.pathological_standards
    long_enough = [each for each in minutes if each >= rules.find.pathological_minutes]
    if len(long_enough) >= standards and good_outcome(fetus, rules):
        points = rules.points.good_outcome_pathological_tracing
        text = (
            f"good outcome (arterial pH {fetus['cord_artery_ph']:.2f}), and pathological or category III under"
            f" {len(long_enough)} standards, for {min(long_enough):.0f} min or more under each"
        )
        return [Reason("good_outcome_pathological_tracing", text, min(long_enough), points, of_outcome=True)]
    return []


def bad_outcome(fetus: Record, rules: Rules) -> bool:
    """Acidosis under the limit, a low Apgar at 5 minutes, or encephalopathy. Unknown values speak neither way."""
    ph, apgar, grade = fetus["cord_artery_ph"], fetus["apgar_5"], fetus["encephalopathy_grade"]
    return (
        (ph is not None and ph < rules.find.bad_outcome_ph_below)
        or (apgar is not None and apgar < max(rules.find.low_apgar_5_below))
        or (grade is not None and grade >= 1)
    )


def good_outcome(fetus: Record, rules: Rules) -> bool:
    """A known pH from the limit on, and nothing bad. False when the pH is unknown."""
    ph = fetus["cord_artery_ph"]
    return ph is not None and ph >= rules.find.good_outcome_ph_from and not bad_outcome(fetus, rules)


def unremarkable_tracing(fetus: Record, rules: Rules) -> bool:
    """Read, seen enough, and without a concern episode under any standard."""
    seen = fetus["seen_fraction"]
    enough = seen is not None and seen >= rules.find.least_seen_fraction
    return fetus["tracing"] == "read" and enough and fetus["concern_episodes"] == 0


def _readers(fetus: Record, rules: Rules) -> list[Reason]:
    apart = fetus["pairs_apart_fraction"]
    if apart is None or apart < rules.find.readers_apart_pairs_fraction:
        return []
    text = f"readers far apart on one window: {fetus['readers_apart_text']}"
    return [Reason("readers_apart", text, apart, rules.points.readers_apart)]


def _cord_gas(fetus: Record, rules: Rules) -> list[Reason]:
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


def _signal(fetus: Record, rules: Rules) -> list[Reason]:
    found: list[Reason] = []
    loss = fetus["signal_loss_last_30_min_fraction"]
    if loss is not None and loss >= rules.find.signal_loss_from:
        text = f"{100 * loss:.0f} % of the last 30 minutes without usable signal"
        found.append(Reason("signal_loss", text, loss, rules.points.signal_loss))
    before = fetus["minutes_before_birth"]
    if before is not None and before >= rules.find.tracing_stops_minutes:
        text = f"the tracing stops {before:.0f} min before birth"
        found.append(Reason("tracing_stops", text, before, rules.points.tracing_stops))
    return found


def _record_gaps(fetus: Record, rules: Rules) -> list[Reason]:
    """What this case lacks and its month has: a unit that records no events at all is not 300 cases to discuss."""
    gaps: list[Reason] = []
    usual: frozenset[str] = fetus.get("usually_recorded", GAPS)
    if not fetus["has_care_record"] and "care events" in usual:
        gaps.append(Reason("record_gap", "no care events recorded", None, rules.points.no_events))
    if not fetus["has_outcome"] and "outcome" in usual:
        gaps.append(Reason("record_gap", "no outcome recorded", None, rules.points.no_outcome, of_outcome=True))
    if fetus["birth_s"] is None and "birth time" in usual:
        gaps.append(Reason("record_gap", "no birth time recorded", None, rules.points.no_birth_time))
    return gaps


_JUDGES: tuple[Callable[[Record, Rules], list[Reason]], ...] = (
    _burden,
    _acidosis,
    _low_apgar,
    _newborn,
    _outcome_against_tracing,
    _readers,
    _cord_gas,
    _signal,
    _record_gaps,
)
