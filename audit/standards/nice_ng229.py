"""NICE NG229: the category at each mark. Limits and choices: `nice_ng229_table`."""

from functools import partial

import numpy as np

from audit.standards.basics import at_minutes, marks_of, printed
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
from audit.standards.nice_cg190 import former_features
from audit.standards.nice_ng229_pass import Pass
from audit.standards.nice_ng229_table import (
    AMBER,
    LATE,
    LEVELS,
    NAME,
    RED,
    UNTYPED,
    VARIABLE,
    NiceNg229Settings,
)
from audit.standards.nice_shared import by_length, coming, prolonged, variability
from audit.standards.seen import Seen, ongoing_falls
from audit.standards.types import BoolArray, FloatArray, IntArray, TriggerSeries


def evaluate(seen: Seen, at_s: FloatArray, floor_s: float, settings: NiceNg229Settings) -> Evaluation:
    """Category at each mark: any red or two ambers pathological, one amber suspicious, else normal."""
    work = Pass(seen, at_s, floor_s, settings)
    window_min = settings.class_window_min
    findings = Findings(at_s.size)
    if work.former:
        former_features(work, findings, window_min)
    else:
        _contractions(work, findings)
        _baseline(work, findings)
        variability(work, findings, settings.high_amber, settings.high_red)
        _decelerations(work, findings, window_min)
    unsaid = _cannot_say(work, findings, window_min)
    ambers = findings.features_at(AMBER)
    red = findings.worst() == RED
    levels = np.where(red | (ambers >= 2), 2, np.where(ambers == 1, 1, 0)).astype(np.int64)
    if settings.cannot_say == "suspicious":
        levels = np.maximum(levels, unsaid.astype(np.int64))
    no_rate = np.isnan(work.contraction_rate).astype(np.float64)
    codes, reasons = assemble(
        findings, levels, work.basics, seen, settings, Unremarkable(_unremarkable, no_rate), unsaid
    )
    # Two ambers, no red: the pattern began when the second of them did, which its criteria do not carry; the first
    # known start of either stands in.
    start = np.where(red, findings.start_s(RED), findings.start_s(AMBER))
    return Evaluation(work.basics, levels, codes, reasons, lambda: _triggers(work, findings, levels, codes, start))


def _unremarkable(baseline_bpm: float, variability_bpm: float, no_rate: float) -> str:
    """No absence is claimed of what the toco did not show."""
    said = "no other amber or red feature; contractions not usable" if no_rate else "no amber or red feature"
    return f"baseline {in_bpm(baseline_bpm)}, variability {in_bpm(variability_bpm)}, {said}"


def _contractions(work: Pass, findings: Findings) -> None:
    basics, settings, rate = work.basics, work.settings, work.contraction_rate
    findings.add(
        AMBER,
        settings.contractions_amber.met(rate),
        lambda r: f"amber: contractions {r:g} per 10 min; limit {settings.contractions_amber.number}",
        np.rint(rate * 10.0) / 10.0,
        feature="contractions",
    )
    contractions = work.seen.contractions
    lengths = contractions.end_s - contractions.onset_s
    long_ones = contractions.end_s[settings.hypertonus.met(lengths)]
    start = np.maximum(basics.at_s - work.settings.class_window_min * 60.0, basics.floor_s)
    number = np.searchsorted(long_ones, basics.at_s, "right") - np.searchsorted(long_ones, start, "right")
    findings.add(
        AMBER,
        (number > 0) & work.settings.hypertonus_counts,
        lambda k: f"amber: {plural(k, 'contraction')} of {settings.hypertonus.number} s or more",
        number.astype(np.float64),
        feature="contractions",
    )


