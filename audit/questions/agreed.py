"""The meeting's own clocks beside the computed ones, and how often the meeting changed the verdict, and which way."""

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from audit import months
from audit.analysis.agreed_run import AddedFall, clock_with_marks
from audit.measures.proportions import LEVEL, wilson_interval
from audit.people import agenda
from audit.people import agreed as people_agreed
from audit.people.agreed import Agreed
from audit.questions import weighted_back
from audit.response.agreed import DELAYED, agreed_clock, change_of_verdict
from audit.response.parts import rank
from audit.settings import Settings
from audit.standards.settings import StandardSettings
from audit.store import database
from audit.store.database import Record, records
from audit.store.tracings import load_many
from audit.words import number_of, standard_name

_WORST = {"nichd-2008": "category_iii", "figo-2015": "pathological", "nice-ng229": "pathological"}
_LESS = {"nichd-2008": "category_ii_persistent"}
# depth and length from which one fall starts a clock by itself, as the standards' settings name them
_STARTS_A_CLOCK = {
    "nichd-2008": ("prolonged_depth", "trigger_prolonged"),
    "figo-2015": ("deceleration_depth", "prolonged"),
    "nice-ng229": ("deceleration_depth", "prolonged"),
}
_SIDES = {">": "more than", ">=": "at least"}  # the settings refuse any other for these
CHANGES = {
    "unchanged": "as computed",
    "called_delayed": "delayed by the meeting, not as computed",
    "cleared": "delayed as computed, not by the meeting",
}


def document(
    con: database.Connection, db: Path, settings: Settings, *, period: str | None = None, standard: str | None = None
) -> Record:
    """What meetings agreed.

    `db`: the database's own path, for what people wrote. `period`: month of birth, YYYY-MM; None = all. `standard`:
    None = all.
    Gives document: `clocks`, a row per case, fetus and standard (`agreed_row`, and whether the case was `drawn` at
    random for the agenda), and `figure`: decided, changed, cleared, called_delayed, share changed, low, high (0 to 1,
    Wilson 95 %) and `sentence`; None where nothing was agreed; `weighted`, the shares of all labours that a random
    sample on the agenda tells (`weighted_back.of_agreed`).
    """
    kept = [
        row
        for row in people_agreed.everything(db)
        if months.within(row["period"], period) and standard in (None, row["standard"])
    ]
    rows = _beside_computed(con, settings, kept, standard=standard, case_id=None) if kept else []
    listed = [row for row in agenda.everything(db) if months.within(row["period"], period)] if rows else []
    drawn = {(row["period"], row["case_id"]) for row in listed if row["drawn_from"] is not None}
    for row in rows:
        row["drawn"] = (row["period"], row["case_id"]) in drawn
    return {"clocks": rows, "figure": figure(rows), "weighted": weighted_back.of_agreed(rows, listed)}


def agreed_row(con: database.Connection, settings: Settings, key: Record, agreed: Agreed) -> Record:
    """One agreed clock beside the computed one.

    Gives row: period, case_id, fetus, standard, category, from_s, recognisable_s, status, response_s, response_event,
    minutes_to_response, target_minutes, decided_by, reason, struck_out, added; computed_recognisable_s (the first),
    computed_statuses, minutes_later (agreed recognisable minute less the computed one) and `change`.
    """
    one = {**key, "agreed": agreed}
    return _beside_computed(con, settings, [one], standard=key["standard"], case_id=key["case_id"])[0]


def _beside_computed(
    con: database.Connection, settings: Settings, kept: Sequence[Record], *, standard: str | None, case_id: str | None
) -> list[Record]:
    """Rows as `agreed_row`; the computed clocks are asked for once, however many were agreed."""
    computed: dict[tuple[str, str, str], list[Record]] = defaultdict(list)
    for row in records(con, "response/delays", {"period": None, "standard": standard, "case_id": case_id}):
        computed[row["case_id"], row["fetus"], row["standard"]].append(row)
    ids = sorted({row["case_id"] for row in kept})
    births = {row["case_id"]: row["birth_s"] for row in records(con, "intake/cases_of", {"case_ids": ids})}
    return [
        _row(settings, row, computed[row["case_id"], row["fetus"], row["standard"]], births.get(row["case_id"]))
        for row in kept
    ]


def _row(settings: Settings, key: Record, own: Sequence[Record], birth_s: float | None) -> Record:
    agreed: Agreed = key["agreed"]
    place = {name: key[name] for name in ("period", "case_id", "fetus", "standard")}
    rule = settings.response.rule(key["standard"], trigger_of(key["standard"], agreed.category))
    clock = agreed_clock(
        concern=agreed.concern,
        recognisable_s=agreed.recognisable_s,
        first_act=_act(agreed.first_act_s, agreed.first_act_event),
        escalation=_act(agreed.escalation_s, agreed.escalation_event),
        decided_by=rule.decided_by,
        target_minutes=rule.target_minutes,
        birth_s=birth_s,
    )
    first = min((row["recognisable_s"] for row in own), default=None)
    later = None if first is None or agreed.recognisable_s is None else (agreed.recognisable_s - first) / 60.0
    deeds = Counter(mark.deed for mark in agreed.marks)
    return place | {
        "category": agreed.category, "from_s": agreed.from_s, "recognisable_s": agreed.recognisable_s,
        "status": clock.status, "response_s": clock.response_s, "response_event": clock.response_event,
        "minutes_to_response": clock.minutes_to_response, "target_minutes": rule.target_minutes,
        "decided_by": rule.decided_by, "reason": agreed.reason, "struck_out": deeds["struck_out"],
        "added": deeds["added"], "computed_recognisable_s": first,
        "computed_statuses": sorted({row["status"] for row in own}), "minutes_later": later,
        "change": change_of_verdict(clock.status, [row["status"] for row in own]),
    }  # fmt: skip


