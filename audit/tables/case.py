"""Tables of one case: clock, burden, segments, decelerations, reads, care events and facts."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from audit import house_style
from audit import words as words_
from audit.charts.strip.rows import joined
from audit.tables.definition import (
    Column,
    Kind,
    Row,
    Table,
    TableDefinition,
    dynamic,
    is_unknown,
    numbers,
    rows_of,
    shares,
    texts,
)
from audit.tables.episodes import (
    DECIDED_BY,
    ESCALATION,
    FIRST_ACT,
    LASTED,
    LATE_UNDER,
    PATTERN_START,
    RECOGNISABLE,
    RESPONSE_AT,
    RESPONSE_EVENT,
    STANDARD,
    STATUS,
    TARGET,
    TO_BIRTH,
    TO_RESPONSE,
    TRIGGER,
)
from audit.tracing.types import Tracing

SPAN_WORDS = {
    "last_30_min": "last 30 min",
    "last_60_min": "last 60 min",
    "last_120_min": "last 120 min",
    "whole": "whole tracing",
    "first_stage": "first stage",
    "second_stage": "second stage",
}


def fact_words(facts: Mapping[str, Any], length_s: float, seen_fraction: float | None) -> list[str]:
    """What is known of a labour, without how it ended: one phrase each."""
    seen = "not known" if seen_fraction is None else f"{100 * seen_fraction:.0f} %"
    found = [f"Tracing of {words_.hh_mm(length_s)} (hours:minutes), {seen} of it seen"]
    for name, words in (
        ("gestation_weeks", "{:.0f} completed weeks"),
        ("parity", "parity {:.0f}"),
        ("onset_of_labour", "labour {}"),
        ("shift", "{} shift"),
    ):
        value = facts.get(name)
        if value is not None:
            whole = int(value) if name == "gestation_weeks" else value
            found.append(words.format(words_.words(whole) if isinstance(whole, str) else whole))
    for name, words in (("second_stage_s", "second stage from {}"), ("birth_s", "birth at {}")):
        if facts.get(name) is not None:
            found.append(words.format(words_.hh_mm(facts[name])))
    return found


def event_words(events: pd.DataFrame) -> list[str]:
    """Care events in order of time: when, and what, in the unit's word (a sentence would keep ours for birth)."""
    listed = events.sort_values("at_s", kind="stable")[["at_s", "event"]].itertuples(index=False)
    return list(dict.fromkeys(f"{words_.hh_mm(s)} {house_style.text(words_.words(event))}" for s, event in listed))


def recorded_as(tracing: Tracing) -> list[str]:
    """How a tracing was recorded: sampling rates of its files and sensors, as far as they are known."""
    rates = [f"{rate:g} Hz" if rate is not None else "an unknown rate" for rate in tracing.rates_hz]
    found = [f"sampled at {' and '.join(rates)}"]
    if tracing.fhr_sensor is not None:
        both = tracing.fhr_sensor == "both"
        found.append(f"FHR by {'ultrasound and scalp electrode' if both else words_.words(tracing.fhr_sensor)}")
    if tracing.toco_sensor is not None:
        found.append(f"toco {tracing.toco_sensor}")
    return found


def from_to(row: Row, start: str = "start_s", end: str = "end_s") -> str:
    """Where a stretch begins and ends."""
    return f"{words_.hh_mm(row[start])} – {words_.hh_mm(row[end])}"


