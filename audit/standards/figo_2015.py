"""FIGO 2015: the class at each mark. Limits and choices: `figo_2015_table`."""

from functools import partial

import numpy as np

from audit.setting_types import Limit
from audit.standards.basics import Basics, acceleration_of, at_minutes, printed, rounded, sinusoidal_of
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
from audit.standards.figo_2015_table import LATE, LEVELS, NAME, NONE, PROLONGED, Figo2015Settings, deceleration_kinds
from audit.standards.patterns import Recurrence, accompanied_by, recurrence, unplaced
from audit.standards.seen import ACCELERATIONS_MIN, Seen, ongoing_falls
from audit.standards.types import BoolArray, FloatArray, IntArray, TriggerSeries
from audit.tracing.types import Sinusoidal

REPETITIVE = "repetitive"  # the criterion that counts decelerations of any kind


class _Pass:
    """One pass of the guideline over the marks of one reading."""

    def __init__(self, seen: Seen, at_s: FloatArray, floor_s: float, settings: Figo2015Settings) -> None:
        self.seen, self.settings = seen, settings
        self.basics = seen.basics(at_s, floor_s, settings)
        self.baseline = rounded(self.basics.baseline_bpm, settings.round_baseline_to_bpm)
        self.variability = rounded(self.basics.variability_bpm, settings.round_variability_to_bpm)
        self.kind, self.known_s = seen.once(NAME, settings, self._kinds)

    def _kinds(self) -> tuple[IntArray, FloatArray]:
        """Kind of each fall, and when it could be recognised as one, s."""
        falls = self.seen.lasting_falls
        counts = acceleration_of(self.settings.acceleration_height, self.settings.acceleration_duration)
        before = self.seen.accelerations_before(falls.onset_s, ACCELERATIONS_MIN, counts)
        around = self.seen.variability_before(falls.nadir_s, self.settings.variability_minimum_min)
        kind = deceleration_kinds(falls, around, before, self.settings)
        peak_s = falls.nadir_s - np.nan_to_num(falls.lag_s)
        known = np.maximum(falls.nadir_s, peak_s)
        # A late one is told by its return or by the contraction's end, a variable one at its nadir.
        late_known = np.maximum(known, np.minimum(falls.end_s, falls.nadir_s + self.settings.gradual_return.value))
        known = np.where(kind == LATE, late_known, known)
        known = np.maximum(known, falls.onset_s + self.settings.deceleration_duration.value)
        return kind, np.where(kind == PROLONGED, falls.onset_s + self.settings.prolonged.value, known)

    def latest(self, chosen: BoolArray) -> Evidence:
        """The chosen fall that reached latest by each mark."""
        return self.seen.lasting_falls.latest(self.basics.at_s, chosen, self.known_s)

    def recurring(self, chosen: BoolArray) -> Recurrence:
        """Whether the chosen falls are repetitive at each mark."""
        return recurrence(
            accompanied_by(
                self.seen.contractions, self.seen.lasting_falls, self.seen.lasting_pairs, chosen, self.known_s
            ),
            self.basics,
            limit=self.settings.repetitive,
            window_min=self.settings.repetitive_window_min,
            minimum=Limit(">=", self.settings.minimum_contractions),
            toco_usable=Limit(">=", self.settings.recurrence_toco_usable),
        )

    def shown(self, chosen: BoolArray, window_min: float) -> BoolArray:
        """Which of the chosen falls each trailing window shows, of those recognised so far, (n, n_falls)."""
        at_s, falls = self.basics.at_s, self.seen.lasting_falls
        if not chosen.any():
            return np.zeros((at_s.size, chosen.size), dtype=bool)
        start = np.maximum(at_s - window_min * 60.0, self.basics.floor_s)
        here = falls.overlapping(start, at_s) & (self.known_s <= at_s[:, None]) & chosen
        here &= ~(falls.from_level & (at_s[:, None] >= falls.end_s))
        return here

    def unplaced(self, chosen: BoolArray, pattern: Recurrence) -> FloatArray:
        """How many of the chosen falls could be repetitive for all that the toco shows."""
        return unplaced(
            pattern,
            self.seen.lasting_falls,
            self.shown(chosen, self.settings.repetitive_window_min),
            limit=self.settings.repetitive,
            minimum=self.settings.minimum_contractions,
        )