def _baseline(work: Pass, findings: Findings) -> None:
    settings, basics = work.settings, work.basics
    value = basics.baseline_bpm
    for name in ("baseline_red_low", "baseline_red_high"):
        met = settings.limit(name).met(value)
        findings.add(
            RED,
            met,
            lambda b, name=name: f"red: baseline {b:g} bpm; limit {settings.number(name)} bpm",
            printed(value, settings.limit(name)),
            start_s=work.seen.level_start_s(basics, met),
            evidence=partial(work.seen.level_evidence, basics, settings.limit(name)),
            feature="baseline",
        )
    low = settings.baseline_amber_low.met(value) & ~settings.baseline_red_low.met(value)
    settled, change = _stable_since_start(work)
    findings.add(
        AMBER,
        low,
        lambda b, usual: (
            f"amber: baseline {b:g} bpm; limit {settings.baseline_amber_low.number} bpm"
            + (" (stable from the start, normal variability: the guideline continues usual care)" if usual else "")
        ),
        printed(value, settings.baseline_amber_low),
        settled.astype(np.float64),
        start_s=work.seen.level_start_s(basics, low),
        evidence=partial(work.seen.level_evidence, basics, settings.baseline_amber_low),
        feature="baseline",
    )
    risen = settings.baseline_rise.met(change) & ~settings.baseline_red_high.met(value)
    findings.add(
        AMBER,
        risen,
        lambda b, c: (
            f"amber: baseline {b:.0f} bpm, {c:.0f} bpm above an earlier one; limit {settings.baseline_rise.number} bpm"
        ),
        np.rint(value),
        np.floor(change),
        start_s=work.seen.level_start_s(basics, risen),
        feature="baseline",
    )
    findings.add(AMBER, ~np.isfinite(value), lambda: "amber: baseline cannot be determined", feature="baseline")


def _stable_since_start(work: Pass) -> tuple[BoolArray, FloatArray]:
    """Whether the baseline has been within 10 bpm of its first value, and its rise over the first and an hour ago."""
    whole = work.seen.basics(marks_of(work.seen.reading), 0.0, work.settings)
    history = whole.baseline_bpm
    value, minute = work.basics.baseline_bpm, work.basics.minute
    known = history[np.isfinite(history)]
    if known.size == 0:
        return np.zeros(value.size, dtype=bool), np.full(value.size, np.nan)
    back = work.settings.baseline_review_min
    # Before the first known baseline there is none to compare with; the present one stands in.
    hour_ago = at_minutes(history, np.maximum(minute - back, 0), np.nan)
    reference = np.fmin(known[0], hour_ago)
    lowest = np.fmin.accumulate(np.nan_to_num(history, nan=np.inf))
    highest = np.fmax.accumulate(np.nan_to_num(history, nan=-np.inf))
    spread = at_minutes(highest - lowest, minute, np.inf)
    normal = ~work.settings.variability_low.met(work.variability) & np.isfinite(work.variability)
    quiet = ~work.in_window(np.isin(work.kind, (VARIABLE, LATE)), work.known_s, 60.0).any(axis=1)
    return (spread < 10.0) & normal & quiet, value - reference


def _decelerations(work: Pass, findings: Findings, window_min: float) -> None:
    falls, at_s = work.falls, work.basics.at_s
    prolonged(work, findings, window_min)
    _concerning_variable(work, findings, window_min)
    late = work.kind == LATE
    if work.amended:
        shown: BoolArray = work.in_window(late, work.known_s, window_min)
        first = np.where(shown, falls.onset_s, np.inf).min(axis=1, initial=np.inf)
        findings.add(
            RED,
            np.asarray(shown.any(axis=1), dtype=np.bool_),
            lambda k: f"red: late decelerations, {k:.0f} in the last {window_min:g} min; limit any",
            shown.sum(axis=1).astype(np.float64),
            start_s=np.where(np.isfinite(first), first, np.nan),
            evidence=partial(falls.latest, at_s, shown),
            feature="decelerations",
        )
    else:
        last = partial(falls.latest, at_s, late, work.known_s)
        by_length(work, findings, work.recurring(late, work.known_s), last, "repetitive late decelerations")


def _concerning_variable(work: Pass, findings: Findings, window_min: float) -> None:
    settings, at_s = work.settings, work.basics.at_s
    by_contraction = work.concerning
    known = work.concerning_known_s
    shown = work.in_window(work.concerning, known, window_min)
    if work.settings.repetitive_concerning == "variable":
        by_contraction, known = work.kind == VARIABLE, work.known_s
    pattern = work.recurring(by_contraction, known).only(np.asarray(shown.any(axis=1)))
    last = partial(work.falls.latest, at_s, work.concerning, work.concerning_known_s)
    by_length(work, findings, pattern, last, "repetitive variable decelerations with concerning characteristics")
    # Not repetitive: amber once they have been coming for more than 30 minutes and are still coming.
    index = np.flatnonzero(work.concerning)
    if index.size == 0:
        return
    falls = work.falls
    minutes, since = coming(
        falls.onset_s[index], falls.end_s[index], work.concerning_known_s[index], at_s, window_min * 60.0
    )
    findings.add(
        AMBER,
        settings.long_pattern.met(minutes) & shown.any(axis=1) & ~pattern.met,
        lambda m: (
            f"amber: variable decelerations with concerning characteristics for {m:.0f} min; "
            f"limit {settings.long_pattern.number} min"
        ),
        np.floor(minutes),
        start_s=since,
        evidence=last,
        feature="decelerations",
    )