CLOCK = TableDefinition(
    "clock",
    (
        STANDARD, TRIGGER, PATTERN_START, RECOGNISABLE, RESPONSE_AT, RESPONSE_EVENT, TO_RESPONSE, *FIRST_ACT,
        *ESCALATION, DECIDED_BY, TARGET, TO_BIRTH, STATUS, LATE_UNDER, LASTED,
        Column("reasons", "Criteria met", value=lambda row: joined(row["reasons"])),
        Column("note", "Note"),
    ),
    title="The clock",
    empty="No concern episode under any standard, and no reader found a window concerning.",
    first_columns=("standard", "trigger", "recognisable_s", "response_event", "minutes_to_response", "target_minutes",
                   "status"),
)  # fmt: skip
READER_CLOCKS = TableDefinition(
    "reader_clocks",
    (
        Column("reader", "Reader"),
        STANDARD,
        RECOGNISABLE,
        RESPONSE_AT,
        RESPONSE_EVENT,
        TO_RESPONSE,
        FIRST_ACT[0],
        ESCALATION[0],
        DECIDED_BY,
        TARGET,
        STATUS,
    ),
    first_columns=(
        "reader",
        "standard",
        "recognisable_s",
        "response_event",
        "minutes_to_response",
        "target_minutes",
        "status",
    ),
)
CLOCK_ON_PAPER = CLOCK.only(
    "standard", "trigger", "pattern_start_s", "recognisable_s", "first_act_event", "minutes_to_first_act",
    "escalation_event", "minutes_to_escalation", "decided_by", "target_minutes", "status",
)  # fmt: skip
BURDEN = TableDefinition(
    "burden",
    (
        Column("span", "Span", value=lambda row: SPAN_WORDS.get(row["span"], words_.words(str(row["span"])))),
        *numbers(span_minutes="Minutes"),
        *shares(seen_fraction="Seen, %"),
        *numbers(decelerations="Decelerations", early="Early", late="Late", variable="Variable",
                 prolonged="Prolonged", unclassified="Unclassified", area_bpm_s="Area, bpm·s",
                 area_per_seen_hour_bpm_s="Area per seen hour, bpm·s", triangle_area_bpm_s="Triangle area, bpm·s"),
        *numbers(1, minutes_in_deceleration="Minutes in deceleration"),
        *numbers(contractions="Contractions", contractions_with_deceleration="With a deceleration",
                 deepest_bpm="Deepest, bpm", longest_s="Longest, s"),
        *numbers(1, decelerations_per_20_min="Per 20 seen min"),
        *numbers(level_change_area_bpm_s="Area of level changes, bpm·s"),
        *numbers(1, unseen_in_falls_minutes="Unseen in falls, min (areas are at least)",
                 after_monitoring_minutes="After monitoring ended, min"),
        *shares(bedside_loss_fraction="Lost at the bedside, %"),
    ),
    title="Burden",
    empty="This tracing was not analysed.",
    first_columns=("span", "seen_fraction", "decelerations", "late", "variable", "prolonged",
                   "area_per_seen_hour_bpm_s", "deepest_bpm"),
)  # fmt: skip
BURDEN_ON_PAPER = BURDEN.only(
    "span", "seen_fraction", "decelerations", "early", "late", "variable", "prolonged", "minutes_in_deceleration",
    "area_per_seen_hour_bpm_s", "unseen_in_falls_minutes", "deepest_bpm", "longest_s",
)  # fmt: skip
SEGMENTS = TableDefinition(
    "segments",
    (
        Column("from_to", "Segment", value=from_to),
        *numbers(1, baseline_bpm="Baseline, bpm"),
        *numbers(baseline_rounded_bpm="Rounded, bpm"),
        *numbers(1, variability_bpm="Variability, bpm"),
        Column("variability", "Class"),
        *shares(signal_loss_fraction="Signal lost, %"),
        *numbers(1, contractions_per_10_min="Contractions per 10 min"),
        Column("sinusoidal", "Sinusoidal", Kind.YES_NO, value=lambda row: row["sinusoidal"] or None),
    ),
)


def _remark(row: Row) -> str:
    at_least, other = row.get("at_least"), row["other_kind"]
    by_length = "prolonged" in (row["kind"], other)
    told_by = "could be prolonged or not by its length" if by_length else "fall could be abrupt or gradual"
    told = "could be a change of baseline by its length" if other == "level_change" else f"{told_by}: or {other}"
    remarks = (
        (told, isinstance(other, str)),
        ("shallow", bool(row["shallow"])),
        ("cut off where the signal begins or ends", bool(row["open_end"])),
        ("depth and area are at least: part of it was not seen", not is_unknown(at_least) and bool(at_least)),
    )
    return ", ".join(text for text, on in remarks if on)


DECELERATIONS = TableDefinition(
    "decelerations",
    (
        *texts(Kind.CLOCK, onset_s="Onset"),
        Column("kind", "Kind"),
        *numbers(depth_bpm="Depth, bpm"),
        Column("duration_s", "Duration, s", Kind.NUMBER, value=lambda row: row["end_s"] - row["onset_s"]),
        *numbers(area_bpm_s="Area, bpm·s", onset_to_nadir_s="Onset to nadir, s", judged_fall_s="Fall as judged, s",
                 lag_s="Nadir after peak, s"),
        Column("toco", "Toco", value=lambda row: "usable" if row["toco_usable"] else "not usable"),
        *shares(seen_fraction="Seen, %"),
        *numbers(unseen_duration_s="Unseen, s"),
        Column("remark", "Remark", value=_remark),
    ),
)  # fmt: skip