def evaluate(seen: Seen, at_s: FloatArray, floor_s: float, settings: Figo2015Settings) -> Evaluation:
    """Class at each mark by the classification table."""
    work = _Pass(seen, at_s, floor_s, settings)
    window_min = settings.class_window_min
    findings = Findings(at_s.size)
    _baseline(work, findings)
    _variability(work, findings, window_min)
    any_kind, unsaid = _decelerations(work, findings, window_min)
    findings.add(
        0,
        tachysystole(work.basics, work.settings.tachysystole),
        lambda r: f"tachysystole, {r:g} contractions per 10 min (not part of the class)",
        np.rint(work.basics.contractions_per_10_min * 10.0) / 10.0,
    )
    levels = findings.worst()
    codes, reasons = assemble(findings, levels, work.basics, seen, settings, _unremarkable(work, any_kind), unsaid)
    return Evaluation(
        work.basics,
        levels,
        codes,
        reasons,
        lambda: _triggers(work, findings, levels, codes),
        lambda: _by_one(settings, any_kind, codes, findings.worst(besides=REPETITIVE)),
    )


def _by_one(settings: Figo2015Settings, any_kind: Recurrence, codes: IntArray, besides: IntArray) -> dict[int, str]:
    """What the class would be with one deceleration more, or fewer, where that alone decides; by mark.

    `besides`: shape (n,), the class without repetitive decelerations. More than half of the contractions is a count:
    where one event decides, any way of finding events decides.
    """
    with_one, number = any_kind.accompanied, np.maximum(any_kind.contractions, 1.0)
    share = settings.repetitive
    counted = np.isfinite(any_kind.fraction) & (besides == 0)
    more = counted & ~any_kind.met & (with_one > 0) & share.met((with_one + 1.0) / number) & (codes == 0)
    fewer = counted & any_kind.met & ~share.met((with_one - 1.0) / number) & (codes == 1)
    said = {}
    for here, word, level in ((more, "more", 1), (fewer, "fewer", 0)):
        for k in np.flatnonzero(here).tolist():
            of = f"{with_one[k]:.0f} of {plural(number[k], 'contraction')} have one"
            said[k] = f"hinges on one deceleration ({of}), with one {word}: {LEVELS[level]}"
    return said


def _unremarkable(work: _Pass, any_kind: Recurrence) -> Unremarkable:
    """No absence is claimed where contractions were too few, or not seen, to tell."""
    number = work.shown(work.kind != NONE, work.settings.class_window_min).sum(axis=1)
    open_question = np.where(np.isfinite(any_kind.fraction), 0, number).astype(np.float64)

    def text(baseline_bpm: float, variability_bpm: float, count: float) -> str:
        said = "no repetitive decelerations"
        if count > 0:
            said = f"{plural(count, 'deceleration')}, too few to be repetitive, contractions not known"
        return f"baseline {in_bpm(baseline_bpm)}, variability {in_bpm(variability_bpm)}, {said}"

    return Unremarkable(text, open_question)


def tachysystole(basics: Basics, limit: Limit) -> BoolArray:
    """More than 5 contractions in 10 minutes, in two successive periods or averaged over 30 minutes (from memory)."""
    over = limit.met(basics.contractions_in_10_min)
    successive = (over[:, 0] & over[:, 1]) | (over[:, 1] & over[:, 2])
    result: BoolArray = successive | limit.met(basics.contractions_per_10_min)
    return result


def _baseline(work: _Pass, findings: Findings) -> None:
    value, step = work.baseline, work.settings.round_baseline_to_bpm
    lines = (("baseline_pathological", 2, "baseline"), ("bradycardia", 1, "bradycardia: baseline"))
    for name, level, words in (*lines, ("tachycardia", 1, "tachycardia: baseline")):
        met = work.settings.limit(name).met(value)
        if name == "bradycardia":
            met &= ~work.settings.baseline_pathological.met(value)
        findings.add(
            level,
            met,
            lambda b, name=name, words=words: f"{words} {b:g} bpm; limit {work.settings.number(name)} bpm",
            printed(value, work.settings.limit(name)),
            start_s=work.seen.level_start_s(work.basics, met),
            evidence=partial(work.seen.level_evidence, work.basics, work.settings.limit(name), step),
        )
    findings.add(1, ~np.isfinite(value), lambda: "baseline cannot be determined")


