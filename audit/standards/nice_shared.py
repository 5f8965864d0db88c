"""What NICE NG229 and the text before it have in common: variability, a long deceleration, patterns by their length."""

from functools import partial

import numpy as np

from audit.setting_types import Limit
from audit.standards.basics import at_minutes, sinusoidal_of
from audit.standards.evaluation import Findings, Later, plural
from audit.standards.nice_ng229_pass import Pass
from audit.standards.nice_ng229_table import AMBER, PROLONGED, RED
from audit.standards.patterns import Recurrence
from audit.standards.types import BoolArray, FloatArray


def variability(work: Pass, findings: Findings, high_amber: Limit, high_red: Limit) -> None:
    """Reduced, increased and sinusoidal: the limits of increased variability differ between editions."""
    settings, basics, shown = work.settings, work.basics, np.rint(work.basics.variability_bpm)
    gap, step = work.settings.variability_gap_min, work.settings.round_variability_to_bpm
    low = at_minutes(work.seen.variability_run_min(settings.variability_low, step, gap), basics.minute)
    high = at_minutes(work.seen.variability_run_min(settings.variability_high, step, gap), basics.minute)
    lines = (
        (RED, settings.low_red.met(low), low, settings.low_red.number),
        (AMBER, settings.low_amber.met(low) & ~settings.low_red.met(low), low, settings.low_amber.number),
        (RED, high_red.met(high), high, high_red.number),
    )
    for level, met, minutes, number in lines:
        word = "red" if level == RED else "amber"
        findings.add(
            level,
            met,
            lambda v, m, word=word, number=number: (
                f"{word}: variability {v:.0f} bpm for {m:.0f} min; limit {number} min"
            ),
            shown,
            minutes,
            start_s=basics.at_s - minutes * 60.0,
            feature="variability",
        )
    findings.add(
        AMBER,
        high_amber.met(high) & ~high_red.met(high),
        lambda m: f"amber: variability over {settings.variability_high.number} bpm for {m:.0f} min",
        high,
        feature="variability",
    )
    counts = sinusoidal_of(settings.sinusoidal_slowest, settings.sinusoidal_fastest)
    minutes, start = work.seen.sinusoidal_at(basics, counts)
    findings.add(
        RED,
        settings.sinusoidal_duration.met(minutes),
        lambda m: f"red: sinusoidal pattern for {m:.0f} min",
        np.floor(minutes),
        start_s=start,
        evidence=partial(work.seen.sinusoidal_evidence, basics, counts),
        feature="variability",
    )


def prolonged(work: Pass, findings: Findings, window_min: float) -> None:
    """Red: one deceleration of 3 minutes or more, or an acute bradycardia that has lasted as long."""
    settings, basics, falls = work.settings, work.basics, work.falls
    at_s = basics.at_s
    start = np.maximum(at_s - window_min * 60.0, basics.floor_s)
    so_far = falls.so_far_s(at_s)
    here = falls.overlapping(start, at_s) & (work.kind == PROLONGED) & settings.prolonged.met(so_far)
    longest = (here * so_far).max(axis=1, initial=0.0)
    first = np.where(here, falls.onset_s, np.inf).min(axis=1, initial=np.inf)
    findings.add(
        RED,
        np.asarray(here.any(axis=1), dtype=np.bool_),
        lambda m: f"red: one prolonged deceleration of {m:g} min; limit {settings.prolonged.value / 60:g} min",
        np.floor(longest / 6.0) / 10.0,
        start_s=np.where(np.isfinite(first), first, np.nan),
        evidence=partial(falls.latest, at_s, here),
        feature="decelerations",
    )


def coming(
    onset_s: FloatArray, end_s: FloatArray, known_s: FloatArray, at_s: FloatArray, gap_s: float
) -> tuple[FloatArray, FloatArray]:
    """How long events without a pause of `gap_s` had been coming at each mark, min, and since when, s.

    From the onset of the first to the end of the last that was known by then: one event alone lasts as long as itself.
    0 and NaN before any.
    """
    breaks = np.concatenate([[True], np.diff(onset_s) > gap_s])
    first = onset_s[np.maximum.accumulate(np.where(breaks, np.arange(onset_s.size), 0))]
    last = np.searchsorted(np.maximum.accumulate(known_s), at_s, side="right") - 1
    since = np.where(last >= 0, first[last], np.nan)
    until = np.minimum(end_s[last], at_s)
    return np.nan_to_num((until - since) / 60.0), since


def by_length(work: Pass, findings: Findings, pattern: Recurrence, last: Later, words: str) -> None:
    """Amber under, red over 30 minutes; exactly 30 is in neither text (setting `exactly_30_min`)."""
    settings = work.settings
    minutes = pattern.minutes
    long_enough = settings.long_pattern.met(minutes)
    if settings.exactly_30_min == "red":
        long_enough = ~settings.short_pattern.met(minutes)
    by_minutes(findings, pattern, pattern.met & long_enough, last, words, settings.long_pattern.number)


def by_minutes(findings: Findings, pattern: Recurrence, red: BoolArray, last: Later, words: str, number: str) -> None:
    """A repetitive pattern, red where it has lasted long enough for that and amber elsewhere."""
    for level, word, met in ((RED, "red", red), (AMBER, "amber", pattern.met & ~red)):
        findings.add(
            level,
            met,
            lambda m, k, n, word=word: (
                f"{word}: {words} ({k:.0f} of {plural(n, 'contraction')}) for {m:.0f} min; limit {number} min"
            ),
            np.floor(pattern.minutes),
            pattern.accompanied,
            pattern.contractions,
            start_s=pattern.start_s,
            evidence=last,
            feature="decelerations",
        )
