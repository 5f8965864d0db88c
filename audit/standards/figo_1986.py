"""FIGO 1986, intrapartum: normal, suspicious, pathological. Not for review, only for comparison with old reads.

The open database's nine experts read under 'the FIGO classes of the time', so the computed reading is compared with
them under these classes too. Source throughout: FIGO subcommittee, guidelines for the use of fetal monitoring, Int J
Gynaecol Obstet 1987;25:159-67. Every figure is from memory: nobody has yet held them against the original.

The text asks for the reader's eye: it names mild and severe decelerations, and the presence of accelerations, without
numbers. They are given numbers here (our choice, made on the tuning part of the open database): decelerations are
graded by their area per 10 seen minutes (`area_suspicious`, `area_pathological`), by how many are deep and long
(`severe_*`), by a long one that goes deep (`longest_*`) and by reduced variability inside (`reduced_inside`);
accelerations (`accelerations`) outweigh an area under `area_outweighed`. Baseline and variability are those of the
whole window, and the baseline is rounded to 5 bpm, as read from a strip of paper.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from audit.standards.basics import at_minutes, rounded, within
from audit.standards.evaluation import Evaluation, Standard, assemble, in_bpm
from audit.standards.findings import Findings
from audit.standards.seen import Seen
from audit.standards.types import FloatArray, Limit, Threshold, limits_in_force

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
    Threshold("variability_pathological", "< 5", "bpm", "pathological", _TEXT, True),
    Threshold("variability_duration", "> 40", "min", "for this long", _TEXT, True),
    Threshold("variability_suspicious", "< 7", "bpm", "suspicious; the text says 5 to 10 for 40 min", _OURS),
    Threshold("variability_increased", "> 25", "bpm", "suspicious", _TEXT, True),
    Threshold("area_suspicious", ">= 2500", "bpm s", "per 10 seen minutes: more than mild", _OURS),
    Threshold("area_pathological", ">= 15000", "bpm s", "per 10 seen minutes: severe", _OURS),
    Threshold("area_outweighed", "< 4000", "bpm s", "per 10 seen minutes, when there are accelerations", _OURS),
    Threshold("accelerations", ">= 1", "per 10 min", "present", _OURS),
    Threshold("severe_depth", ">= 60", "bpm", "a severe deceleration, or", _OURS),
    Threshold("severe_lowest", "< 70", "bpm", "severe by its lowest rate", _OURS),
    Threshold("severe_duration", ">= 60", "s", "with either", _OURS),
    Threshold("severe_suspicious", ">= 1", "count", "severe ones: suspicious", _OURS),
    Threshold("severe_pathological", ">= 4", "count", "severe ones in 30 minutes: pathological", _OURS),
    Threshold("longest_pathological", ">= 300", "s", "one deceleration", _OURS),
    Threshold("longest_lowest", "< 80", "bpm", "with its lowest rate", _OURS),
    Threshold("reduced_inside", "< 5", "bpm", "variability inside a deceleration: suspicious", _OURS),
    Threshold("sinusoidal_duration", ">= 20", "min", "pathological", "as NICHD 2008; our choice"),
)


def edition(table: Mapping[str, Any]) -> str:
    """The edition in force, as printed with results."""
    return str(table["edition"])


def evaluate(seen: Seen, at_s: FloatArray, floor_s: float, table: dict[str, Any]) -> Evaluation:
    """Class at each mark, of the class window that ends there."""
    limits = limits_in_force(THRESHOLDS, table)
    basics = seen.basics(at_s, floor_s, table, limits["baseline_identified"])
    window_min = float(table["class_window_min"])
    start_s = np.maximum(at_s - window_min * 60.0, floor_s)
    findings = Findings(at_s.size)
    _baseline(seen, findings, limits, table, start_s, at_s)
    _variability(seen, findings, limits, table, start_s, at_s)
    _decelerations(seen, findings, limits, start_s, at_s)
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
        unremarkable=lambda b, v: f"baseline {in_bpm(b)}, variability {in_bpm(v)}, at most mild decelerations",
    )
    return Evaluation(basics, levels, codes, reasons)


def _median_of(series: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Median of the known values of each window [start, end), in samples of the series; NaN where there is none."""
    found = np.full(start.size, np.nan)
    for k, (first, last) in enumerate(zip(start.astype(int).tolist(), end.astype(int).tolist(), strict=True)):
        part = series[first:last]
        part = part[np.isfinite(part)]
        if part.size:
            found[k] = np.median(part)
    return found


