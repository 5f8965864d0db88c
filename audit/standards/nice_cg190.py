"""NICE CG190, intrapartum care, as updated in 2017: the text before NG229, for births of its months.

Source: a published summary of the 2017 table. Three features, reassuring (white), non-reassuring (amber) or abnormal
(red); contractions are none of them, a rise of the baseline and one that cannot be determined neither. Where the table
asks sooner 'with risk factors', no risk is assumed: the records hold none. That two non-reassuring features or one
abnormal make a tracing pathological is from memory, as under NG229.
"""

from functools import partial

import numpy as np

from audit.standards.basics import printed
from audit.standards.evaluation import Findings
from audit.standards.nice_ng229_pass import Pass
from audit.standards.nice_ng229_table import AMBER, LATE, RED, VARIABLE
from audit.standards.nice_shared import by_minutes, coming, prolonged, variability
from audit.standards.types import BoolArray, FloatArray


def former_features(work: Pass, findings: Findings, window_min: float) -> None:
    """Add the criteria of baseline, variability and decelerations."""
    settings = work.settings
    _baseline(work, findings)
    variability(work, findings, settings.former_high_amber, settings.former_high_red)
    prolonged(work, findings, window_min)
    _concerning(work, findings, window_min)
    _late(work, findings, window_min)
    minutes, since = _coming(work, (work.kind == VARIABLE) & ~work.concerning, work.known_s, window_min)
    findings.add(
        AMBER,
        settings.former_plain_variable.met(minutes),
        lambda m: f"amber: variable decelerations for {m:.0f} min; limit {settings.former_plain_variable.number} min",
        np.floor(minutes),
        start_s=since,
        evidence=partial(work.falls.latest, work.basics.at_s, work.kind == VARIABLE, work.known_s),
        feature="decelerations",
    )


def _baseline(work: Pass, findings: Findings) -> None:
    settings, basics = work.settings, work.basics
    value = basics.baseline_bpm
    low, high = settings.baseline_red_low, settings.former_red_high
    for level, limit, met in (
        (RED, low, low.met(value)),
        (RED, high, high.met(value)),
        (AMBER, settings.baseline_amber_low, settings.baseline_amber_low.met(value) & ~low.met(value)),
        (AMBER, settings.baseline_red_high, settings.baseline_red_high.met(value) & ~high.met(value)),
    ):
        word = "red" if level == RED else "amber"
        findings.add(
            level,
            met,
            lambda b, word=word, limit=limit: f"{word}: baseline {b:g} bpm; limit {limit.number} bpm",
            printed(value, limit),
            start_s=work.seen.level_start_s(basics, met),
            evidence=partial(work.seen.level_evidence, basics, limit),
            feature="baseline",
        )


def _concerning(work: Pass, findings: Findings, window_min: float) -> None:
    """With over half of the contractions amber, red from 30 minutes on; with fewer amber from 30 minutes on."""
    settings, known_s = work.settings, work.concerning_known_s
    words = "variable decelerations with concerning characteristics"
    last = partial(work.falls.latest, work.basics.at_s, work.concerning, known_s)
    pattern = work.recurring(work.concerning, known_s)
    red = pattern.met & settings.former_long.met(pattern.minutes)
    by_minutes(findings, pattern, red, last, f"repetitive {words}", settings.former_long.number)
    minutes, since = _coming(work, work.concerning, known_s, window_min)
    findings.add(
        AMBER,
        settings.former_long.met(minutes) & ~pattern.met,
        lambda m: f"amber: {words} for {m:.0f} min; limit {settings.former_long.number} min",
        np.floor(minutes),
        start_s=since,
        evidence=last,
        feature="decelerations",
    )


def _late(work: Pass, findings: Findings, window_min: float) -> None:
    """Late for 30 minutes red, before that amber with over half of the contractions."""
    settings, late = work.settings, work.kind == LATE
    last = partial(work.falls.latest, work.basics.at_s, late, work.known_s)
    minutes, since = _coming(work, late, work.known_s, window_min)
    red = settings.former_long.met(minutes)
    findings.add(
        RED,
        red,
        lambda m: f"red: late decelerations for {m:.0f} min; limit {settings.former_long.number} min",
        np.floor(minutes),
        start_s=since,
        evidence=last,
        feature="decelerations",
    )
    pattern = work.recurring(late, work.known_s).only(~red)
    nowhere: BoolArray = np.zeros(red.size, dtype=bool)
    number = settings.former_long.number
    by_minutes(findings, pattern, nowhere, last, "repetitive late decelerations", number)


def _coming(work: Pass, chosen: BoolArray, known_s: FloatArray, window_min: float) -> tuple[FloatArray, FloatArray]:
    """How long the chosen falls have been coming at each mark, min, while the window shows one; and since when, s."""
    at_s, index = work.basics.at_s, np.flatnonzero(chosen)
    if index.size == 0:
        return np.zeros(at_s.size), np.full(at_s.size, np.nan)
    falls = work.falls
    minutes, since = coming(falls.onset_s[index], falls.end_s[index], known_s[index], at_s, window_min * 60.0)
    shown = work.in_window(chosen, known_s, window_min).any(axis=1)
    return np.where(shown, minutes, 0.0), np.where(shown, since, np.nan)