def _variability(work: _Pass, findings: Findings, window_min: float) -> None:
    settings, basics, shown = work.settings, work.basics, np.rint(work.basics.variability_bpm)
    gap, step = work.settings.variability_gap_min, work.settings.round_variability_to_bpm
    low = at_minutes(work.seen.variability_run_min(settings.variability_reduced, step, gap), basics.minute)
    high = at_minutes(work.seen.variability_run_min(settings.variability_increased, step, gap), basics.minute)
    for minutes, limit in ((low, settings.reduced_duration), (high, settings.increased_duration)):
        findings.add(
            2,
            limit.met(minutes),
            lambda v, m, limit=limit: f"variability {v:.0f} bpm for {m:.0f} min; limit {limit.number} min",
            shown,
            minutes,
            start_s=basics.at_s - minutes * 60.0,
        )
    below = settings.variability_reduced.met(work.variability) & ~settings.reduced_duration.met(low)
    below &= low >= work.settings.low_variability_suspicious_min
    above = settings.variability_increased.met(work.variability) & ~settings.increased_duration.met(high)
    findings.add(1, below, lambda v: f"variability {v:.0f} bpm; limit {settings.variability_reduced.number} bpm", shown)
    findings.add(
        1, above, lambda v: f"variability {v:.0f} bpm; limit {settings.variability_increased.number} bpm", shown
    )
    findings.add(1, ~np.isfinite(work.variability), lambda: "variability cannot be determined")
    falls = work.seen.lasting_falls
    so_far = _shown_so_far(work, window_min)
    flat = settings.variability_reduced.met(falls.variability_inside_bpm) & (work.kind != NONE)
    longest, start = _longest(flat * so_far, falls.onset_s)
    findings.add(
        2,
        settings.reduced_inside_duration.met(longest),
        lambda m: (
            f"variability reduced inside a deceleration of {m:g} min; "
            f"limit {settings.reduced_inside_duration.value / 60:g} min"
        ),
        np.floor(longest / 6.0) / 10.0,
        start_s=start,
        evidence=partial(work.latest, flat & (falls.end_s - falls.onset_s > settings.reduced_inside_duration.value)),
    )
    counts = partial(_is_sinusoidal, settings)
    minutes, start = work.seen.sinusoidal_at(basics, counts)
    findings.add(
        2,
        settings.sinusoidal_duration.met(minutes),
        lambda m: f"sinusoidal pattern for {m:.0f} min; limit {settings.sinusoidal_duration.number} min",
        np.floor(minutes),
        start_s=start,
        evidence=partial(work.seen.sinusoidal_evidence, basics, counts),
    )


def _is_sinusoidal(settings: Figo2015Settings, run: Sinusoidal) -> bool:
    small, large = settings.sinusoidal_smallest, settings.sinusoidal_largest
    of_rate = sinusoidal_of(settings.sinusoidal_slowest, settings.sinusoidal_fastest)
    return of_rate(run) and small.met_by(run.amplitude_bpm) and large.met_by(run.amplitude_bpm)


def _shown_so_far(work: _Pass, window_min: float) -> FloatArray:
    """Length seen so far of each fall that the trailing window shows, (n, n_falls), s."""
    at_s, falls = work.basics.at_s, work.seen.lasting_falls
    start = np.maximum(at_s - window_min * 60.0, work.basics.floor_s)
    result: FloatArray = falls.overlapping(start, at_s) * falls.so_far_s(at_s)
    return result