EVENTS = TableDefinition(
    "events",
    (
        *texts(Kind.CLOCK, at_s="At"),
        *texts(Kind.CODE, event="Event"),
        *numbers(urgency="Urgency, 1 to 4"),
        Column("detail", "Detail"),
    ),
    empty="No care event was imported for this case.",
)
ASSESSMENTS = TableDefinition(
    "assessments",
    (
        *texts(Kind.CLOCK, at_s="At"),
        Column("assessor", "By", Kind.CODE),
        STANDARD,
        Column("category", "Recorded as"),
        Column("computed", "Computed then", missing="not known"),
        *numbers(baseline_bpm="Baseline, bpm"),
        *texts(variability="Variability", accelerations="Accelerations", decelerations="Decelerations"),
        Column("contractions_per_10_min", "Contractions per 10 min", Kind.NUMBER, 1, short="Contr. in 10 min"),
        Column("risk", "Risk factors noted", value=lambda row: risk_words(row["risk"])),
    ),
    title="Recorded at the time",
    first_columns=("at_s", "assessor", "standard", "category", "computed", "decelerations", "risk"),
    empty="No assessment was recorded.",
)
READS = TableDefinition(
    "reads",
    (
        Column("window", "Window", value=from_to),
        STANDARD,
        Column("reader", "Reader", value=lambda row: reader_words(row["reader"], row["occasion"])),
        Column("category", "Category"),
        *numbers(baseline_bpm="Baseline, bpm"),
        *texts(variability="Variability", accelerations="Accelerations", decelerations="Decelerations"),
        Column("contractions_per_10_min", "Contractions per 10 min", Kind.NUMBER, 1, short="Contr. in 10 min"),
        Column("would_act", "Act", Kind.YES_NO),
    ),
    title="Reads",
    empty="Nobody has read a window of this case.",
)


def risk_words(coded: Any) -> str | None:
    """Coded risk factors in words; None where nothing was given."""
    if is_unknown(coded):
        return None
    return ", ".join(words_.words(word) for word in str(coded).split()) or "none"


def reader_words(reader: Any, occasion: Any) -> str:
    """A reader's code; a second read of the same strip says so."""
    return str(reader) if is_unknown(occasion) or occasion == 1 else f"{reader} (repeat)"


def reads_side_by_side(rows: pd.DataFrame) -> Table:
    """A row per window and standard, a column per reader and occasion, the computed one last."""
    found: dict[tuple[str, str], dict[str, list[str]]] = {}
    for row in rows_of(rows):
        window = found.setdefault((from_to(row), words_.standard_name(str(row["standard"]))), {})
        if not is_unknown(row["category"]):
            window.setdefault(reader_words(row["reader"], row["occasion"]), []).append(str(row["category"]))
    names = sorted({name for reads in found.values() for name in reads}, key=lambda name: (name == "computed", name))
    definition = dynamic("reads", ["Window", "Standard", *names], empty="Nobody has read this tracing yet.")
    return definition.filled(
        [
            {"Window": key[0], "Standard": key[1]} | {name: " / ".join(reads) for name, reads in found[key].items()}
            for key in sorted(found)
        ]
    )


def differing_words(row: Row) -> str:
    """Whether the second reading and the rules differ, and in which numbers; by how many classes, when by two."""
    rules, second = row["rules_category"], row["category"]
    if is_unknown(rules) or rules == "not assessable":
        return "the rules say nothing"
    if rules == second:
        return "agree"
    listed = row["differs_by"]
    why = [] if listed is None or isinstance(listed, float) else [str(one) for one in listed]
    names = ("normal", "suspicious", "pathological")
    apart = abs(names.index(str(rules)) - names.index(str(second)))
    return f"differ by {apart} class{'es' if apart > 1 else ''}" + (f": {'; '.join(why)}" if why else "")


SECOND_READINGS = TableDefinition(
    "second_readings",
    (
        Column("window", "Window", value=from_to),
        Column("category", "Second reading"),
        Column("rules_category", "By rules"),
        Column("differs", "Rules and second reading", value=differing_words),
        *shares(normal_fraction="Normal, %", suspicious_fraction="Suspicious, %",
                pathological_fraction="Pathological, %"),
        *numbers(fitted_on_windows="Fitted on windows"),
    ),
    first_columns=("window", "category", "rules_category", "differs", "normal_fraction", "suspicious_fraction",
                   "pathological_fraction"),
)  # fmt: skip
SECOND_READING_LANE = TableDefinition(
    "second_reading_lane", SECOND_READINGS.columns, first_columns=SECOND_READINGS.first_columns
)


EVIDENCE = TableDefinition(
    "second_reading_evidence",
    (
        Column("recording", "Recording"),
        Column("there", "Window there", value=lambda row: from_to(row, "recording_start_s", "recording_end_s")),
        *shares(likeness_fraction="Alike, %"),
        *numbers(normal="Experts: normal", suspicious="Experts: suspicious", pathological="Experts: pathological"),
    ),
)  # fmt: skip


FACTS = TableDefinition(
    "facts",
    texts(fact="Fact", value="Value"),
    empty="Nothing but the tracing is known of this case.",
)


def facts_table(facts: Mapping[str, Any]) -> Table:
    """What is known of the case, in words; unknown facts are left out."""
    times = ("second_stage_s", "birth_s", "auscultated_until_s")
    return FACTS.filled(
        {
            "fact": words_.words(name.removesuffix("_s")) + (" at" if name in times else ""),
            "value": words_.hh_mm(value) if name in times else _fact_words(name, value),
        }
        for name, value in facts.items()
        if value is not None
    )


def _fact_words(name: str, value: Any) -> Any:
    if name == "risk_factors":
        return risk_words(value)
    return words_.words(str(value)) if name == "monitored_because" else value