def _baseline(
    seen: Seen,
    findings: Findings,
    limits: dict[str, Limit],
    table: Mapping[str, Any],
    start_s: FloatArray,
    at_s: FloatArray,
) -> None:
    value = rounded(_median_of(seen.reading.baseline_1hz, start_s, at_s), float(table["round_baseline_to_bpm"]))
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
    start_s: FloatArray,
    at_s: FloatArray,
) -> None:
    step, gap = float(table["round_variability_to_bpm"]), int(table["variability_gap_min"])
    value = rounded(_median_of(seen.reading.variability_1min, start_s / 60.0, at_s / 60.0), step)
    minute = np.floor(at_s / 60.0 + 1e-9).astype(np.int64)
    minutes = at_minutes(seen.variability_run_min(limits["variability_pathological"], step, gap), minute)
    findings.add(
        2,
        limits["variability_duration"].met(minutes),
        lambda v, m: f"variability {v:.0f} bpm for {m:.0f} min; limit {limits['variability_duration'].number} min",
        value,
        minutes,
    )
    for name in ("variability_suspicious", "variability_increased"):
        findings.add(
            1,
            limits[name].met(value),
            lambda v, n=name: f"variability {v:.0f} bpm; limit {limits[n].number} bpm",
            value,
        )
    for run in seen.reading.sinusoidal:
        so_far = np.maximum(np.minimum(run.end_s, at_s) - np.maximum(run.start_s, start_s), 0.0) / 60.0
        findings.add(
            2,
            limits["sinusoidal_duration"].met(so_far),
            lambda m: f"sinusoidal pattern for {m:.0f} min",
            np.floor(so_far),
        )


def _decelerations(
    seen: Seen, findings: Findings, limits: dict[str, Limit], start_s: FloatArray, at_s: FloatArray
) -> None:
    falls, reading = seen.lasting_falls, seen.reading
    tens = np.maximum(within(seen.summed.seen_s, start_s, at_s), 1.0) / 600.0
    area = np.zeros(at_s.size)
    for event in reading.decelerations:
        shown = np.minimum(event.end_s, at_s) - np.maximum(event.onset_s, start_s)
        area += event.area_bpm_s * np.clip(shown / max(event.end_s - event.onset_s, 1.0), 0.0, 1.0)
    area /= tens
    minutes = (at_s - start_s) / 60.0
    rises = seen.accelerations_before(
        at_s, float(minutes.max(initial=0.0)), lambda high, long: high >= 15 and long >= 15
    )
    outweighed = limits["area_outweighed"].met(area) & limits["accelerations"].met(
        rises * 10.0 / np.maximum(minutes, 1.0)
    )
    so_far = np.where(falls.overlapping(start_s, at_s), falls.so_far_s(at_s), 0.0)
    deep = limits["severe_depth"].met(falls.depth_bpm) | limits["severe_lowest"].met(falls.lowest_bpm)
    severe = (limits["severe_duration"].met(so_far) & deep).sum(axis=1).astype(np.float64)
    low = limits["longest_lowest"].met(falls.lowest_bpm)
    longest = np.where(low, so_far, 0.0).max(axis=1, initial=0.0)
    flat = (limits["reduced_inside"].met(falls.variability_inside_bpm) & (so_far > 0)).sum(axis=1).astype(np.float64)
    shown_area = np.rint(area / 100.0) * 100.0
    grave = limits["area_pathological"].met(area)
    mild_or_more = limits["area_suspicious"].met(area) & ~outweighed & ~grave
    for level, name, met in ((2, "area_pathological", grave), (1, "area_suspicious", mild_or_more)):
        findings.add(
            level,
            met,
            lambda a, n=name: f"deceleration area {a:g} bpm s per 10 seen min; limit {limits[n].number}",
            shown_area,
        )
    many = limits["severe_pathological"].met(severe)
    some = limits["severe_suspicious"].met(severe) & ~many & ~outweighed
    for level, name, met in ((2, "severe_pathological", many), (1, "severe_suspicious", some)):
        findings.add(level, met, lambda k, n=name: f"{k:.0f} severe decelerations; limit {limits[n].number}", severe)
    findings.add(1, flat > 0, lambda k: f"{k:.0f} decelerations with reduced variability inside", flat)
    findings.add(
        2,
        limits["longest_pathological"].met(longest),
        lambda m: f"one deep deceleration of {m:g} min; limit {limits['longest_pathological'].value / 60:g} min",
        np.floor(longest / 6.0) / 10.0,
    )


STANDARD = Standard(NAME, LEVELS, edition, evaluate, final_only=True)
