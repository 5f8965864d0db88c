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

from typing import Annotated

import numpy as np
from msgspec import Meta

from audit.setting_types import (
    AreaLimit,
    BpmLimit,
    CountLimit,
    FractionLimit,
    MinutesLimit,
    PerTenMinutesLimit,
    RateLimit,
    RoundedTo,
    SecondsLimit,
    Unfit,
    WholeMinutes,
)
from audit.standards.basics import acceleration_of, at_minutes, rounded, within
from audit.standards.evaluation import Evaluation, Findings, Standard, Unremarkable, assemble, in_bpm
from audit.standards.seen import Seen
from audit.standards.settings import StandardSettings, check_limits
from audit.standards.types import BoolArray, FloatArray, Threshold
from audit.vocabulary import THREE_TIERS

NAME = "figo-1986"
LEVELS = THREE_TIERS
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
    Threshold("reduced_share", ">= 0.45", "fraction", "of the last 40 minutes under 5 bpm: suspicious", _OURS),
    Threshold("variability_increased", "> 25", "bpm", "suspicious", _TEXT, True),
    Threshold("area_suspicious", ">= 2500", "bpm·s", "per 10 seen minutes: more than mild", _OURS),
    Threshold("area_pathological", ">= 10000", "bpm·s", "per 10 seen minutes: severe", _OURS),
    Threshold("area_outweighed", "< 4000", "bpm·s", "per 10 seen minutes, when there are accelerations", _OURS),
    Threshold("accelerations", ">= 1", "per 10 min", "present", _OURS),
    Threshold("acceleration_height", ">= 15", "bpm", "amplitude of an acceleration", _TEXT, True),
    Threshold("acceleration_duration", ">= 15", "s", "and its length", _TEXT, True),
    Threshold("severe_depth", ">= 55", "bpm", "a severe deceleration", _OURS),
    Threshold("severe_duration", ">= 60", "s", "and this long", _OURS),
    Threshold("severe_suspicious", ">= 1", "count", "severe ones: suspicious", _OURS),
    Threshold("severe_pathological", ">= 4", "count", "severe ones in 30 minutes: pathological", _OURS),
    Threshold("longest_pathological", ">= 300", "s", "one deceleration", _OURS),
    Threshold("longest_lowest", "< 80", "bpm", "with its lowest rate", _OURS),
    Threshold("reduced_inside", "< 5", "bpm", "variability inside a deceleration: suspicious", _OURS),
    Threshold("sinusoidal_duration", ">= 20", "min", "pathological", "as NICHD 2008; our choice"),
)

_ASCENDING = (
    ("baseline_low_pathological", "baseline_low_suspicious"),
    ("baseline_low_suspicious", "baseline_high_suspicious"),
    ("baseline_high_suspicious", "baseline_high_pathological"),
    ("area_suspicious", "area_pathological"),
    ("severe_suspicious", "severe_pathological"),
)


class Figo1986Settings(StandardSettings, frozen=True):
    """The table `[figo-1986]`; limits as `THRESHOLDS` lists them."""

    round_baseline_to_bpm: RoundedTo
    variability_gap_min: WholeMinutes
    baseline_low_suspicious: RateLimit
    baseline_low_pathological: RateLimit
    baseline_high_suspicious: RateLimit
    baseline_high_pathological: RateLimit
    variability_pathological: BpmLimit
    variability_duration: MinutesLimit
    reduced_share: FractionLimit
    reduced_window_min: WholeMinutes
    reduced_known_min: WholeMinutes
    variability_increased: BpmLimit
    area_suspicious: AreaLimit
    area_pathological: AreaLimit
    second_stage_area_factor: Annotated[float, Meta(gt=0, le=1000, extra={"unit": "factor"})]
    area_outweighed: AreaLimit
    accelerations: PerTenMinutesLimit
    acceleration_height: BpmLimit
    acceleration_duration: SecondsLimit
    severe_depth: BpmLimit
    severe_duration: SecondsLimit
    severe_suspicious: CountLimit
    severe_pathological: CountLimit
    longest_pathological: SecondsLimit
    longest_lowest: RateLimit
    reduced_inside: BpmLimit
    sinusoidal_duration: MinutesLimit

    def __post_init__(self) -> None:
        """Refuse limits that contradict each other, or whose operator points the other way. Raises Unfit."""
        check_limits(self, THRESHOLDS, ascending=_ASCENDING)
        if self.reduced_known_min > self.reduced_window_min:
            raise Unfit("reduced_known_min", self.reduced_known_min, f"at most {self.reduced_window_min} min")


