"""Why a case may be worth the meeting's time: one small function per kind of reason. Pure."""

from collections.abc import Callable, Sequence

from audit.questions.episode_points import gravest, oxytocin_words, points_of
from audit.questions.lasted import sentence as lasted
from audit.questions.outcome_reasons import bad_outcome, good_outcome, outcome_reasons
from audit.questions.reason_types import Reason, Record, Rules
from audit.questions.votes import sentence
from audit.words import standard_name, words

GAPS = frozenset({"care events", "outcome", "birth time"})


def reasons_of(fetus: Record, episodes: Sequence[Record], rules: Rules) -> list[Reason]:
    """Every reason that one fetus's labour gives.

    `fetus`: a row of the query `find/cases`; None = unknown. `usually_recorded`, if given, says which of GAPS its month
    usually has; a gap in the others is none of this case's. `episodes`: the fetus's rows of the query `delays`, late
    ones first. `rules`: limits and points.
    Gives reasons: in the order in which a reviewer would want them; empty for an unremarkable case. Times in min, areas
    in bpm·s per hour; each reason's text names its unit.

    Limits and points are our choice, except where the settings name a source.
    """
    found = _response(episodes, rules) + _bradycardia(fetus, rules)
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
        trigger = f"{words(worst['trigger'])} under {standard_name(worst['standard'])}"
        target = f"(target {worst['target_minutes']:.0f} min)"
        text = (
            f"{words(worst['decided_by'] or 'response')} {value:.0f} min after {trigger} was recognisable {target}"
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


def _bradycardia(fetus: Record, rules: Rules) -> list[Reason]:
    """The longest low level, whoever was or was not called, and a rate that could be the mother's."""
    found: list[Reason] = []
    minutes, rate = fetus["bradycardia_minutes"], fetus["bradycardia_bpm"]
    if minutes is not None:
        end = ", still so at the end of the tracing" if fetus["bradycardia_at_end"] else ""
        low = f"under {rules.find.bradycardia_below_bpm:g} bpm for {minutes:.0f} min"
        text = f"the rate lay {low} (level {rate:.0f} bpm{end})"
        found.append(Reason("bradycardia", text, minutes, rules.points.bradycardia))
    if fetus["maternal_rate"] is not None:
        text = fetus["maternal_rate"].rstrip(".")
        found.append(Reason("maternal_rate", text, None, rules.points.maternal_rate))
    return found


def _burden(fetus: Record, rules: Rules) -> list[Reason]:
    rank, of, area = fetus["area_rank"], fetus["area_rank_of"], fetus["area_per_seen_hour_bpm_s"]
    if rank is None or of < rules.find.burden_ranked_at_least or not area:
        return []
    if rank > rules.find.burden_top_fraction * of:
        return []
    seen = fetus["last_hour_seen_fraction"] * fetus["last_hour_minutes"]
    among = "in its month" if fetus["period"] else "of those without a month"
    level = fetus.get("level_change_area_bpm_s") or 0.0
    of_level = f", {level:.0f} bpm·s of it a fall of 10 min or more" if level >= 60.0 else ""
    text = (
        f"deceleration area in the last hour ranks {rank} of {of} {among}: {area:.0f} bpm·s per seen"
        f" hour ({seen:.0f} of {fetus['last_hour_minutes']:.0f} min seen{of_level})"
    )
    return [Reason("high_burden", text, area, rules.points.high_burden)]


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


def _signal(fetus: Record, rules: Rules) -> list[Reason]:
    found: list[Reason] = []
    loss = fetus["signal_loss_last_30_min_fraction"]
    if loss is not None and loss >= rules.find.signal_loss_from:
        text = f"{100 * loss:.0f} % of the last 30 minutes without usable signal{_of_the_end(fetus)}"
        found.append(Reason("signal_loss", text, loss, rules.points.signal_loss))
    before = fetus["minutes_before_birth"]
    if before is not None and before >= rules.find.tracing_stops_minutes:
        text = f"the tracing stops {before:.0f} min before birth"
        found.append(Reason("tracing_stops", text, before, rules.points.tracing_stops))
    return found


def _of_the_end(fetus: Record) -> str:
    """How much of the loss is monitoring that had ended, which is no loss at the bedside."""
    after, bedside = fetus.get("after_monitoring_minutes"), fetus.get("bedside_loss_last_30_min_fraction")
    if not after or after < 1:
        return ""
    while_on = "" if bedside is None else f"; while it ran {100 * bedside:.0f} % was lost"
    return f": {after:.0f} min of that after monitoring had ended{while_on}"


def _record_gaps(fetus: Record, rules: Rules) -> list[Reason]:
    """What this case lacks and its month has: a unit that records no events at all is not 300 cases to discuss."""
    gaps: list[Reason] = []
    usual: frozenset[str] = fetus.get("usually_recorded", GAPS)
    if not fetus["has_care_record"] and "care events" in usual:
        gaps.append(Reason("record_gap", "no care events recorded", None, rules.points.no_events))
    if fetus["has_outcome"] is not None and not fetus["has_outcome"] and "outcome" in usual:
        gaps.append(Reason("record_gap", "no outcome recorded", None, rules.points.no_outcome, of_outcome=True))
    if fetus["birth_s"] is None and "birth time" in usual:
        gaps.append(Reason("record_gap", "no birth time recorded", None, rules.points.no_birth_time))
    return gaps


_JUDGES: tuple[Callable[[Record, Rules], list[Reason]], ...] = (
    _burden,
    outcome_reasons,
    _outcome_against_tracing,
    _readers,
    _signal,
    _record_gaps,
)
