"""FIGO 1986, intrapartum: normal, suspicious, pathological. Not for review, only for comparison with old reads.

The open database's nine experts read under 'the FIGO classes of the time', so the computed reading is compared with
them under these classes too. Source throughout: FIGO subcommittee, guidelines for the use of fetal monitoring, Int J
Gynaecol Obstet 1987;25:159-67. Every figure is from memory: nobody has yet held them against the original.

The text asks for the reader's eye: it names mild and severe decelerations, and the presence of accelerations, without
numbers. They are given numbers here (our choice, made on the tuning part of the open database; the settings say how
much hangs on each):

* decelerations are graded by their area per 10 seen minutes (`area_suspicious` = more than mild, `area_pathological` =
  severe), by how many are deep and long (`severe_*`), by a long one that goes deep (`longest_*`) and by reduced
  variability inside (`reduced_inside`);
* in the second stage, where decelerations with pushing are usual, both area limits are multiplied by
  `second_stage_area_factor`; the experts judged the same area more mildly there;
* accelerations (`accelerations`) outweigh an area under `area_outweighed`;
* few strips hold variability under 5 bpm for 40 minutes without a break. A share of the last 40 minutes under 5 bpm
  (`reduced_share`) is suspicious alone, and pathological with decelerations that are more than mild: the text calls
  decelerations on a flat baseline ominous (from memory).

Baseline is that of the whole window, rounded to 5 bpm, as read from a strip of paper.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from audit.standards.basics import at_minutes, rounded, within
from audit.standards.evaluation import Evaluation, Findings, Standard, assemble, in_bpm
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
    Threshold("variability_pathological", "< 5", "bpm", "pathological", _TEXT, True),
    Threshold("variability_duration", "> 40", "min", "for this long", _TEXT, True),
    Threshold("reduced_share", ">= 0.25", "fraction", "of the last 40 minutes under 5 bpm: suspicious", _OURS),
    Threshold("variability_increased", "> 25", "bpm", "suspicious", _TEXT, True),
    Threshold("area_suspicious", ">= 2500", "bpm s", "per 10 seen minutes: more than mild", _OURS),
    Threshold("area_pathological", ">= 10000", "bpm s", "per 10 seen minutes: severe", _OURS),
    Threshold("area_outweighed", "< 4000", "bpm s", "per 10 seen minutes, when there are accelerations", _OURS),
    Threshold("accelerations", ">= 1", "per 10 min", "present", _OURS),
    Threshold("severe_depth", ">= 60", "bpm", "a severe deceleration", _OURS),
    Threshold("severe_duration", ">= 60", "s", "and this long", _OURS),
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
    area = _area_per_10_min(seen, start_s, at_s)
    factor = np.where(seen.in_second_stage(start_s, at_s), float(table["second_stage_area_factor"]), 1.0)
    outweighed = _outweighed(seen, limits, area, start_s, at_s)
    _variability(seen, findings, limits, table, start_s, at_s)
    beyond_mild = _area(findings, limits, area, factor, outweighed)
    _reduced(findings, limits, _reduced_share(seen, limits, table, at_s), beyond_mild)
    _single_decelerations(seen, findings, limits, outweighed, start_s, at_s)
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
    findings.add(
        1,
        limits["variability_increased"].met(value),
        lambda v: f"variability {v:.0f} bpm; limit {limits['variability_increased'].number} bpm",
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


def _reduced_share(seen: Seen, limits: dict[str, Limit], table: Mapping[str, Any], at_s: FloatArray) -> FloatArray:
    """Share of the last minutes before each mark with reduced variability; NaN where too few of them are known.

    The minutes may lie before the window: a reader sees the strip before it too.
    """
    values = rounded(seen.reading.variability_1min, float(table["round_variability_to_bpm"]))
    width, least = int(table["reduced_window_min"]), int(table["reduced_known_min"])
    share = np.full(at_s.size, np.nan)
    for k, end in enumerate(np.floor(at_s / 60.0 + 1e-9).astype(int).tolist()):
        part = values[max(end - width, 0) : end]
        part = part[np.isfinite(part)]
        if part.size >= max(least, 1):
            share[k] = limits["variability_pathological"].met(part).mean()
    return share


def _reduced(findings: Findings, limits: dict[str, Limit], share: FloatArray, beyond_mild: BoolArray) -> None:
    limit, met = limits["reduced_share"], limits["reduced_share"].met(share)
    shown, words = np.floor(share * 100.0), f"limit {limit.value * 100:g} %"
    findings.add(
        2,
        met & beyond_mild,
        lambda p: f"variability reduced in {p:.0f} % of the last minutes, decelerations more than mild; {words}",
        shown,
    )
    findings.add(
        1, met & ~beyond_mild, lambda p: f"variability reduced in {p:.0f} % of the last minutes; {words}", shown
    )


def _area_per_10_min(seen: Seen, start_s: FloatArray, at_s: FloatArray) -> FloatArray:
    """Deceleration area of each window per 10 seen minutes, bpm s; of a cut deceleration the share inside."""
    area = np.zeros(at_s.size)
    for event in seen.reading.decelerations:
        shown = np.minimum(event.end_s, at_s) - np.maximum(event.onset_s, start_s)
        area += event.area_bpm_s * np.clip(shown / max(event.end_s - event.onset_s, 1.0), 0.0, 1.0)
    result: FloatArray = area / (np.maximum(within(seen.summed.seen_s, start_s, at_s), 1.0) / 600.0)
    return result


def _area(
    findings: Findings, limits: dict[str, Limit], area: FloatArray, factor: FloatArray, outweighed: BoolArray
) -> BoolArray:
    """Grade the decelerations by their area; returns where they are more than mild."""
    grave = limits["area_pathological"].met(area / factor)
    beyond_mild = limits["area_suspicious"].met(area / factor) & ~outweighed
    shown_area = np.rint(area / 100.0) * 100.0
    for level, name, met in ((2, "area_pathological", grave), (1, "area_suspicious", beyond_mild & ~grave)):
        findings.add(
            level,
            met,
            lambda a, f, n=name: f"deceleration area {a:g} bpm s per 10 seen min; limit {limits[n].value * f:g}",
            shown_area,
            factor,
        )
    return beyond_mild | grave


def _outweighed(
    seen: Seen, limits: dict[str, Limit], area: FloatArray, start_s: FloatArray, at_s: FloatArray
) -> BoolArray:
    """Where accelerations outweigh the area."""
    minutes = (at_s - start_s) / 60.0
    rises = seen.accelerations_before(
        at_s, float(minutes.max(initial=0.0)), lambda high, long: high >= 15 and long >= 15
    )
    often = limits["accelerations"].met(rises * 10.0 / np.maximum(minutes, 1.0))
    result: BoolArray = limits["area_outweighed"].met(area) & often
    return result


def _single_decelerations(
    seen: Seen,
    findings: Findings,
    limits: dict[str, Limit],
    outweighed: BoolArray,
    start_s: FloatArray,
    at_s: FloatArray,
) -> None:
    falls = seen.lasting_falls
    so_far = np.where(falls.overlapping(start_s, at_s), falls.so_far_s(at_s), 0.0)
    deep = limits["severe_depth"].met(falls.depth_bpm)
    severe = (limits["severe_duration"].met(so_far) & deep).sum(axis=1).astype(np.float64)
    low = limits["longest_lowest"].met(falls.lowest_bpm)
    longest = np.where(low, so_far, 0.0).max(axis=1, initial=0.0)
    flat = (limits["reduced_inside"].met(falls.variability_inside_bpm) & (so_far > 0)).sum(axis=1).astype(np.float64)
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