def evaluate(seen: Seen, at_s: FloatArray, floor_s: float, settings: Figo1986Settings) -> Evaluation:
    """Class at each mark, of the class window that ends there."""
    basics = seen.basics(at_s, floor_s, settings)
    window_min = settings.class_window_min
    start_s = np.maximum(at_s - window_min * 60.0, floor_s)
    findings = Findings(at_s.size)
    _baseline(seen, findings, settings, start_s, at_s)
    area = _area_per_10_min(seen, start_s, at_s)
    factor = np.where(seen.in_second_stage(start_s, at_s), settings.second_stage_area_factor, 1.0)
    outweighed = _outweighed(seen, settings, area, start_s, at_s)
    _variability(seen, findings, settings, start_s, at_s)
    beyond_mild = _area(findings, settings, area, factor, outweighed)
    _reduced(findings, settings, _reduced_share(seen, settings, at_s), beyond_mild)
    _single_decelerations(seen, findings, settings, outweighed, start_s, at_s)
    levels = findings.worst()
    mild = Unremarkable(
        lambda b, v, _: f"baseline {in_bpm(b)}, variability {in_bpm(v)}, at most mild decelerations",
        np.zeros(at_s.size),
    )
    codes, reasons = assemble(findings, levels, basics, seen, settings, mild)
    return Evaluation(basics, levels, codes, reasons)


