"""FIGO 1986, intrapartum: normal, suspicious, pathological. Not for review, only for comparison with old reads.

The open database's nine experts read under 'the FIGO classes of the time', so the computed reading is compared with
them under these classes too. Source throughout: FIGO subcommittee, guidelines for the use of fetal monitoring, Int J
Gynaecol Obstet 1987;25:159-67. Every figure is from memory: nobody has yet held them against the original.

The text names mild, variable and severe decelerations without numbers. The settings that give them numbers are our
choice, made on the tuning part of the open database:

* `suspicious_depth`, `suspicious_duration`, `suspicious_per_30_min`: decelerations more than sporadic and mild;
* `severe_depth` or `severe_lowest`, with `severe_duration` and `severe_per_30_min`: severe ones;
* `late_repetitive`: late decelerations count as repetitive from this share of contractions.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from audit.standards.basics import at_minutes, rounded
from audit.standards.evaluation import Evaluation, Standard, assemble
from audit.standards.findings import Findings
from audit.standards.patterns import accompanied_by, recurrence
from audit.standards.seen import Seen
from audit.standards.types import BoolArray, FloatArray, Limit, Threshold, limits_in_force

NAME = "figo-1986"
LEVELS = ("normal", "suspicious", "pathological")
_TEXT = "FIGO 1986, intrapartum classes"
_OURS = "our choice, on the tuning part of the open database"

THRESHOLDS = (
    Threshold("baseline_identified", ">= 120", "s", "identifiable baseline in 10 minutes", "as NICHD 2008; our choice"),
    Threshold("baseline_low_suspicious", "< 110", "bpm", "suspicious from 100 to 110", _TEXT, True),
    Threshold("baseline_low_pathological", "< 100", "bpm", "pathological", _TEXT, True),
    Threshold("baseline_high_suspicious", "> 150", "bpm", "suspicious from 150 to 170", _TEXT, True),
    Threshold("baseline_high_pathological", "> 170", "bpm", "pathological", _TEXT, True),
    Threshold("variability_suspicious", "< 10", "bpm", "suspicious from 5 to 10", _TEXT, True),
    Threshold("variability_pathological", "< 5", "bpm", "pathological", _TEXT, True),
    Threshold("variability_duration", "> 40", "min", "either, for this long", _TEXT, True),
    Threshold("variability_increased", "> 25", "bpm", "suspicious", _TEXT, True),
    Threshold("suspicious_depth", ">= 35", "bpm", "more than mild", _OURS),
    Threshold("suspicious_duration", ">= 30", "s", "more than mild", _OURS),
    Threshold("suspicious_per_30_min", ">= 4", "count", "more than sporadic", _OURS),
    Threshold("severe_depth", ">= 70", "bpm", "severe, or", _OURS),
    Threshold("severe_lowest", "< 70", "bpm", "severe", _OURS),
    Threshold("severe_duration", ">= 60", "s", "severe, with either", _OURS),
    Threshold("severe_per_30_min", ">= 4", "count", "severe decelerations that make a strip pathological", _OURS),
    Threshold("prolonged", ">= 300", "s", "one deceleration that is pathological", _OURS),
    Threshold("late_repetitive", "> 0.5", "fraction", "share of contractions with a late deceleration", _OURS),
    Threshold("sinusoidal_duration", ">= 20", "min", "pathological", "as NICHD 2008; our choice"),
)


def edition(table: Mapping[str, Any]) -> str:
    """The edition in force, as printed with results."""
    return str(table["edition"])


def evaluate(seen: Seen, at_s: FloatArray, floor_s: float, table: dict[str, Any]) -> Evaluation:
    """Class at each mark."""
    limits = limits_in_force(THRESHOLDS, table)
    basics = seen.basics(at_s, floor_s, table, limits["baseline_identified"])
    window_min = float(table["class_window_min"])
    findings = Findings(at_s.size)
    _baseline(findings, basics.baseline_bpm, limits)
    _variability(seen, findings, limits, table, at_s, floor_s)
    _decelerations(seen, findings, limits, table, at_s, floor_s)
    levels = findings.worst()
    seen_share = seen.seen_share(basics, window_min)
    assessable = Limit(">=", float(table["signal_seen_fraction"])).met(seen_share)
    assessable &= at_s - floor_s >= float(table["first_category_min"]) * 60.0 - 1e-6
    codes, reasons = assemble(
        findings,
        levels,
        basics,
        seen_share,
        assessable,
        sufficient=2,
        seen_text=lambda s: f"signal seen {s:.0f} % of the last {window_min:g} min",
        unremarkable=lambda b, v: f"baseline {b:.0f} bpm, variability {v:.0f} bpm, at most mild decelerations",
    )
    return Evaluation(basics, levels, codes, reasons)


def _baseline(findings: Findings, value: FloatArray, limits: dict[str, Limit]) -> None:
    shown = np.rint(value)
    for side in ("low", "high"):
        severe = limits[f"baseline_{side}_pathological"].met(value)
        for level, name, met in (
            (2, f"baseline_{side}_pathological", severe),
            (1, f"baseline_{side}_suspicious", limits[f"baseline_{side}_suspicious"].met(value) & ~severe),
        ):
            findings.add(level, met, lambda b, n=name: f"baseline {b:.0f} bpm; limit {limits[n].number} bpm", shown)


def _variability(
    seen: Seen,
    findings: Findings,
    limits: dict[str, Limit],
    table: Mapping[str, Any],
    at_s: FloatArray,
    floor_s: float,
) -> None:
    basics = seen.basics(at_s, floor_s, dict(table), limits["baseline_identified"])
    step, gap = float(table["round_variability_to_bpm"]), int(table["variability_gap_min"])
    shown = np.rint(basics.variability_bpm)
    for level, name in ((2, "variability_pathological"), (1, "variability_suspicious")):
        minutes = at_minutes(seen.variability_run_min(limits[name], step, gap), basics.minute)
        findings.add(
            level,
            limits["variability_duration"].met(minutes),
            lambda v, m: f"variability {v:.0f} bpm for {m:.0f} min; limit {limits['variability_duration'].number} min",
            shown,
            minutes,
        )
    increased = limits["variability_increased"].met(rounded(basics.variability_bpm, step))
    findings.add(1, increased, lambda v: f"variability {v:.0f} bpm; limit 25 bpm", shown)
    minutes, _ = seen.sinusoidal_at(basics, lambda run: True)
    findings.add(
        2,
        limits["sinusoidal_duration"].met(minutes),
        lambda m: f"sinusoidal pattern for {m:.0f} min",
        np.floor(minutes),
    )


def _decelerations(
    seen: Seen,
    findings: Findings,
    limits: dict[str, Limit],
    table: Mapping[str, Any],
    at_s: FloatArray,
    floor_s: float,
) -> None:
    falls = seen.lasting_falls
    basics = seen.basics(at_s, floor_s, dict(table), limits["baseline_identified"])
    start = np.maximum(at_s - float(table["class_window_min"]) * 60.0, floor_s)
    shown = falls.overlapping(start, at_s)
    so_far = np.where(shown, falls.so_far_s(at_s), 0.0)
    longest = so_far.max(axis=1, initial=0.0)
    findings.add(
        2,
        limits["prolonged"].met(longest),
        lambda m: f"one deceleration of {m:g} min; limit {limits['prolonged'].value / 60:g} min",
        np.floor(longest / 6.0) / 10.0,
    )
    severe = limits["severe_depth"].met(falls.depth_bpm) | limits["severe_lowest"].met(falls.lowest_bpm)
    more = limits["suspicious_depth"].met(falls.depth_bpm)
    half_hours = np.maximum(at_s - start, 60.0) / 1800.0
    for level, name, deep in ((2, "severe", severe), (1, "suspicious", more)):
        number: FloatArray = (limits[f"{name}_duration"].met(so_far) & deep).sum(axis=1) / half_hours
        met: BoolArray = limits[f"{name}_per_30_min"].met(number)
        words = "severe" if level == 2 else "more than mild"
        findings.add(
            level,
            met,
            lambda k, w=words, n=name: f"{k:.0f} {w} decelerations in 30 min; limit {limits[f'{n}_per_30_min'].number}",
            np.rint(number),
        )
    late = np.array(falls.kind, dtype="U12") == "late"
    pattern = recurrence(
        accompanied_by(seen.contractions, falls, late, falls.nadir_s),
        basics,
        limit=limits["late_repetitive"],
        window_min=30.0,
        minimum=Limit(">=", float(table["minimum_contractions"])),
        toco_usable=Limit(">=", float(table["recurrence_toco_usable"])),
    )
    findings.add(
        2,
        pattern.met,
        lambda k, n: f"late decelerations with {k:.0f} of {n:.0f} contractions",
        pattern.accompanied,
        pattern.contractions,
    )


STANDARD = Standard(NAME, LEVELS, edition, evaluate)
