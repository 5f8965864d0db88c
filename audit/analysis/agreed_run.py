"""The computed clock run again without the events that a meeting struck out, and with those that it added.

Nothing is stored: the findings in the database stay as they were read.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from audit.analysis.clock import CaseClock, case_clock
from audit.response.agreed import Mark
from audit.settings import AnalysisSettings
from audit.standards.registry import STANDARDS
from audit.standards.seen import Seen
from audit.tracing.read import TracingSettings, read_tracing
from audit.tracing.types import Contraction, Deceleration, Reading, Tracing

NEAR_S = 2.0  # an event is the marked one when both its ends lie this near; stored times are whole quarter seconds
STRUCK_OUT, ADDED = "struck_out", "added"


@dataclass(frozen=True)
class AddedFall:
    """What the signal shows where a fall was added; times in s on the case's clock."""

    start_s: float
    end_s: float
    depth_bpm: float | None  # None: no rate or no baseline was seen there, so nothing was added
    length_s: float


@dataclass(frozen=True)
class ClockAgain:
    """The clock after what the meeting marked, and each fall that it added as it was measured."""

    clock: CaseClock
    added_falls: tuple[AddedFall, ...]


def clock_with_marks(
    tracing: Tracing,
    marks: Sequence[Mark],
    *,
    facts: Mapping[str, Any],
    events: Sequence[Mapping[str, Any]],
    settings: AnalysisSettings,
) -> ClockAgain:
    """Read the tracing, change its events as the meeting did, and run categories and clock again.

    `tracing`: one fetus's. `marks`: times in s on the case's clock. `facts`: `period`, `gestation_weeks`, `birth_s`,
    `second_stage_s`, `mode_of_birth`. `events`: `at_s`, `event`, `urgency`.
    Gives clock, on the case's clock, without readers' clocks; added_falls, in the order of `marks`.

    A stretch of the mother's rate is taken out before the reading, so baseline, variability and events are those of
    what is left. Struck-out and added events change the events alone: baseline, variability and the kinds of the others
    stay as they were read.
    """
    as_read = read_tracing(_without_maternal(tracing, marks), settings.tracing)
    reading = with_marks(as_read, marks, tracing.start_s, settings.tracing)
    second_stage_s = facts.get("second_stage_s")
    seen = Seen(
        reading,
        gestation_weeks=facts.get("gestation_weeks"),
        second_stage_s=None if second_stage_s is None else second_stage_s - tracing.start_s,
        gradual_s=settings.tracing.gradual_s,
    )
    tables = settings.of_standards_for(facts.get("period"))
    clock = case_clock(
        {name: standard.minute_categories(reading, tables[name], seen=seen) for name, standard in STANDARDS.items()},
        start_s=tracing.start_s,
        end_s=tracing.start_s + reading.duration_s,
        facts=facts,
        events=events,
        reads=(),
        settings=settings.response,
    )
    added = [mark for mark in marks if mark.deed == ADDED and mark.kind == "deceleration"]
    return ClockAgain(clock, tuple(_as_measured(as_read, mark, tracing.start_s, settings.tracing) for mark in added))


def with_marks(reading: Reading, marks: Sequence[Mark], start_s: float, settings: TracingSettings) -> Reading:
    """The reading with its decelerations and contractions as the meeting left them; the reading is not modified."""
    decelerations = [each for each in reading.decelerations if not _struck(each, "deceleration", marks, start_s)]
    contractions = [each for each in reading.contractions if not _struck(each, "contraction", marks, start_s)]
    for mark in marks:
        if mark.deed == ADDED and mark.kind == "deceleration":
            decelerations += _added_deceleration(reading, mark, start_s, settings)
        elif mark.deed == ADDED and mark.kind == "contraction":
            onset_s, end_s = mark.start_s - start_s, mark.end_s - start_s
            amplitude = float(np.median([each.amplitude for each in reading.contractions] or [1.0]))
            contractions.append(Contraction(onset_s, (onset_s + end_s) / 2, end_s, amplitude))
    return replace(
        reading,
        decelerations=tuple(sorted(decelerations, key=lambda each: each.onset_s)),
        contractions=tuple(sorted(contractions, key=lambda each: each.onset_s)),
    )


def _struck(event: Deceleration | Contraction, kind: str, marks: Sequence[Mark], start_s: float) -> bool:
    return any(
        mark.deed == STRUCK_OUT
        and mark.kind == kind
        and abs(event.onset_s + start_s - mark.start_s) <= NEAR_S
        and abs(event.end_s + start_s - mark.end_s) <= NEAR_S
        for mark in marks
    )


def _added_deceleration(reading: Reading, mark: Mark, start_s: float, settings: TracingSettings) -> list[Deceleration]:
    """The fall that was added, measured on what was seen; nothing where no signal or no baseline was."""
    first, last = (round(at - start_s) for at in (mark.start_s, mark.end_s))
    rate, baseline = reading.fhr_1hz[max(first, 0) : last], reading.baseline_1hz[max(first, 0) : last]
    seen = np.isfinite(rate) & np.isfinite(baseline)
    if not seen.any():
        return []
    fall = np.where(seen, baseline - rate, -np.inf)
    nadir = int(np.argmax(fall))
    onset_s, nadir_s, end_s = float(first), float(max(first, 0) + nadir), float(last)
    # long, and with a toco that tells, by the same limits as a fall that the reading found
    usable = reading.toco_usable_1hz[max(first - int(settings.event_toco_before_s), 0) : last]
    kind: Any = mark.deceleration or ("prolonged" if end_s - onset_s >= settings.prolonged_s else "unclassified")
    return [
        Deceleration(
            onset_s=onset_s, nadir_s=nadir_s, end_s=end_s, depth_bpm=float(fall[nadir]),
            area_bpm_s=float(np.clip(fall[seen], 0, None).sum()), kind=kind, contraction_peak_s=None,
            onset_to_nadir_s=nadir_s - onset_s, nadir_to_end_s=end_s - nadir_s, lag_s=None, onset_lag_s=None,
            toco_usable=bool(usable.mean() >= settings.event_toco_fraction), seen_fraction=float(seen.mean()),
            lowest_bpm=float(rate[nadir]), baseline_bpm=float(baseline[seen][0]),
            variability_inside_bpm=float("nan"), judged_fall_s=nadir_s - onset_s,
        )
    ]  # fmt: skip


def _as_measured(reading: Reading, mark: Mark, start_s: float, settings: TracingSettings) -> AddedFall:
    found = _added_deceleration(reading, mark, start_s, settings)
    if not found:
        return AddedFall(mark.start_s, mark.end_s, None, mark.end_s - mark.start_s)
    return AddedFall(mark.start_s, mark.end_s, found[0].depth_bpm, found[0].end_s - found[0].onset_s)


def _without_maternal(tracing: Tracing, marks: Sequence[Mark]) -> Tracing:
    fhr = tracing.fhr_bpm.copy()
    for mark in marks:
        if mark.deed == ADDED and mark.kind == "maternal_rate":
            first, last = ((at - tracing.start_s) * tracing.sample_rate_hz for at in (mark.start_s, mark.end_s))
            fhr[max(0, round(first)) : max(0, round(last))] = np.nan
    return replace(tracing, fhr_bpm=fhr)