def _cannot_say(work: Pass, findings: Findings, window_min: float) -> BoolArray:
    """Where decelerations, or the variability, leave open whether a feature is amber or red: never normal."""
    falls = work.falls
    untyped = work.kind == UNTYPED
    unsaid = ~np.isfinite(work.variability)
    findings.add(0, unsaid, lambda: "cannot say: variability not known")
    if work.former:  # NG229 makes it amber
        no_baseline = ~np.isfinite(work.basics.baseline_bpm)
        findings.add(0, no_baseline, lambda: "cannot say: baseline not known")
        unsaid = unsaid | no_baseline
    shown = work.in_window(untyped, work.known_s, window_min)
    if work.amended:
        open_kind: BoolArray = np.asarray(shown.any(axis=1))
    else:
        could_be = untyped | (work.kind == LATE)
        pattern = work.recurring(could_be, work.known_s)
        open_kind = pattern.met & ~work.recurring(work.kind == LATE, work.known_s).met
        open_kind |= work.unplaced(could_be, work.known_s, pattern) > 0
        open_kind &= shown.any(axis=1)
    between = falls.toco_usable & np.isfinite(falls.lag_s)
    findings.add(
        0,
        open_kind,
        lambda blind, timed: "cannot say whether early or late: " + _untyped_words(blind, timed, window_min),
        (shown & ~between).sum(axis=1).astype(np.float64),
        (shown & between).sum(axis=1).astype(np.float64),
    )
    of_concerning = work.recurring(work.concerning, work.concerning_known_s)
    number = work.unplaced(work.concerning, work.concerning_known_s, of_concerning)
    findings.add(
        0,
        number > 0,
        lambda k: (
            f"cannot say whether variable decelerations with concerning characteristics are repetitive: {k:.0f} in "
            f"{work.settings.repetitive_window_min:g} min, contractions too few or not usable"
        ),
        number,
    )
    result: BoolArray = unsaid | open_kind | (number > 0)
    return result


def _untyped_words(blind: float, timed: float, window_min: float) -> str:
    parts = []
    if blind:
        parts.append(f"{plural(blind, 'gradual deceleration')} without a usable contraction")
    if timed:
        parts.append(f"{plural(timed, 'gradual deceleration')} timed between the two")
    return f"{' and '.join(parts)} in the last {window_min:g} min"


def _triggers(
    work: Pass, findings: Findings, levels: IntArray, codes: IntArray, pathological_start_s: FloatArray
) -> dict[str, TriggerSeries]:
    basics, settings = work.basics, work.settings
    deep = settings.deceleration_depth.met(work.seen.lasting_falls.depth_bpm)
    deep &= ~work.seen.lasting_falls.from_tachycardia(settings.baseline_red_high, settings.baseline_amber_low)
    urgent, start, exact = ongoing_falls(work.seen.lasting_falls, basics.at_s, settings.prolonged, deep)
    need = settings.suspicious_persistent
    held, since = persisting(codes >= 1, codes < 0, basics.at_s, need.value, need.symbol == ">=")
    held &= codes == 1
    at_s = basics.at_s
    sudden = deep & settings.prolonged.met(work.seen.lasting_falls.duration_s)
    # a red finding decides where there is one, else the ambers; what cannot be said is as old as its decelerations
    red = findings.worst() == RED
    of_red, of_amber = findings.evidence(RED, at_s), findings.evidence(AMBER, at_s)
    unsaid = (levels == 1) & (findings.worst() < AMBER)
    of_unsaid = work.falls.latest(at_s, (work.kind == UNTYPED) | work.concerning, work.known_s)
    graver = tuple(np.where(red, a, b) for a, b in zip(of_red, of_amber, strict=True))
    milder = tuple(np.where(unsaid & np.isfinite(b), b, a) for a, b in zip(of_amber, of_unsaid, strict=True))
    return {
        "pathological": trigger_series(
            levels == 2, pathological_start_s, basics, cannot_say=codes < 0, evidence=(graver[0], graver[1])
        ),
        "suspicious_persistent": trigger_series(
            held, np.where(held, since, np.nan), basics, cannot_say=codes < 0, evidence=(milder[0], milder[1])
        ),
        "urgent_review": trigger_series(
            urgent, start, basics, exact_s=exact, evidence=work.seen.lasting_falls.latest(at_s, sudden)
        ),
    }


STANDARD = Standard(NAME, LEVELS, evaluate, lengths=("deceleration_duration", "prolonged"))
