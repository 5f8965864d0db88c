"""NICHD 2008: the category at each mark. Limits and choices: `nichd_2008_table`."""

from functools import partial

import numpy as np

from audit.setting_types import Limit
from audit.standards.basics import CONTRACTIONS_S, rounded, share, sinusoidal_of
from audit.standards.evaluation import (
    Evaluation,
    Findings,
    Standard,
    Unremarkable,
    assemble,
    in_bpm,
    persisting,
    plural,
    trigger_series,
)
from audit.standards.falls import Evidence
from audit.standards.nichd_2008_table import (
    LEVELS,
    NAME,
    Nichd2008Settings,
    acceleration_counts,
    deceleration_kinds,
    significant_variable,
    variability_class,
)
from audit.standards.patterns import Recurrence, accompanied_by, recurrence, unplaced
from audit.standards.seen import ACCELERATIONS_MIN, Seen, ongoing_falls
from audit.standards.types import BoolArray, FloatArray, IntArray, TriggerSeries


class _Pass:
    """One pass of the standard over the marks of one reading."""

    def __init__(self, seen: Seen, at_s: FloatArray, floor_s: float, settings: Nichd2008Settings) -> None:
        self.seen, self.settings = seen, settings
        self.basics = seen.basics(at_s, floor_s, settings)
        self.baseline = rounded(self.basics.baseline_bpm, settings.round_baseline_to_bpm)
        self.variability = variability_class(self.basics.variability_bpm, settings)
        self.sinusoidal = sinusoidal_of(settings.sinusoidal_slowest, settings.sinusoidal_fastest)
        self._shown: dict[float, BoolArray] = {}  # falls that a window of so many minutes shows, (n, n_falls)
        chosen, self.known_s = seen.once(NAME, settings, self._kinds)
        self.late, self.variable, self.unclassified, self.prolonged = chosen

    def _kinds(self) -> tuple[tuple[BoolArray, ...], FloatArray]:
        """Which falls are late, variable, unclassified and prolonged, and when that could be recognised, s."""
        falls = self.seen.falls
        kind = deceleration_kinds(falls, self.settings)
        late, variable, unclassified, prolonged = (
            kind == name for name in ("late", "variable", "unclassified", "prolonged")
        )
        # A level that goes from a tachycardia into the normal range is no deceleration, though it looked like one.
        prolonged &= ~(falls.from_level & falls.from_tachycardia(self.settings.tachycardia, self.settings.bradycardia))
        # A kind is known at the nadir, and with a contraction not before its peak; 'prolonged' after its 2 minutes.
        peak_s = falls.nadir_s - np.nan_to_num(falls.lag_s)
        known = np.maximum(falls.nadir_s, peak_s)
        known = np.maximum(known, falls.onset_s + self.settings.variable_duration.value)
        known = np.where(prolonged, falls.onset_s + self.settings.prolonged_duration.value, known)
        return (late, variable, unclassified, prolonged), known

    def latest(self, chosen: BoolArray) -> Evidence:
        """The chosen fall that reached latest by each mark."""
        return self.seen.falls.latest(self.basics.at_s, chosen, self.known_s)

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

    def shown(self, window_min: float) -> BoolArray:
        """Which falls each trailing window shows, of those recognised so far, (n, n_falls)."""
        if window_min not in self._shown:
            at_s, falls = self.basics.at_s, self.seen.falls
            start = np.maximum(at_s - window_min * 60.0, self.basics.floor_s)
            here = falls.overlapping(start, at_s) & (self.known_s <= at_s[:, None])
            here &= ~(falls.from_level & (at_s[:, None] >= falls.end_s))
            self._shown[window_min] = here
        return self._shown[window_min]

    def count_in_window(self, chosen: BoolArray, window_min: float) -> FloatArray:
        """How many of the chosen falls the trailing window shows."""
        result: FloatArray = (self.shown(window_min) & chosen).sum(axis=1).astype(np.float64)
        return result

    def unplaced(self, chosen: BoolArray, pattern: Recurrence) -> FloatArray:
        """How many of the chosen falls could be recurrent for all that the toco shows."""
        return unplaced(
            pattern,
            self.seen.falls,
            self.shown(self.settings.recurrence_window_min) & chosen,
            limit=self.settings.recurrent,
            minimum=self.settings.minimum_contractions,
        )


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
    _note_short_window(work, findings, levels, short_levels)
    unsaid = work.count_in_window(work.unclassified, window_min) > 0
    unsaid &= settings.cannot_say == "not assessable"
    words = Unremarkable(
        lambda b, v, _: f"baseline {in_bpm(b)}, variability {in_bpm(v)}, no late or variable decelerations",
        np.zeros(at_s.size),
    )
    codes, reasons = assemble(findings, levels, work.basics, seen, settings, words, unsaid)
    return Evaluation(work.basics, levels, codes, reasons, lambda: _triggers(work, findings, levels, codes, window_min))