def figure(rows: Sequence[Record]) -> Record | None:
    """How often the meeting changed whether a case was delayed, and which way; None where nothing was decided.

    Of rows with `drawn` those that came for their reasons count (`_not_drawn`).
    """
    counted = _not_drawn(rows)
    changes = Counter(row["change"] for row in counted if row["change"] is not None)
    decided, changed = sum(changes.values()), changes["cleared"] + changes["called_delayed"]
    if not decided:
        return None
    low, high = wilson_interval(changed, decided, LEVEL)
    sentence = (
        f"The meeting changed the computed verdict (delayed or not) in {changed} of {number_of(decided, 'clock')} that"
        f" it decided ({100 * changed / decided:.0f} %, 95 % interval {100 * low:.0f} to {100 * high:.0f} %):"
        f" {changes['cleared']} cleared, {changes['called_delayed']} called delayed."
    )
    if not all(row.get("drawn") for row in counted):
        sentence += (
            " Cases come to the meeting because they stand out, so this is no figure of all labours"
            + "; those drawn at random are left out" * (len(counted) < len(rows))
            + "."
        )
    return {
        "decided": decided, "changed": changed, "cleared": changes["cleared"],
        "called_delayed": changes["called_delayed"], "share": changed / decided, "low": low, "high": high,
        "sentence": sentence,
    }  # fmt: skip


def by_month(rows: Sequence[Record], periods: Sequence[str]) -> tuple[list[int], list[int]]:
    """Clocks agreed to be delayed, and clocks decided, in each month; without those drawn (`_not_drawn`)."""
    decided = [row for row in _not_drawn(rows) if row["status"] is not None]
    late = [sum(row["period"] == period and row["status"] in DELAYED for row in decided) for period in periods]
    return late, [sum(row["period"] == period for row in decided) for period in periods]


def _not_drawn(rows: Sequence[Record]) -> Sequence[Record]:
    """Clocks of cases that came for their reasons; all, where every case was drawn at random."""
    return [row for row in rows if not row.get("drawn")] or rows


def trigger_of(standard: str, category: str | None) -> str:
    """The trigger whose target and deciding act belong to an agreed category; the worst where none is given."""
    if category is None or rank(standard, category) == 2:
        return _WORST[standard]
    return _LESS.get(standard, "suspicious_persistent")


def run_again(
    con: database.Connection, settings: Settings, case_id: str, fetus: str, standard: str, agreed: Agreed
) -> Record:
    """The computed clock without what was struck out and with what was added; nothing of it stored.

    Gives document: `rows`, one per concern episode under the standard as the settings in force find it: standard,
    trigger, pattern_start_s, recognisable_s, response_s, response_event, minutes_to_response, target_minutes, status;
    and `told`, sentences: that the clock stayed as it was computed, and what each added fall is by the signal.
    """
    tracing = load_many(con, [(case_id, fetus)])[case_id, fetus]
    facts = case_facts(con, case_id)
    found = clock_with_marks(
        tracing,
        agreed.marks,
        facts=facts,
        events=records(con, "case/events", {"case_id": case_id}),
        settings=settings.analysis,
    )
    rows = [dict(vars(one)) for one in found.clock.responses if one.standard == standard]
    computed = records(con, "response/delays", {"period": None, "standard": standard, "case_id": case_id})
    told = []
    if _same_clock(rows, [row for row in computed if row["fetus"] == fetus]):
        told.append(f"This changed nothing: under {standard_name(standard)} the clock is as computed.")
    table = settings.analysis.of_standards_for(facts.get("period"))[standard]
    return {"rows": rows, "told": told + [fall_words(fall, standard, table) for fall in found.added_falls]}


def _same_clock(rows: Sequence[Record], computed: Sequence[Record]) -> bool:
    """Whether both have the same concerns at the same seconds, ended in the same way."""
    once, again = (
        sorted((row["trigger"], round(row["recognisable_s"]), row["status"]) for row in one) for one in (computed, rows)
    )
    return once == again


def fall_words(fall: AddedFall, standard: str, table: StandardSettings) -> str:
    """What an added fall is by the signal, and what it lacks to start a clock by itself."""
    place = f"Added fall, minute {fall.start_s / 60:.1f} to {fall.end_s / 60:.1f}:"
    if fall.depth_bpm is None:
        return f"{place} no rate or no baseline was seen there, so it was not counted."
    depth, length = (table.limit(name) for name in _STARTS_A_CLOCK[standard])
    shown_bpm = math.floor(10 * max(fall.depth_bpm, 0.0)) / 10  # down, so that none seems to meet a limit it misses
    text = f"{place} at most {shown_bpm:g} bpm under the baseline in the signal used, {fall.length_s:g} s long."
    if depth.met_by(fall.depth_bpm) and length.met_by(fall.length_s):
        return text
    asked = " and ".join(
        f"{_SIDES[limit.symbol]} {limit.number} {unit}" for limit, unit in ((depth, "bpm"), (length, "s"))
    )
    return f"{text} By itself it starts no clock under {standard_name(standard)}: that takes {asked}."


def case_facts(con: database.Connection, case_id: str) -> dict[str, Any]:
    """What a clock needs to know of a case."""
    found = records(con, "intake/cases_of", {"case_ids": [case_id]})
    return found[0] if found else {}


def _act(at_s: float | None, event: str | None) -> tuple[float, str] | None:
    return None if at_s is None or event is None else (at_s, event)
