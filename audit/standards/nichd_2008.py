"""NICHD 2008: the category at each mark. Limits and choices: `nichd_2008_table`."""

import numpy as np

from audit.setting_types import Limit
from audit.standards.basics import rounded, share
from audit.standards.evaluation import Evaluation, Findings, Standard, assemble, in_bpm, trigger_series
from audit.standards.nichd_2008_table import (
    LEVELS,
    NAME,
    Nichd2008Settings,
    acceleration_counts,
    deceleration_kinds,
    significant_variable,
    variability_class,
)
from audit.standards.patterns import Recurrence, accompanied_by, recurrence
from audit.standards.seen import Seen, ongoing_falls
from audit.standards.types import BoolArray, FloatArray, IntArray, TriggerSeries
from audit.tracing.types import Sinusoidal


class _Pass:
    """One pass of the standard over the marks of one reading."""

    def __init__(self, seen: Seen, at_s: FloatArray, floor_s: float, settings: Nichd2008Settings) -> None:
        self.seen, self.settings = seen, settings
        self.basics = seen.basics(at_s, floor_s, settings)
        self.baseline = rounded(self.basics.baseline_bpm, settings.round_baseline_to_bpm)
        self.variability = variability_class(self.basics.variability_bpm, settings)
        self._shown: dict[float, FloatArray] = {}  # falls that a window of so many minutes shows, (n, n_falls)
        chosen, self.known_s = seen.once(NAME, settings, self._kinds)
        self.late, self.variable, self.unclassified, self.prolonged = chosen

    def _kinds(self) -> tuple[tuple[BoolArray, ...], FloatArray]:
        """Which falls are late, variable, unclassified and prolonged, and when that could be recognised, s."""
        falls = self.seen.falls
        kind = deceleration_kinds(falls, self.settings)
        late, variable, unclassified, prolonged = (
            kind == name for name in ("late", "variable", "unclassified", "prolonged")
        )
        # A kind is known at the nadir, and with a contraction not before its peak; 'prolonged' after its 2 minutes.
        peak_s = falls.nadir_s - np.nan_to_num(falls.lag_s)
        known = np.maximum(falls.nadir_s, peak_s)
        known = np.maximum(known, falls.onset_s + self.settings.variable_duration.value)
        known = np.where(prolonged, falls.onset_s + self.settings.prolonged_duration.value, known)
        return (late, variable, unclassified, prolonged), known

    def recurring(self, chosen: BoolArray, known_s: FloatArray, limit: str, window_min: float) -> Recurrence:
        """Recurrence of the chosen falls over a trailing window."""
        return recurrence(
            accompanied_by(self.seen.contractions, self.seen.falls, self.seen.pairs, chosen, known_s),
            self.basics,
            limit=self.settings.limit(limit),
            window_min=window_min,
            minimum=Limit(">=", self.settings.minimum_contractions),
            toco_usable=Limit(">=", self.settings.recurrence_toco_usable),
        )

    def count_in_window(self, chosen: BoolArray, window_min: float) -> FloatArray:
        """How many of the chosen falls the trailing window shows, of those recognised so far."""
        if window_min not in self._shown:
            at_s, falls = self.basics.at_s, self.seen.falls
            start = np.maximum(at_s - window_min * 60.0, self.basics.floor_s)
            here = falls.overlapping(start, at_s) & (self.known_s <= at_s[:, None])
            here &= ~(falls.from_level & (at_s[:, None] >= falls.end_s))
            self._shown[window_min] = here.astype(np.float64)
        result: FloatArray = self._shown[window_min] @ chosen.astype(np.float64)
        return result