def _category_iii(work: _Pass, findings: Findings, late: Recurrence, variable: Recurrence) -> None:
    absent = work.variability == 0
    amplitude = np.rint(work.basics.variability_bpm * 10.0) / 10.0
    for name, pattern, chosen in (("late", late, work.late), ("variable", variable, work.variable)):
        findings.add(
            2,
            absent & pattern.met,
            lambda v, k, n, name=name: (
                f"absent variability ({v:g} bpm) with recurrent {name} decelerations "
                f"({k:.0f} of {plural(n, 'contraction')} in 20 min; limit {work.settings.recurrent.value * 100:g} %)"
            ),
            amplitude,
            pattern.accompanied,
            pattern.contractions,
            start_s=pattern.start_s,
            evidence=partial(work.latest, chosen),
        )
    open_question = np.maximum(
        work.unplaced(work.late | work.unclassified, late), work.unplaced(work.variable, variable)
    )
    findings.add(
        0,
        absent & (open_question > 0),
        lambda k: (
            f"cannot say whether decelerations are recurrent: {k:.0f} in 20 min, contractions too few or not usable; "
            "with absent variability category III if they are"
        ),
        open_question,
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
        evidence=partial(
            work.seen.level_evidence, work.basics, work.settings.bradycardia, work.settings.round_baseline_to_bpm
        ),
    )
    minutes, start = work.seen.sinusoidal_at(work.basics, work.sinusoidal)
    findings.add(
        2,
        work.settings.sinusoidal_duration.met(minutes),
        lambda m: f"sinusoidal pattern for {m:.0f} min; limit {work.settings.sinusoidal_duration.number} min",
        np.floor(minutes),
        start_s=start,
        evidence=partial(work.seen.sinusoidal_evidence, work.basics, work.sinusoidal),
    )


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
    minutes, _ = work.seen.sinusoidal_at(work.basics, work.sinusoidal)
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
                f"recurrent {name} decelerations: {k:.0f} of {plural(n, 'contraction')} in 20 min; "
                f"limit {work.settings.recurrent.value * 100:g} %"
            ),
            pattern.accompanied,
            pattern.contractions,
            start_s=pattern.start_s,
            evidence=partial(work.latest, chosen),
        )
        number = work.count_in_window(chosen, window_min)
        findings.add(
            1,
            (number > 0) & ~pattern.met,
            lambda k, name=name: f"{name} decelerations: {k:.0f} in the last {window_min:g} min; category I has none",
            number,
            evidence=partial(work.latest, chosen),
        )
    at_s, falls = work.basics.at_s, work.seen.falls
    start = np.maximum(at_s - window_min * 60.0, work.basics.floor_s)
    so_far = falls.so_far_s(at_s)
    long_enough = work.settings.prolonged_duration.met(so_far) & work.prolonged & falls.overlapping(start, at_s)
    longest = (long_enough * so_far).max(axis=1, initial=0.0)
    findings.add(
        1,
        np.asarray(long_enough.any(axis=1), dtype=np.bool_),
        lambda s: f"prolonged deceleration of {s:.0f} s; limit {work.settings.prolonged_duration.number} s",
        np.floor(longest),
        evidence=partial(falls.latest, at_s, work.prolonged),
    )
    number = work.count_in_window(work.unclassified, window_min)
    findings.add(
        1 if work.settings.cannot_say == "II" else 0,
        number > 0,
        lambda k: (
            f"cannot say whether early or late: {plural(k, 'gradual deceleration')} without a usable contraction "
            f"in the last {window_min:g} min; category I has no late ones"
        ),
        number,
        evidence=partial(work.latest, work.unclassified),
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
    sudden = deep & ~falls.from_tachycardia(work.settings.tachycardia, work.settings.bradycardia)
    met, start, exact = ongoing_falls(falls, basics.at_s, work.settings.trigger_prolonged, sudden)
    persistent, persistent_start, last = _persistent_category_ii(work, levels, codes)
    crowded = work.settings.tachysystole.met(basics.contractions_per_10_min)
    crowded &= work.count_in_window(deep, window_min) > 0
    toco = share(basics.summed.toco_s, basics.at_s - CONTRACTIONS_S, basics.at_s)
    no_toco = ~Limit(">=", work.settings.recurrence_toco_usable).met(toco)
    # from 10 minutes on it is a change of baseline, and the concern goes on for as long as that bradycardia does
    going_on = work.seen.lasting_falls.latest(basics.at_s, sudden & work.prolonged)
    return {
        "prolonged_deceleration": trigger_series(met, start, basics, exact_s=exact, evidence=going_on),
        "category_iii": trigger_series(
            levels == 2,
            findings.start_s(2),
            basics,
            cannot_say=codes < 0,
            evidence=findings.evidence(2, basics.at_s),
        ),
        "category_ii_persistent": trigger_series(
            persistent, persistent_start, basics, cannot_say=no_toco | (codes < 0), evidence=last
        ),
        "tachysystole_with_decelerations": trigger_series(
            crowded, _first_minus(crowded, basics.at_s), basics, cannot_say=no_toco
        ),
    }


def _first_minus(met: BoolArray, at_s: FloatArray) -> FloatArray:
    """Start of the 30-minute window that first met a contraction rate."""
    index = np.arange(met.size)
    first = np.minimum(np.maximum.accumulate(np.where(met, -1, index)) + 1, met.size - 1)
    return np.where(met, np.maximum(at_s[first] - CONTRACTIONS_S, 0.0), np.nan)


def _persistent_category_ii(work: _Pass, levels: IntArray, codes: IntArray) -> tuple[BoolArray, FloatArray, Evidence]:
    """Category II that its algorithm does not let go on (Clark 2013, from memory), since when, and what came last.

    Significant decelerations with half of the contractions for 60 minutes with moderate variability or accelerations,
    for 30 without either; and, without either, an hour of observation that shows no change though no significant ones
    come. Significant are late ones of any depth, prolonged ones, and variable ones that are long and deep (limits
    `clark_*`). A prolonged deceleration halts the algorithm: while it lasts the rule is not newly met, and what was met
    stays met.
    """
    falls, basics, settings = work.seen.falls, work.basics, work.settings
    significant = significant_variable(falls, work.settings)
    known = np.where(significant, np.maximum(work.known_s, falls.onset_s + settings.clark_duration.value), work.known_s)
    pattern = work.recurring(work.late | significant | work.prolonged, known, "clark_recurrent", 30.0)
    counts = acceleration_counts(settings, work.seen.gestation_weeks)
    accelerating = work.seen.accelerations_before(basics.at_s, ACCELERATIONS_MIN, counts) > 0
    reassuring = (work.variability >= 2) | accelerating
    minutes = pattern.minutes
    by_pattern = pattern.met & (levels == 1)
    by_pattern &= np.where(reassuring, settings.clark_with.met(minutes), settings.clark_without.met(minutes))
    need = settings.clark_observed
    unknown = (work.variability == -1) | (codes < 0)
    plain = (codes == 1) & np.isin(work.variability, (0, 1)) & ~accelerating
    observed, since = persisting(plain, unknown & ~accelerating, basics.at_s, need.value, need.symbol == ">=")
    met = by_pattern | observed
    start = np.fmin(np.where(by_pattern, pattern.start_s, np.nan), np.where(observed, since, np.nan))
    going_on = falls.so_far_s(basics.at_s) >= settings.prolonged_duration.value
    halted = (going_on & (falls.end_s > basics.at_s[:, None]) & work.prolonged).any(axis=1)
    for k in np.flatnonzero(met & halted).tolist():
        met[k] = met[k - 1]  # nothing is met at the first minute
    # without significant decelerations it is the state that goes on
    first, last = falls.latest(basics.at_s, work.late | significant | work.prolonged, known)
    state = observed | ~np.isfinite(last)
    return (
        met,
        np.where(met, start, np.nan),
        (np.where(state, basics.at_s, first), np.where(state, basics.at_s, last)),
    )


STANDARD = Standard(NAME, LEVELS, evaluate, lengths=("variable_duration", "prolonged_duration", "trigger_prolonged"))
