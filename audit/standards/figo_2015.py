"""FIGO 2015 consensus guidelines on intrapartum fetal monitoring: normal, suspicious, pathological.

Source throughout: Ayres-de-Campos, Spong, Chandraharan, Int J Gynaecol Obstet 2015;131:13-24, as reproduced in
secondary tables; lines marked `from_memory` have not been held against the original. Its limits are mostly strict
(> and <).

What the guideline leaves open, and what is chosen here (settings of the same names):

* `late_shape`: a late deceleration has a gradual onset 'and/or' a gradual return 'and/or' reduced variability inside.
  'or' is the literal text; 'onset' asks for the gradual onset or the reduced variability; 'and' for onset and return;
* `late_timing`: where the shape is that of a late one but the timing against the contraction fails, 'shape' calls it
  late, 'timing' leaves it unclassified. Without usable toco the shape alone decides;
* `single_prolonged`: one deceleration of more than 3 and at most 5 minutes is not repetitive, so read literally it
  leaves the class normal ('normal'); 'suspicious' counts it as lacking a normal feature;
* `low_variability_suspicious_min`: variability under 5 bpm for 50 minutes or less is not 'reduced', yet not within 5 to
  25 bpm either; 0 calls it suspicious from the first minute, as the text reads;
* `repetitive_without_toco_per_30_min`: with no usable toco the share of contractions is unknown; 0 refuses to say;
* `window_rule`: how a class holds over a window: its worst minute or its end.

Bedside teaching calls a strip 'variable' when early and late decelerations mix, and ranks the kinds. The guideline does
neither: each deceleration has its own kind, and the class follows from the criteria alone.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from audit.standards.basics import at_minutes, rounded
from audit.standards.evaluation import Evaluation, Standard, assemble, persisting, trigger_series
from audit.standards.falls import Falls
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

NAME = "figo-2015"
LEVELS = ("normal", "suspicious", "pathological")
KINDS = ("none", "early", "variable", "late", "prolonged", "unclassified")
NONE, EARLY, VARIABLE, LATE, PROLONGED, UNCLASSIFIED = range(len(KINDS))
_TERMS = "FIGO 2015, definitions"
_CLASSES = "FIGO 2015, classification table"

THRESHOLDS = (
    # Baseline
    Threshold("baseline_identified", ">= 120", "s", "identifiable baseline in 10 minutes", "as NICHD 2008; our choice"),
    Threshold("tachycardia", "> 160", "bpm", "baseline above the normal range for more than 10 min", _TERMS),
    Threshold("bradycardia", "< 110", "bpm", "baseline below the normal range for more than 10 min", _TERMS),
    Threshold("baseline_pathological", "< 100", "bpm", "pathological baseline", _CLASSES),
    # Variability
    Threshold("variability_reduced", "< 5", "bpm", "below the normal bandwidth", _TERMS),
    Threshold("reduced_duration", "> 50", "min", "reduced at the baseline for this long", _TERMS),
    Threshold("reduced_inside_duration", "> 180", "s", "reduced inside a deceleration for this long", _TERMS),
    Threshold("variability_increased", "> 25", "bpm", "above the normal bandwidth", _TERMS),
    Threshold("increased_duration", "> 30", "min", "increased for this long", _TERMS),
    # Accelerations
    Threshold("acceleration_height", "> 15", "bpm", "amplitude", _TERMS),
    Threshold("acceleration_duration", "> 15", "s", "length", _TERMS),
    # Decelerations
    Threshold("deceleration_depth", "> 15", "bpm", "amplitude", _TERMS),
    Threshold("deceleration_duration", "> 15", "s", "length", _TERMS),
    Threshold("gradual", "> 30", "s", "onset to nadir, or nadir to baseline", _TERMS),
    Threshold("late_onset_lag", "> 20", "s", "onset after the contraction's onset", _TERMS),
    Threshold("shallow_late_depth", ">= 10", "bpm", "late, no accelerations, reduced variability", _TERMS, True),
    Threshold("prolonged", "> 180", "s", "length of a prolonged deceleration", _TERMS),
    Threshold("repetitive", "> 0.5", "fraction", "share of contractions", _TERMS),
    Threshold("repetitive_duration", "> 30", "min", "repetitive late or prolonged for this long", _CLASSES),
    Threshold("repetitive_duration_reduced", "> 20", "min", "the same with reduced variability", _CLASSES),
    Threshold("single_deceleration", "> 300", "s", "one deceleration of this length", _CLASSES),
    # Sinusoidal pattern
    Threshold("sinusoidal_duration", "> 30", "min", "smooth undulating signal for this long", _TERMS, True),
    Threshold("sinusoidal_smallest", ">= 5", "bpm", "smallest amplitude", _TERMS, True),
    Threshold("sinusoidal_largest", "<= 15", "bpm", "largest amplitude", _TERMS, True),
    Threshold("sinusoidal_slowest", ">= 3", "cycles/min", "slowest rate", _TERMS, True),
    Threshold("sinusoidal_fastest", "<= 5", "cycles/min", "fastest rate", _TERMS, True),
    # Contractions
    Threshold("tachysystole", "> 5", "per 10 min", "in two successive periods, or over 30 minutes", _TERMS, True),
    Threshold("suspicious_persistent", ">= 30", "min", "a suspicious class this long starts the clock", "our choice"),
)


def edition(table: Mapping[str, Any]) -> str:
    """The edition in force, as printed with results."""
    return str(table["edition"])


def deceleration_kinds(
    falls: Falls, variability_bpm: FloatArray, accelerations: FloatArray, table: Mapping[str, Any]
) -> IntArray:
    """Kind of each fall by shape first, then timing: index into `KINDS`.

    Parameters
    ----------
    falls : the falls of a reading.
    variability_bpm : array, shape (n_falls,), bpm around each fall, NaN = unknown (then no shallow one is counted).
    accelerations : array, shape (n_falls,), number of accelerations in the 30 minutes before each fall.
    table : the settings table, for the limits and the choices named in this module's docstring.

    Notes
    -----
    Longer than 3 minutes is prolonged. Gradual and coincident with the contraction's peak is early; other gradual ones,
    or with reduced variability inside, are late; the rest are variable (FIGO 2015, definitions).
    """
    limits = limits_in_force(THRESHOLDS, table)
    reduced_around = limits["variability_reduced"].met(
        rounded(variability_bpm, float(table["round_variability_to_bpm"]))
    )
    counted = limits["deceleration_depth"].met(falls.depth_bpm) & limits["deceleration_duration"].met(falls.duration_s)
    shallow = ~counted & limits["shallow_late_depth"].met(falls.depth_bpm) & reduced_around & (accelerations == 0)
    shallow &= limits["deceleration_duration"].met(falls.duration_s)
    gradual_onset = limits["gradual"].met(falls.onset_to_nadir_s)
    gradual_return = limits["gradual"].met(falls.nadir_to_end_s)
    flat = limits["variability_reduced"].met(falls.variability_inside_bpm)
    choice = str(table["late_shape"])
    if choice == "or":
        late_shaped = gradual_onset | gradual_return | flat
    elif choice == "onset":
        late_shaped = gradual_onset | flat
    else:
        late_shaped = (gradual_onset & gradual_return) | flat
    timed = falls.toco_usable & np.isfinite(falls.lag_s)
    early = gradual_onset & ~flat & timed & (np.abs(falls.lag_s) <= float(table["early_tolerance_s"]))
    on_time = limits["late_onset_lag"].met(falls.onset_lag_s) & (falls.lag_s > 0)
    on_time &= falls.end_s > falls.contraction_end_s
    fails = timed & ~on_time & (str(table["late_timing"]) == "timing")
    kind = np.where(late_shaped, np.where(fails, UNCLASSIFIED, LATE), VARIABLE)
    kind = np.where(early, EARLY, kind)
    kind = np.where(shallow & ((kind != LATE) | early), NONE, kind)
    kind = np.where(counted & limits["prolonged"].met(falls.duration_s), PROLONGED, kind)
    return np.where(counted | shallow, kind, NONE).astype(np.int64)


class _Pass:
    """One pass of the guideline over the marks of one reading."""

    def __init__(self, seen: Seen, at_s: FloatArray, floor_s: float, table: dict[str, Any]) -> None:
        self.seen, self.table, falls = seen, table, seen.falls
        self.limits = limits_in_force(THRESHOLDS, table)
        self.basics = seen.basics(at_s, floor_s, table, self.limits["baseline_identified"])
        self.baseline = rounded(self.basics.baseline_bpm, float(table["round_baseline_to_bpm"]))
        self.variability = rounded(self.basics.variability_bpm, float(table["round_variability_to_bpm"]))
        before = seen.accelerations_before(falls.onset_s, 30.0, self._counts_as_acceleration)
        around = seen.variability_at_falls(int(table["variability_minimum_min"]))
        self.kind = deceleration_kinds(falls, around, before, table)
        peak_s = falls.nadir_s - np.nan_to_num(falls.lag_s)
        known = np.maximum(falls.nadir_s, peak_s)
        # A late one is told by its return or by the contraction's end, a variable one at its nadir.
        late_known = np.maximum(known, np.minimum(falls.end_s, falls.nadir_s + self.limits["gradual"].value))
        known = np.where(self.kind == LATE, late_known, known)
        known = np.maximum(known, falls.onset_s + self.limits["deceleration_duration"].value)
        self.known_s = np.where(self.kind == PROLONGED, falls.onset_s + self.limits["prolonged"].value, known)

    def _counts_as_acceleration(self, height_bpm: float, length_s: float) -> bool:
        tall = self.limits["acceleration_height"].met_by(height_bpm)
        return tall and self.limits["acceleration_duration"].met_by(length_s)

    def recurring(self, chosen: BoolArray) -> Recurrence:
        """Whether the chosen falls are repetitive at each mark."""
        return recurrence(
            accompanied_by(self.seen.contractions, self.seen.falls, chosen, self.known_s),
            self.basics,
            limit=self.limits["repetitive"],
            window_min=float(self.table["repetitive_window_min"]),
            minimum=Limit(">=", float(self.table["minimum_contractions"])),
            toco_usable=Limit(">=", float(self.table["recurrence_toco_usable"])),
        )

    def without_toco(self, chosen: BoolArray, pattern: Recurrence) -> FloatArray:
        """Decelerations of the last 30 minutes where no share of contractions can be given; 0 elsewhere."""
        at_s, falls = self.basics.at_s, self.seen.falls
        start = np.maximum(at_s - 1800.0, self.basics.floor_s)
        here = (falls.onset_s >= start[:, None]) & (self.known_s <= at_s[:, None]) & chosen
        here &= ~(falls.from_level & (at_s[:, None] >= falls.end_s))
        return np.where(np.isfinite(pattern.fraction), 0.0, here.sum(axis=1).astype(np.float64))


def evaluate(seen: Seen, at_s: FloatArray, floor_s: float, table: dict[str, Any]) -> Evaluation:
    """Class at each mark by the classification table."""
    work = _Pass(seen, at_s, floor_s, table)
    window_min = float(table["class_window_min"])
    findings = Findings(at_s.size)
    _baseline(work, findings)
    _variability(work, findings, window_min)
    _decelerations(work, findings, window_min)
    levels = findings.worst()
    seen_share = seen.seen_share(work.basics, window_min)
    assessable = Limit(">=", float(table["signal_seen_fraction"])).met(seen_share)
    assessable &= at_s - floor_s >= float(table["first_category_min"]) * 60.0 - 1e-6
    codes, reasons = assemble(
        findings,
        levels,
        work.basics,
        seen_share,
        assessable,
        sufficient=2,
        seen_text=lambda s: (
            f"signal seen {s:.0f} % of the last {window_min:g} min; class needs "
            f"{float(table['signal_seen_fraction']) * 100:g} % and {float(table['first_category_min']):g} min"
        ),
        unremarkable=lambda b, v: f"baseline {b:.0f} bpm, variability {v:.0f} bpm, no repetitive decelerations",
    )
    return Evaluation(work.basics, levels, codes, reasons, _triggers(work, findings, levels, codes))


def _baseline(work: _Pass, findings: Findings) -> None:
    value, shown = work.baseline, np.rint(work.baseline)
    lines = (("baseline_pathological", 2, "baseline"), ("bradycardia", 1, "bradycardia: baseline"))
    for name, level, words in (*lines, ("tachycardia", 1, "tachycardia: baseline")):
        met = work.limits[name].met(value)
        if name == "bradycardia":
            met &= ~work.limits["baseline_pathological"].met(value)
        findings.add(
            level,
            met,
            lambda b, name=name, words=words: f"{words} {b:.0f} bpm; limit {work.limits[name].number} bpm",
            shown,
            start_s=work.seen.level_start_s(work.basics, met),
        )
    findings.add(1, ~np.isfinite(value), lambda: "baseline cannot be determined")


def _variability(work: _Pass, findings: Findings, window_min: float) -> None:
    limits, basics, shown = work.limits, work.basics, np.rint(work.basics.variability_bpm)
    gap, step = int(work.table["variability_gap_min"]), float(work.table["round_variability_to_bpm"])
    low = at_minutes(work.seen.variability_run_min(limits["variability_reduced"], step, gap), basics.minute)
    high = at_minutes(work.seen.variability_run_min(limits["variability_increased"], step, gap), basics.minute)
    for minutes, limit in ((low, limits["reduced_duration"]), (high, limits["increased_duration"])):
        findings.add(
            2,
            limit.met(minutes),
            lambda v, m, limit=limit: f"variability {v:.0f} bpm for {m:.0f} min; limit {limit.number} min",
            shown,
            minutes,
            start_s=basics.at_s - minutes * 60.0,
        )
    below = limits["variability_reduced"].met(work.variability) & ~limits["reduced_duration"].met(low)
    below &= low >= float(work.table["low_variability_suspicious_min"])
    above = limits["variability_increased"].met(work.variability) & ~limits["increased_duration"].met(high)
    findings.add(
        1, below, lambda v: f"variability {v:.0f} bpm; limit {limits['variability_reduced'].number} bpm", shown
    )
    findings.add(
        1, above, lambda v: f"variability {v:.0f} bpm; limit {limits['variability_increased'].number} bpm", shown
    )
    findings.add(1, ~np.isfinite(work.variability), lambda: "variability cannot be determined")
    falls = work.seen.falls
    so_far = _shown_so_far(work, window_min)
    flat = limits["variability_reduced"].met(falls.variability_inside_bpm) & (work.kind != NONE)
    inside = np.where(limits["reduced_inside_duration"].met(so_far) & flat, so_far, 0.0)
    longest, start = _longest(inside, falls.onset_s)
    findings.add(
        2,
        longest > 0,
        lambda m: (
            f"variability reduced inside a deceleration of {m:g} min; "
            f"limit {limits['reduced_inside_duration'].value / 60:g} min"
        ),
        np.floor(longest / 6.0) / 10.0,
        start_s=start,
    )
    minutes, start = work.seen.sinusoidal_at(basics, lambda run: _is_sinusoidal(run, limits))
    findings.add(
        2,
        limits["sinusoidal_duration"].met(minutes),
        lambda m: f"sinusoidal pattern for {m:.0f} min; limit {limits['sinusoidal_duration'].number} min",
        np.floor(minutes),
        start_s=start,
    )


def _is_sinusoidal(run: Sinusoidal, limits: dict[str, Limit]) -> bool:
    rate = limits["sinusoidal_slowest"].met_by(run.cycles_per_min) and limits["sinusoidal_fastest"].met_by(
        run.cycles_per_min
    )
    size = limits["sinusoidal_smallest"].met_by(run.amplitude_bpm) and limits["sinusoidal_largest"].met_by(
        run.amplitude_bpm
    )
    return rate and size


def _shown_so_far(work: _Pass, window_min: float) -> FloatArray:
    """Length seen so far of each fall that the trailing window shows, (n, n_falls), s."""
    at_s, falls = work.basics.at_s, work.seen.falls
    start = np.maximum(at_s - window_min * 60.0, work.basics.floor_s)
    return np.where(falls.overlapping(start, at_s), falls.so_far_s(at_s), 0.0)


def _longest(lengths: FloatArray, onset_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Longest length at each mark and the onset it belongs to; 0 and NaN where there is none."""
    if lengths.shape[1] == 0:
        return np.zeros(lengths.shape[0]), np.full(lengths.shape[0], np.nan)
    which = lengths.argmax(axis=1)
    longest = lengths[np.arange(lengths.shape[0]), which]
    return longest, np.where(longest > 0, onset_s[which], np.nan)


