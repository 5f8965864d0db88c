"""NICHD 2008, adopted by ACOG practice bulletins 106 (2009) and 116 (2010): three categories.

Source throughout: Macones et al., Obstet Gynecol 2008;112:661-6, as reproduced in secondary tables; lines marked
`from_memory` have not been held against the original. The persistence rule for category II is the published
algorithm of Clark et al., Am J Obstet Gynecol 2013;209:89-97 (figures from memory).

What the standard leaves open, and what is chosen here (settings of the same names):

* it gives no number for absent variability: `variability_absent`;
* it gives no minimum depth or length for early and late decelerations: `late_minimum_depth`;
* it gives no length of time for a category: decelerations count over `class_window_min`, baseline and variability over
  10 minutes; where the last `short_class_window_min` alone would give another category, the reasons say so;
* '50 % of contractions in any 20 minutes' of how many contractions: `minimum_contractions`;
* rounding: the baseline is rounded to 5 bpm before it is classed (`round_baseline_to_bpm`), halves upwards.

Bedside teaching calls a strip 'variable' when early and late decelerations mix, and ranks the kinds. The standard does
neither: each deceleration has its own kind, and the category follows from the criteria alone.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from audit.standards.basics import rounded
from audit.standards.evaluation import Evaluation, Standard, assemble, trigger_series
from audit.standards.findings import Findings
from audit.standards.patterns import Recurrence, accompanied_by, recurrence
from audit.standards.seen import Seen, ongoing_falls
from audit.standards.types import (
    BoolArray,
    FloatArray,
    IntArray,
    Limit,
    Threshold,
    TriggerSeries,
    limits_in_force,
)
from audit.tracing.types import Sinusoidal

NAME = "nichd-2008"
LEVELS = ("I", "II", "III")
_TABLE = "NICHD 2008 (Macones), table of definitions"
_TIERS = "NICHD 2008 / ACOG PB 106, three-tier criteria"
_CLARK = "Clark 2013, category II algorithm"

THRESHOLDS = (
    # Baseline
    Threshold("baseline_identified", ">= 120", "s", "identifiable baseline in 10 minutes", _TABLE),
    Threshold("tachycardia", "> 160", "bpm", "baseline above the normal range", _TABLE),
    Threshold("bradycardia", "< 110", "bpm", "baseline below the normal range", _TABLE),
    Threshold("baseline_change", ">= 600", "s", "a departure this long is a baseline change", _TABLE),
    # Variability
    Threshold("variability_absent", "< 2", "bpm", "undetectable; the standard gives no number", "our choice"),
    Threshold("variability_minimal", "<= 5", "bpm", "detectable up to this amplitude", _TABLE),
    Threshold("variability_marked", "> 25", "bpm", "above this amplitude", _TABLE),
    # Accelerations
    Threshold("acceleration_height", ">= 15", "bpm", "peak above baseline from 32 weeks", _TABLE),
    Threshold("acceleration_duration", ">= 15", "s", "length from 32 weeks", _TABLE),
    Threshold("preterm", "< 32", "weeks", "before this age the smaller acceleration counts", _TABLE),
    Threshold("preterm_acceleration_height", ">= 10", "bpm", "peak above baseline before 32 weeks", _TABLE),
    Threshold("preterm_acceleration_duration", ">= 10", "s", "length before 32 weeks", _TABLE),
    Threshold("prolonged_acceleration", ">= 120", "s", "prolonged from this length, up to a baseline change", _TABLE),
    # Decelerations
    Threshold("gradual", ">= 30", "s", "onset to nadir; below is abrupt", _TABLE),
    Threshold("variable_depth", ">= 15", "bpm", "depth of a variable deceleration", _TABLE),
    Threshold("variable_duration", ">= 15", "s", "length of a variable deceleration", _TABLE),
    Threshold("prolonged_depth", ">= 15", "bpm", "depth of a prolonged deceleration", _TABLE),
    Threshold("prolonged_duration", ">= 120", "s", "length of a prolonged deceleration", _TABLE),
    Threshold("late_minimum_depth", ">= 0", "bpm", "no minimum for late and early ones", "NICHD 2008 is silent"),
    Threshold("recurrent", ">= 0.5", "fraction", "share of contractions in 20 minutes", _TABLE),
    # Sinusoidal pattern
    Threshold("sinusoidal_duration", ">= 20", "min", "smooth sine-like baseline for this long", _TABLE),
    Threshold("sinusoidal_slowest", ">= 3", "cycles/min", "slowest rate", _TABLE),
    Threshold("sinusoidal_fastest", "<= 5", "cycles/min", "fastest rate", _TABLE),
    # Uterine activity
    Threshold("tachysystole", "> 5", "per 10 min", "contractions averaged over 30 minutes", _TABLE),
    # Persistence of category II
    Threshold("clark_duration", "> 60", "s", "length of a significant variable deceleration", _CLARK, True),
    Threshold("clark_depth", "> 60", "bpm", "its depth, or", _CLARK, True),
    Threshold("clark_lowest", "< 60", "bpm", "its lowest rate", _CLARK, True),
    Threshold("clark_recurrent", ">= 0.5", "fraction", "share of contractions with a significant one", _CLARK, True),
    Threshold("clark_without", ">= 30", "min", "without moderate variability or accelerations", _CLARK, True),
    Threshold("clark_with", ">= 60", "min", "with moderate variability or accelerations", _CLARK, True),
    Threshold("trigger_prolonged", ">= 180", "s", "a fall that has lasted this long starts the clock", "our choice"),
)


def edition(table: Mapping[str, Any]) -> str:
    """The edition in force, as printed with results."""
    return str(table["edition"])


def acceleration_kind(
    height_bpm: float, duration_s: float, gestation_weeks: float | None, table: Mapping[str, Any]
) -> str:
    """What a rise is: 'acceleration', 'prolonged', 'baseline change', or 'none' when it is too small or too short.

    Without a gestational age the rule for 32 weeks and over applies. Source: Macones 2008, definitions.
    """
    limits = limits_in_force(THRESHOLDS, table)
    preterm = gestation_weeks is not None and limits["preterm"].met_by(gestation_weeks)
    prefix = "preterm_" if preterm else ""
    tall = limits[f"{prefix}acceleration_height"].met_by(height_bpm)
    if not (tall and limits[f"{prefix}acceleration_duration"].met_by(duration_s)):
        return "none"
    if limits["baseline_change"].met_by(duration_s):
        return "baseline change"
    return "prolonged" if limits["prolonged_acceleration"].met_by(duration_s) else "acceleration"


def variability_class(variability_bpm: FloatArray, table: Mapping[str, Any]) -> IntArray:
    """Class of each amplitude: 0 absent, 1 minimal, 2 moderate, 3 marked, -1 unknown.

    Absent is judged on the measured value, the others after rounding (`round_variability_to_bpm`), because the standard
    leaves a gap between 5 and 6 bpm.
    """
    limits = limits_in_force(THRESHOLDS, table)
    value = rounded(variability_bpm, float(table["round_variability_to_bpm"]))
    result = np.where(limits["variability_minimal"].met(value), 1, 2)
    result = np.where(limits["variability_marked"].met(value), 3, result)
    result = np.where(limits["variability_absent"].met(variability_bpm), 0, result)
    return np.where(np.isfinite(variability_bpm), result, -1).astype(np.int64)


class _Pass:
    """One pass of the standard over the marks of one reading."""

    def __init__(self, seen: Seen, at_s: FloatArray, floor_s: float, table: dict[str, Any]) -> None:
        self.seen, self.table = seen, table
        self.limits = limits_in_force(THRESHOLDS, table)
        self.basics = seen.basics(at_s, floor_s, table, self.limits["baseline_identified"])
        self.baseline = rounded(self.basics.baseline_bpm, float(table["round_baseline_to_bpm"]))
        self.variability = variability_class(self.basics.variability_bpm, table)
        falls = seen.falls
        kind = np.array(falls.kind, dtype="U12")
        deep = self.limits["variable_depth"].met(falls.depth_bpm) & ~falls.shallow
        gradual_counts = self.limits["late_minimum_depth"].met(falls.depth_bpm)
        self.late = (kind == "late") & gradual_counts
        self.unclassified = (kind == "unclassified") & gradual_counts
        self.variable = (kind == "variable") & deep
        self.prolonged = (kind == "prolonged") & self.limits["prolonged_depth"].met(falls.depth_bpm)
        # A kind is known at the nadir, and with a contraction not before its peak; 'prolonged' after its 2 minutes.
        peak_s = falls.nadir_s - np.nan_to_num(falls.lag_s)
        self.known_s = np.maximum(falls.nadir_s, peak_s)
        self.known_s = np.maximum(self.known_s, falls.onset_s + self.limits["variable_duration"].value)
        self.known_s = np.where(self.prolonged, falls.onset_s + self.limits["prolonged_duration"].value, self.known_s)

    def recurring(self, chosen: BoolArray, known_s: FloatArray, limit: str, window_min: float) -> Recurrence:
        """Recurrence of the chosen falls over a trailing window."""
        return recurrence(
            accompanied_by(self.seen.contractions, self.seen.falls, chosen, known_s),
            self.basics,
            limit=self.limits[limit],
            window_min=window_min,
            minimum=Limit(">=", float(self.table["minimum_contractions"])),
            toco_usable=Limit(">=", float(self.table["recurrence_toco_usable"])),
        )

    def count_in_window(self, chosen: BoolArray, window_min: float) -> FloatArray:
        """How many of the chosen falls the trailing window shows, of those recognised so far."""
        at_s, falls = self.basics.at_s, self.seen.falls
        start = np.maximum(at_s - window_min * 60.0, self.basics.floor_s)
        here = falls.overlapping(start, at_s) & (self.known_s <= at_s[:, None]) & chosen
        here &= ~(falls.from_level & (at_s[:, None] >= falls.end_s))
        result: FloatArray = here.sum(axis=1).astype(np.float64)
        return result


def evaluate(seen: Seen, at_s: FloatArray, floor_s: float, table: dict[str, Any]) -> Evaluation:
    """Category at each mark by the three-tier criteria, most severe first."""
    work = _Pass(seen, at_s, floor_s, table)
    window_min = float(table["class_window_min"])
    findings = Findings(at_s.size)
    twenty = float(table["recurrence_window_min"])
    late = work.recurring(work.late, work.known_s, "recurrent", twenty)
    variable = work.recurring(work.variable, work.known_s, "recurrent", twenty)
    _category_iii(work, findings, late, variable)
    _baseline_and_variability(work, findings)
    before = len(findings.criteria)
    _decelerations(work, findings, late, variable, window_min)
    levels = findings.worst()
    short_levels = _short_window_levels(work, findings, before, late, variable)
    seen_share = seen.seen_share(work.basics, window_min)
    assessable = Limit(">=", float(table["signal_seen_fraction"])).met(seen_share)
    assessable &= at_s - floor_s >= float(table["first_category_min"]) * 60.0 - 1e-6
    _note_short_window(work, findings, levels, short_levels)
    codes, reasons = assemble(
        findings,
        levels,
        work.basics,
        seen_share,
        assessable,
        sufficient=2,
        seen_text=lambda s: (
            f"signal seen {s:.0f} % of the last {window_min:g} min; category needs "
            f"{float(table['signal_seen_fraction']) * 100:g} % and {float(table['first_category_min']):g} min"
        ),
        unremarkable=lambda b, v: f"baseline {b:.0f} bpm, variability {v:.0f} bpm, no late or variable decelerations",
    )
    return Evaluation(work.basics, levels, codes, reasons, _triggers(work, findings, levels, codes, window_min))


def _category_iii(work: _Pass, findings: Findings, late: Recurrence, variable: Recurrence) -> None:
    absent = work.variability == 0
    amplitude = np.rint(work.basics.variability_bpm * 10.0) / 10.0
    for name, pattern in (("late", late), ("variable", variable)):
        findings.add(
            2,
            absent & pattern.met,
            lambda v, k, n, name=name: (
                f"absent variability ({v:g} bpm) with recurrent {name} decelerations "
                f"({k:.0f} of {n:.0f} contractions in 20 min; limit {work.limits['recurrent'].value * 100:g} %)"
            ),
            amplitude,
            pattern.accompanied,
            pattern.contractions,
            start_s=pattern.start_s,
        )
    slow = absent & work.limits["bradycardia"].met(work.baseline)
    findings.add(
        2,
        slow,
        lambda v, b: (
            f"absent variability ({v:g} bpm) with bradycardia, baseline {b:g} bpm; "
            f"limit {work.limits['bradycardia'].number} bpm"
        ),
        amplitude,
        work.baseline,
        start_s=work.seen.level_start_s(work.basics, slow),
    )
    minutes, start = work.seen.sinusoidal_at(work.basics, lambda run: _is_sinusoidal(run, work.limits))
    findings.add(
        2,
        work.limits["sinusoidal_duration"].met(minutes),
        lambda m: f"sinusoidal pattern for {m:.0f} min; limit {work.limits['sinusoidal_duration'].number} min",
        np.floor(minutes),
        start_s=start,
    )


def _is_sinusoidal(run: Sinusoidal, limits: dict[str, Limit]) -> bool:
    slow, fast = limits["sinusoidal_slowest"], limits["sinusoidal_fastest"]
    return slow.met_by(run.cycles_per_min) and fast.met_by(run.cycles_per_min)


def _baseline_and_variability(work: _Pass, findings: Findings) -> None:
    for name, words in (("bradycardia", "bradycardia"), ("tachycardia", "tachycardia")):
        met = work.limits[name].met(work.baseline)
        findings.add(
            1,
            met,
            lambda b, name=name, words=words: f"{words}: baseline {b:g} bpm; limit {work.limits[name].number} bpm",
            work.baseline,
            start_s=work.seen.level_start_s(work.basics, met),
        )
    findings.add(1, ~np.isfinite(work.baseline), lambda: "baseline indeterminate")
    amplitude = work.basics.variability_bpm
    lines = (
        (0, lambda v: f"absent variability ({v:g} bpm)"),
        (1, lambda v: f"minimal variability ({v:g} bpm); limit {work.limits['variability_minimal'].number} bpm"),
        (3, lambda v: f"marked variability ({v:g} bpm); limit {work.limits['variability_marked'].number} bpm"),
    )
    for code, text in lines:
        findings.add(
            1, work.variability == code, text, np.rint(amplitude * 10.0) / 10.0 if code == 0 else np.rint(amplitude)
        )
    findings.add(1, work.variability == -1, lambda: "variability cannot be determined")


def _decelerations(work: _Pass, findings: Findings, late: Recurrence, variable: Recurrence, window_min: float) -> None:
    for name, pattern, chosen in (("late", late, work.late), ("variable", variable, work.variable)):
        findings.add(
            1,
            pattern.met,
            lambda k, n, name=name: (
                f"recurrent {name} decelerations: {k:.0f} of {n:.0f} contractions in 20 min; "
                f"limit {work.limits['recurrent'].value * 100:g} %"
            ),
            pattern.accompanied,
            pattern.contractions,
            start_s=pattern.start_s,
        )
        number = work.count_in_window(chosen, window_min)
        findings.add(
            1,
            (number > 0) & ~pattern.met,
            lambda k, name=name: f"{name} decelerations: {k:.0f} in the last {window_min:g} min; category I has none",
            number,
        )
    at_s, falls = work.basics.at_s, work.seen.falls
    start = np.maximum(at_s - window_min * 60.0, work.basics.floor_s)
    so_far = falls.so_far_s(at_s)
    long_enough = work.limits["prolonged_duration"].met(so_far) & work.prolonged & falls.overlapping(start, at_s)
    longest = np.where(long_enough, so_far, 0.0).max(axis=1, initial=0.0)
    findings.add(
        1,
        longest > 0,
        lambda s: f"prolonged deceleration of {s:.0f} s; limit {work.limits['prolonged_duration'].number} s",
        np.floor(longest),
    )
    number = work.count_in_window(work.unclassified, window_min)
    findings.add(
        1,
        (number > 0) & bool(work.table["unclassified_counts"]),
        lambda k: f"gradual decelerations that no usable toco can class: {k:.0f} in the last {window_min:g} min",
        number,
    )


def _short_window_levels(
    work: _Pass, findings: Findings, before: int, late: Recurrence, variable: Recurrence
) -> IntArray:
    """The category if decelerations counted over the short class window only."""
    long_criteria = findings.criteria
    findings.criteria = long_criteria[:before]
    _decelerations(work, findings, late, variable, float(work.table["short_class_window_min"]))
    levels = findings.worst()
    findings.criteria = long_criteria
    return levels


def _note_short_window(work: _Pass, findings: Findings, levels: IntArray, short_levels: IntArray) -> None:
    minutes = float(work.table["short_class_window_min"])
    for code, word in enumerate(LEVELS):
        findings.add(
            0,
            (levels != short_levels) & (short_levels == code),
            lambda word=word: f"by the decelerations of the last {minutes:g} min alone: category {word}",
        )


def _triggers(
    work: _Pass, findings: Findings, levels: IntArray, codes: IntArray, window_min: float
) -> dict[str, TriggerSeries]:
    basics, falls = work.basics, work.seen.falls
    deep = work.limits["prolonged_depth"].met(falls.depth_bpm) & ~falls.shallow
    met, start, exact = ongoing_falls(falls, basics.at_s, work.limits["trigger_prolonged"], deep)
    persistent, persistent_start = _persistent_category_ii(work, levels)
    crowded = work.limits["tachysystole"].met(basics.contractions_per_10_min)
    crowded &= work.count_in_window(deep, window_min) > 0
    return {
        "prolonged_deceleration": trigger_series(met, start, codes, basics, exact),
        "category_iii": trigger_series(levels == 2, findings.start_s(2), codes, basics),
        "category_ii_persistent": trigger_series(persistent, persistent_start, codes, basics),
        "tachysystole_with_decelerations": trigger_series(crowded, _first_minus(crowded, basics.at_s), codes, basics),
    }


def _first_minus(met: BoolArray, at_s: FloatArray, back_s: float = 1800.0) -> FloatArray:
    """Start of the 30-minute window that first met a contraction rate."""
    index = np.arange(met.size)
    first = np.minimum(np.maximum.accumulate(np.where(met, -1, index)) + 1, max(met.size - 1, 0))
    return np.where(met, np.maximum(at_s[first] - back_s, 0.0), np.nan)


def _persistent_category_ii(work: _Pass, levels: IntArray) -> tuple[BoolArray, FloatArray]:
    """Significant decelerations with half of the contractions for 30 or 60 minutes, while the category is II.

    Late ones of any depth are significant, variable ones when long and deep (limits `clark_*`). A prolonged
    deceleration halts the algorithm: while it lasts the rule is not newly met, and what was met stays met.
    """
    falls, basics, limits = work.seen.falls, work.basics, work.limits
    significant = work.variable & limits["clark_duration"].met(falls.duration_s)
    significant &= limits["clark_depth"].met(falls.depth_bpm) | limits["clark_lowest"].met(falls.lowest_bpm)
    known = np.where(
        significant, np.maximum(work.known_s, falls.onset_s + limits["clark_duration"].value), work.known_s
    )
    pattern = work.recurring(work.late | significant, known, "clark_recurrent", 30.0)
    reassuring = work.variability >= 2
    reassuring |= work.seen.accelerations_before(basics.at_s, 30.0, _counts_as_acceleration(work)) > 0
    minutes = pattern.minutes(basics.at_s)
    met = pattern.met & (levels == 1)
    met &= np.where(reassuring, limits["clark_with"].met(minutes), limits["clark_without"].met(minutes))
    going_on = falls.so_far_s(basics.at_s) >= limits["prolonged_duration"].value
    halted = (going_on & (falls.end_s > basics.at_s[:, None]) & work.prolonged).any(axis=1)
    if (met & halted).any():
        for k in np.flatnonzero(met & halted).tolist():
            met[k] = k > 0 and bool(met[k - 1])
    return met, np.where(met, pattern.start_s, np.nan)


def _counts_as_acceleration(work: _Pass) -> Any:
    weeks = work.seen.gestation_weeks
    preterm = weeks is not None and work.limits["preterm"].met_by(weeks)
    prefix = "preterm_" if preterm else ""
    height, length = work.limits[f"{prefix}acceleration_height"], work.limits[f"{prefix}acceleration_duration"]
    return lambda height_bpm, length_s: height.met_by(height_bpm) and length.met_by(length_s)


STANDARD = Standard(NAME, LEVELS, edition, evaluate)