def evaluate(seen: Seen, at_s: FloatArray, floor_s: float, settings: Nichd2008Settings) -> Evaluation:
    """Category at each mark by the three-tier criteria, most severe first."""
    work = _Pass(seen, at_s, floor_s, settings)
    window_min = settings.class_window_min
    findings = Findings(at_s.size)
    twenty = settings.recurrence_window_min
    late = work.recurring(work.late, work.known_s, "recurrent", twenty)
    variable = work.recurring(work.variable, work.known_s, "recurrent", twenty)
    _category_iii(work, findings, late, variable)
    _baseline_and_variability(work, findings)
    before = len(findings.criteria)
    _decelerations(work, findings, late, variable, window_min)
    levels = findings.worst()
    short_levels = _short_window_levels(work, findings, before, late, variable)
    seen_share = seen.seen_share(work.basics, window_min)
    assessable = Limit(">=", settings.signal_seen_fraction).met(seen_share)
    assessable &= at_s - floor_s >= settings.first_category_min * 60.0 - 1e-6
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
            f"{settings.signal_seen_fraction * 100:g} % and {settings.first_category_min:g} min"
        ),
        unremarkable=lambda b, v: f"baseline {in_bpm(b)}, variability {in_bpm(v)}, no late or variable decelerations",
    )
    return Evaluation(work.basics, levels, codes, reasons, lambda: _triggers(work, findings, levels, codes, window_min))


def _category_iii(work: _Pass, findings: Findings, late: Recurrence, variable: Recurrence) -> None:
    absent = work.variability == 0
    amplitude = np.rint(work.basics.variability_bpm * 10.0) / 10.0
    for name, pattern in (("late", late), ("variable", variable)):
        findings.add(
            2,
            absent & pattern.met,
            lambda v, k, n, name=name: (
                f"absent variability ({v:g} bpm) with recurrent {name} decelerations "
                f"({k:.0f} of {n:.0f} contractions in 20 min; limit {work.settings.recurrent.value * 100:g} %)"
            ),
            amplitude,
            pattern.accompanied,
            pattern.contractions,
            start_s=pattern.start_s,
        )
    slow = absent & work.settings.bradycardia.met(work.baseline)
    findings.add(
        2,
        slow,
        lambda v, b: (
            f"absent variability ({v:g} bpm) with bradycardia, baseline {b:g} bpm; "
            f"limit {work.settings.bradycardia.number} bpm"
        ),
        amplitude,
        work.baseline,
        start_s=work.seen.level_start_s(work.basics, slow),
    )
    minutes, start = work.seen.sinusoidal_at(work.basics, lambda run: _is_sinusoidal(run, work.settings))
    findings.add(
        2,
        work.settings.sinusoidal_duration.met(minutes),
        lambda m: f"sinusoidal pattern for {m:.0f} min; limit {work.settings.sinusoidal_duration.number} min",
        np.floor(minutes),
        start_s=start,
    )


def _is_sinusoidal(run: Sinusoidal, settings: Nichd2008Settings) -> bool:
    slow, fast = settings.sinusoidal_slowest, settings.sinusoidal_fastest
    return slow.met_by(run.cycles_per_min) and fast.met_by(run.cycles_per_min)


def _baseline_and_variability(work: _Pass, findings: Findings) -> None:
    for name, words in (("bradycardia", "bradycardia"), ("tachycardia", "tachycardia")):
        met = work.settings.limit(name).met(work.baseline)
        findings.add(
            1,
            met,
            lambda b, name=name, words=words: f"{words}: baseline {b:g} bpm; limit {work.settings.number(name)} bpm",
            work.baseline,
            start_s=work.seen.level_start_s(work.basics, met),
        )
    findings.add(1, ~np.isfinite(work.baseline), lambda: "baseline indeterminate")
    amplitude = work.basics.variability_bpm
    lines = (
        (0, lambda v: f"absent variability ({v:g} bpm)"),
        (1, lambda v: f"minimal variability ({v:g} bpm); limit {work.settings.variability_minimal.number} bpm"),
        (3, lambda v: f"marked variability ({v:g} bpm); limit {work.settings.variability_marked.number} bpm"),
    )
    for code, text in lines:
        findings.add(
            1, work.variability == code, text, np.rint(amplitude * 10.0) / 10.0 if code == 0 else np.rint(amplitude)
        )
    minutes, _ = work.seen.sinusoidal_at(work.basics, lambda run: _is_sinusoidal(run, work.settings))
    findings.add(
        1,
        (minutes > 0) & ~work.settings.sinusoidal_duration.met(minutes),
        lambda m: f"sinusoidal pattern for {m:.0f} min: not moderate variability",
        np.floor(minutes),
    )
    findings.add(1, work.variability == -1, lambda: "variability cannot be determined")