def _decelerations(work: _Pass, findings: Findings, window_min: float) -> None:
    limits, basics, falls = work.limits, work.basics, work.seen.falls
    so_far = np.where(work.kind == PROLONGED, _shown_so_far(work, window_min), 0.0)
    longest, start = _longest(so_far, falls.onset_s)
    over = limits["single_deceleration"].met(longest)
    findings.add(
        2,
        over,
        lambda m: f"one deceleration of {m:g} min; limit {limits['single_deceleration'].value / 60:g} min",
        np.floor(longest / 6.0) / 10.0,
        start_s=start,
    )
    serious = (work.kind == LATE) | (work.kind == PROLONGED)
    pattern = work.recurring(serious)
    minutes = pattern.minutes(basics.at_s)
    reduced = limits["variability_reduced"].met(work.variability)
    applies = np.where(reduced, limits["repetitive_duration_reduced"].value, limits["repetitive_duration"].value)
    long_enough = np.where(
        reduced, limits["repetitive_duration_reduced"].met(minutes), limits["repetitive_duration"].met(minutes)
    )
    findings.add(
        2,
        pattern.met & long_enough,
        lambda m, k, n, limit: (
            f"repetitive late or prolonged decelerations ({k:.0f} of {n:.0f} contractions) "
            f"for {m:.0f} min; limit {limit:g} min"
        ),
        np.floor(minutes),
        pattern.accompanied,
        pattern.contractions,
        applies,
        start_s=pattern.start_s,
    )
    any_kind = work.recurring(work.kind != NONE)
    findings.add(
        1,
        any_kind.met & ~(pattern.met & long_enough),
        lambda k, n: (
            f"repetitive decelerations: {k:.0f} of {n:.0f} contractions; limit {limits['repetitive'].value * 100:g} %"
        ),
        any_kind.accompanied,
        any_kind.contractions,
        start_s=any_kind.start_s,
    )
    _without_toco(work, findings, any_kind)
    single = limits["prolonged"].met(longest) & ~over & (str(work.table["single_prolonged"]) == "suspicious")
    findings.add(
        1,
        single,
        lambda m: f"one prolonged deceleration of {m:g} min; limit {limits['prolonged'].value / 60:g} min",
        np.floor(longest / 6.0) / 10.0,
        start_s=start,
    )


