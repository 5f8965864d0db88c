"""Which question each monthly measure helps to answer, so that a page can group its charts."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit.questions.month_list import ANY

QUESTIONS: Mapping[str, tuple[str, ...]] = {
    "How much is there to review?": ("births_reviewed", "cases_with_concern"),
    "Are concerns answered in time?": ("answered_within_target", "half_answered_minutes", "delayed_as_agreed"),
    "Is what was seen written down?": ("hours_assessed", "hours_assessed_by_two", "bedside_milder", "bedside_worse"),
    "Is oxytocin handled with care?": ("oxytocin_reduced_in_concern", "tachysystole_of_oxytocin_hours"),
    "How soon is the baby born once decided?": ("decision_to_birth_within_30_min", "decision_to_birth_over_interval"),
    "What do the newborns come from, and how are they?": ("area_last_hour_bpm_s_per_h", "newborns_between_acidosis"),
    "Can the figures be trusted?": ("record_complete", "cord_gases_taken", "reader_agreement"),
}
OTHER = "Other measures"
# by what the list of all cases is narrowed to those that a month's point rests on; other points rest on all its births
_BEHIND = {name: {"trigger": ANY} for name in ("cases_with_concern", "answered_within_target", "half_answered_minutes")}


def behind(name: str) -> Mapping[str, str]:
    """The filters, as names and values of `month_list`, that leave the cases behind a month's point of a measure."""
    return _BEHIND.get(name, {})


def signals(points: Sequence[Mapping[str, Any]]) -> list[str]:
    """Each signal of a measure's points once, with the months in which it was seen."""
    months: dict[str, dict[str, None]] = {}
    for point in points:
        if point["signal"]:
            months.setdefault(point["signal"], {})[point["period"]] = None
    return [f"Signal in {', '.join(found_in)}: {signal}." for signal, found_in in months.items()]


def by_question(measures: Sequence[Mapping[str, Any]]) -> list[tuple[str, list[Mapping[str, Any]]]]:
    """The measures under their questions, in the order of these; questions without a measure are left out."""
    known = {name for names in QUESTIONS.values() for name in names}
    grouped = [
        (question, [measure for name in names for measure in measures if measure["name"] == name])
        for question, names in QUESTIONS.items()
    ]
    rest = [measure for measure in measures if measure["name"] not in known]
    return [(question, found) for question, found in (*grouped, (OTHER, rest)) if found]