def _decelerations(work: _Pass, findings: Findings, late: Recurrence, variable: Recurrence, window_min: float) -> None:
    for name, pattern, chosen in (("late", late, work.late), ("variable", variable, work.variable)):
        findings.add(
            1,
            pattern.met,
            lambda k, n, name=name: (
                f"recurrent {name} decelerations: {k:.0f} of {n:.0f} contractions in 20 min; "
                f"limit {work.settings.recurrent.value * 100:g} %"
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
    long_enough = work.settings.prolonged_duration.met(so_far) & work.prolonged & falls.overlapping(start, at_s)
    longest = np.where(long_enough, so_far, 0.0).max(axis=1, initial=0.0)
    findings.add(
        1,
        longest > 0,
        lambda s: f"prolonged deceleration of {s:.0f} s; limit {work.settings.prolonged_duration.number} s",
        np.floor(longest),
    )
    number = work.count_in_window(work.unclassified, window_min)
    findings.add(
        1,
        (number > 0) & work.settings.unclassified_counts,
        lambda k: f"gradual decelerations that no usable toco can class: {k:.0f} in the last {window_min:g} min",
        number,
    )


def _short_window_levels(
    work: _Pass, findings: Findings, before: int, late: Recurrence, variable: Recurrence
) -> IntArray:
    """The category if decelerations counted over the short class window only."""
    long_criteria = findings.criteria
    findings.criteria = long_criteria[:before]
    _decelerations(work, findings, late, variable, work.settings.short_class_window_min)
    levels = findings.worst()
    findings.criteria = long_criteria
    return levels


def _note_short_window(work: _Pass, findings: Findings, levels: IntArray, short_levels: IntArray) -> None:
    minutes = work.settings.short_class_window_min
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
    deep = work.settings.prolonged_depth.met(falls.depth_bpm) & ~falls.shallow
    met, start, exact = ongoing_falls(falls, basics.at_s, work.settings.trigger_prolonged, deep)
    persistent, persistent_start = _persistent_category_ii(work, levels)
    crowded = work.settings.tachysystole.met(basics.contractions_per_10_min)
    crowded &= work.count_in_window(deep, window_min) > 0
    toco = share(basics.summed.toco_s, np.maximum(basics.at_s - 1800.0, 0.0), basics.at_s)
    no_toco = ~Limit(">=", work.settings.recurrence_toco_usable).met(toco)
    return {
        "prolonged_deceleration": trigger_series(met, start, basics, exact_s=exact),
        "category_iii": trigger_series(levels == 2, findings.start_s(2), basics, cannot_say=codes < 0),
        "category_ii_persistent": trigger_series(persistent, persistent_start, basics, cannot_say=no_toco),
        "tachysystole_with_decelerations": trigger_series(
            crowded, _first_minus(crowded, basics.at_s), basics, cannot_say=no_toco
        ),
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
    falls, basics, settings = work.seen.falls, work.basics, work.settings
    significant = significant_variable(falls, work.settings)
    known = np.where(significant, np.maximum(work.known_s, falls.onset_s + settings.clark_duration.value), work.known_s)
    pattern = work.recurring(work.late | significant, known, "clark_recurrent", 30.0)
    reassuring = work.variability >= 2
    counts = acceleration_counts(settings, work.seen.gestation_weeks)
    reassuring |= work.seen.accelerations_before(basics.at_s, 30.0, counts) > 0
    minutes = pattern.minutes(basics.at_s)
    met = pattern.met & (levels == 1)
    met &= np.where(reassuring, settings.clark_with.met(minutes), settings.clark_without.met(minutes))
    going_on = falls.so_far_s(basics.at_s) >= settings.prolonged_duration.value
    halted = (going_on & (falls.end_s > basics.at_s[:, None]) & work.prolonged).any(axis=1)
    if (met & halted).any():
        for k in np.flatnonzero(met & halted).tolist():
            met[k] = k > 0 and bool(met[k - 1])
    return met, np.where(met, pattern.start_s, np.nan)


STANDARD = Standard(NAME, LEVELS, evaluate)