def _without_toco(work: _Pass, findings: Findings, any_kind: Recurrence) -> None:
    """The unit's own rule for repetitive decelerations where the toco cannot be used (0 = none)."""
    needed = float(work.table["repetitive_without_toco_per_30_min"])
    if needed <= 0:
        return
    number = work.without_toco(work.kind != NONE, any_kind)
    findings.add(
        1,
        number >= needed,
        lambda k: f"{k:.0f} decelerations in 30 min, contractions not usable; taken as repetitive from {needed:g}",
        number,
    )


def _triggers(work: _Pass, findings: Findings, levels: IntArray, codes: IntArray) -> dict[str, TriggerSeries]:
    basics, limits = work.basics, work.limits
    deep = limits["deceleration_depth"].met(work.seen.falls.depth_bpm)
    met, start, exact = ongoing_falls(work.seen.falls, basics.at_s, limits["prolonged"], deep)
    need = limits["suspicious_persistent"]
    held, since = persisting(codes >= 1, codes < 0, basics.at_s, need.value, need.symbol == ">=")
    held &= codes == 1
    return {
        "pathological": trigger_series(levels == 2, findings.start_s(2), codes, basics),
        "suspicious_persistent": trigger_series(held, np.where(held, since, np.nan), codes, basics),
        "prolonged_deceleration": trigger_series(met, start, codes, basics, exact),
    }


STANDARD = Standard(NAME, LEVELS, edition, evaluate)