def _median_of(series: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Median of the known values of each window [start, end), in samples of the series; NaN where there is none."""
    found = np.full(start.size, np.nan)
    for k, (first, last) in enumerate(zip(start.astype(int).tolist(), end.astype(int).tolist(), strict=True)):
        part = series[first:last]
        part = part[np.isfinite(part)]
        if part.size:
            part.sort()
            found[k] = (part[(part.size - 1) // 2] + part[part.size // 2]) / 2.0
    return found


def _baseline(
    seen: Seen,
    findings: Findings,
    settings: Figo1986Settings,
    start_s: FloatArray,
    at_s: FloatArray,
) -> None:
    value = rounded(_median_of(seen.reading.baseline_1hz, start_s, at_s), settings.round_baseline_to_bpm)
    shown = np.rint(value)
    for side in ("low", "high"):
        severe = settings.limit(f"baseline_{side}_pathological").met(value)
        for level, name, met in (
            (2, f"baseline_{side}_pathological", severe),
            (1, f"baseline_{side}_suspicious", settings.limit(f"baseline_{side}_suspicious").met(value) & ~severe),
        ):
            findings.add(level, met, lambda b, n=name: f"baseline {b:.0f} bpm; limit {settings.number(n)} bpm", shown)


def _variability(
    seen: Seen,
    findings: Findings,
    settings: Figo1986Settings,
    start_s: FloatArray,
    at_s: FloatArray,
) -> None:
    step, gap = settings.round_variability_to_bpm, settings.variability_gap_min
    value = rounded(_median_of(seen.reading.variability_1min, start_s / 60.0, at_s / 60.0), step)
    minute = np.floor(at_s / 60.0 + 1e-9).astype(np.int64)
    minutes = at_minutes(seen.variability_run_min(settings.variability_pathological, step, gap, settle_min=1), minute)
    findings.add(
        2,
        settings.variability_duration.met(minutes),
        lambda v, m: f"variability {v:.0f} bpm for {m:.0f} min; limit {settings.variability_duration.number} min",
        value,
        minutes,
    )
    findings.add(
        1,
        settings.variability_increased.met(value),
        lambda v: f"variability {v:.0f} bpm; limit {settings.variability_increased.number} bpm",
        value,
    )
    for run in seen.reading.sinusoidal:
        so_far = np.maximum(np.minimum(run.end_s, at_s) - np.maximum(run.start_s, start_s), 0.0) / 60.0
        findings.add(
            2,
            settings.sinusoidal_duration.met(so_far),
            lambda m: f"sinusoidal pattern for {m:.0f} min",
            np.floor(so_far),
        )


def _reduced_share(seen: Seen, settings: Figo1986Settings, at_s: FloatArray) -> FloatArray:
    """Share of the last minutes before each mark with reduced variability; NaN where too few of them are known.

    The minutes may lie before the window: a reader sees the strip before it too.
    """
    values = rounded(seen.reading.variability_1min, settings.round_variability_to_bpm)
    width, least = settings.reduced_window_min, settings.reduced_known_min
    share = np.full(at_s.size, np.nan)
    for k, end in enumerate(np.floor(at_s / 60.0 + 1e-9).astype(int).tolist()):
        part = values[max(end - width, 0) : end]
        part = part[np.isfinite(part)]
        if part.size >= max(least, 1):
            share[k] = settings.variability_pathological.met(part).mean()
    return share


def _reduced(findings: Findings, settings: Figo1986Settings, share: FloatArray, beyond_mild: BoolArray) -> None:
    limit, met = settings.reduced_share, settings.reduced_share.met(share)
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
    """Deceleration area of each window per 10 seen minutes, bpm·s; of a cut deceleration the share inside."""
    area = np.zeros(at_s.size)
    for event in seen.reading.decelerations:
        shown = np.minimum(event.end_s, at_s) - np.maximum(event.onset_s, start_s)
        area += event.area_bpm_s * np.clip(shown / max(event.end_s - event.onset_s, 1.0), 0.0, 1.0)
    result: FloatArray = area / (np.maximum(within(seen.summed.seen_s, start_s, at_s), 1.0) / 600.0)
    return result


def _area(
    findings: Findings, settings: Figo1986Settings, area: FloatArray, factor: FloatArray, outweighed: BoolArray
) -> BoolArray:
    """Grade the decelerations by their area; returns where they are more than mild."""
    grave = settings.area_pathological.met(area / factor)
    beyond_mild = settings.area_suspicious.met(area / factor) & ~outweighed
    shown_area = np.rint(area / 100.0) * 100.0
    for level, name, met in ((2, "area_pathological", grave), (1, "area_suspicious", beyond_mild & ~grave)):
        findings.add(
            level,
            met,
            lambda a, f, n=name: (
                f"deceleration area {a:g} bpm·s per 10 seen min; limit {settings.limit(n).value * f:g}"
            ),
            shown_area,
            factor,
        )
    return beyond_mild | grave


def _outweighed(
    seen: Seen, settings: Figo1986Settings, area: FloatArray, start_s: FloatArray, at_s: FloatArray
) -> BoolArray:
    """Where accelerations outweigh the area."""
    minutes = (at_s - start_s) / 60.0
    counts = acceleration_of(settings.acceleration_height, settings.acceleration_duration)
    rises = seen.accelerations_before(at_s, float(minutes.max(initial=0.0)), counts)
    often = settings.accelerations.met(rises * 10.0 / np.maximum(minutes, 1.0))
    result: BoolArray = settings.area_outweighed.met(area) & often
    return result


def _single_decelerations(
    seen: Seen,
    findings: Findings,
    settings: Figo1986Settings,
    outweighed: BoolArray,
    start_s: FloatArray,
    at_s: FloatArray,
) -> None:
    falls = seen.lasting_falls
    so_far = falls.overlapping(start_s, at_s) * falls.so_far_s(at_s)
    deep = settings.severe_depth.met(falls.depth_bpm)
    severe = (settings.severe_duration.met(so_far) & deep).sum(axis=1).astype(np.float64)
    low = settings.longest_lowest.met(falls.lowest_bpm)
    longest = (low * so_far).max(axis=1, initial=0.0)
    flat = (settings.reduced_inside.met(falls.variability_inside_bpm) & (so_far > 0)).sum(axis=1).astype(np.float64)
    many = settings.severe_pathological.met(severe)
    some = settings.severe_suspicious.met(severe) & ~many & ~outweighed
    for level, name, met in ((2, "severe_pathological", many), (1, "severe_suspicious", some)):
        findings.add(level, met, lambda k, n=name: f"{k:.0f} severe decelerations; limit {settings.number(n)}", severe)
    findings.add(1, flat > 0, lambda k: f"{k:.0f} decelerations with reduced variability inside", flat)
    findings.add(
        2,
        settings.longest_pathological.met(longest),
        lambda m: f"one deep deceleration of {m:g} min; limit {settings.longest_pathological.value / 60:g} min",
        np.floor(longest / 6.0) / 10.0,
    )


STANDARD = Standard(NAME, LEVELS, evaluate, final_only=True, lengths=("longest_pathological",))