def _longest(lengths: FloatArray, onset_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Longest length at each mark, 0 where there is none, and the onset it belongs to."""
    longest = lengths.max(axis=1, initial=0.0)
    return longest, np.where(lengths == longest[:, None], onset_s, np.inf).min(axis=1, initial=np.inf)


def _decelerations(work: _Pass, findings: Findings, window_min: float) -> tuple[Recurrence, BoolArray]:
    """Add the criteria; how decelerations of any kind recur, and where that decides the class and cannot be said."""
    settings, falls = work.settings, work.seen.lasting_falls
    so_far = (work.kind == PROLONGED) * _shown_so_far(work, window_min)
    longest, start = _longest(so_far, falls.onset_s)
    over = settings.single_deceleration.met(longest)
    findings.add(
        2,
        over,
        lambda m: f"one deceleration of {m:g} min; limit {settings.single_deceleration.value / 60:g} min",
        np.floor(longest / 6.0) / 10.0,
        start_s=start,
        evidence=partial(work.latest, work.kind == PROLONGED),
    )
    serious = (work.kind == LATE) | (work.kind == PROLONGED)
    pattern = work.recurring(serious)
    minutes = pattern.minutes
    reduced = settings.variability_reduced.met(work.variability)
    applies = np.where(reduced, settings.repetitive_duration_reduced.value, settings.repetitive_duration.value)
    long_enough = np.where(
        reduced, settings.repetitive_duration_reduced.met(minutes), settings.repetitive_duration.met(minutes)
    )
    findings.add(
        2,
        pattern.met & long_enough,
        lambda m, k, n, limit: (
            f"repetitive late or prolonged decelerations ({k:.0f} of {plural(n, 'contraction')}) "
            f"for {m:.0f} min; limit {limit:g} min"
        ),
        np.floor(minutes),
        pattern.accompanied,
        pattern.contractions,
        applies,
        start_s=pattern.start_s,
        evidence=partial(work.latest, serious),
    )
    any_kind = work.recurring(work.kind != NONE)
    findings.add(
        1,
        any_kind.met & ~(pattern.met & long_enough),
        lambda k, n: (
            f"repetitive decelerations: {k:.0f} of {plural(n, 'contraction')};"
            f" limit {settings.repetitive.value * 100:g} %"
        ),
        any_kind.accompanied,
        any_kind.contractions,
        start_s=any_kind.start_s,
        evidence=partial(work.latest, work.kind != NONE),
        feature=REPETITIVE,
    )
    unsaid = _cannot_say(work, findings, (serious, pattern), any_kind)
    single = settings.prolonged.met(longest) & ~over
    suspicious = settings.single_prolonged == "suspicious"
    findings.add(
        1 if suspicious else 0,
        single,
        lambda m: (
            f"one prolonged deceleration of {m:g} min; limit {settings.prolonged.value / 60:g} min"
            + ("" if suspicious else " (by itself the text leaves the class as it is)")
        ),
        np.floor(longest / 6.0) / 10.0,
        start_s=start,
        evidence=partial(work.latest, work.kind == PROLONGED),
    )
    return any_kind, unsaid


def _cannot_say(
    work: _Pass, findings: Findings, serious: tuple[BoolArray, Recurrence], any_kind: Recurrence
) -> BoolArray:
    """Decelerations in number that may be repetitive, as far as the toco shows: never normal."""
    number = work.unplaced(work.kind != NONE, any_kind)
    late = work.unplaced(*serious)
    suspicious = work.settings.cannot_say == "suspicious"
    findings.add(
        1 if suspicious else 0,
        number > 0,
        lambda k, late: (
            f"cannot say whether decelerations are repetitive: {k:.0f} in {work.settings.repetitive_window_min:g} min, "
            "contractions too few or not usable"
            + (f" ({late:.0f} of them late by shape, or prolonged: pathological if repetitive)" if late else "")
        ),
        number,
        late,
        evidence=partial(work.latest, work.kind != NONE),
    )
    return (number > 0) & (not suspicious)


def _triggers(work: _Pass, findings: Findings, levels: IntArray, codes: IntArray) -> dict[str, TriggerSeries]:
    basics, settings = work.basics, work.settings
    deep = settings.deceleration_depth.met(work.seen.lasting_falls.depth_bpm)
    deep &= ~work.seen.lasting_falls.from_tachycardia(settings.tachycardia, settings.bradycardia)
    met, start, exact = ongoing_falls(work.seen.lasting_falls, basics.at_s, settings.prolonged, deep)
    need = settings.suspicious_persistent
    held, since = persisting(codes >= 1, codes < 0, basics.at_s, need.value, need.symbol == ">=")
    held &= codes == 1
    at_s = basics.at_s
    sudden = deep & settings.prolonged.met(work.seen.lasting_falls.duration_s)
    return {
        "pathological": trigger_series(
            levels == 2, findings.start_s(2), basics, cannot_say=codes < 0, evidence=findings.evidence(2, at_s)
        ),
        "suspicious_persistent": trigger_series(
            held, np.where(held, since, np.nan), basics, cannot_say=codes < 0, evidence=findings.evidence(1, at_s)
        ),
        "prolonged_deceleration": trigger_series(
            met, start, basics, exact_s=exact, evidence=work.seen.lasting_falls.latest(at_s, sudden)
        ),
    }


STANDARD = Standard(NAME, LEVELS, evaluate, lengths=("deceleration_duration", "prolonged", "single_deceleration"))
