"""One reading, prepared once for all standards, and the features that more than one of them asks for."""

from collections.abc import Callable
from copy import copy
from dataclasses import replace
from functools import cached_property
from typing import Any, TypeVar, get_args

import numpy as np

from audit.setting_types import Limit
from audit.standards.basics import (
    BASELINE_WINDOW_S,
    Basics,
    Summed,
    basics_at,
    rounded,
    run_minutes,
    settled,
    share,
    sums_of,
    trailing_median,
)
from audit.standards.falls import GRADUAL_S, Evidence, Falls, falls_of
from audit.standards.patterns import Contractions, contraction_arrays, together
from audit.standards.settings import StandardSettings
from audit.standards.types import BoolArray, FloatArray, TakenAs
from audit.tracing.shallow_falls import shallow_abrupt_falls
from audit.tracing.types import Reading, Sinusoidal

# Settings that a window read as a whole has of its own, and from when editions hold: nothing about a fall by itself
# depends on them.
OF_A_WINDOW = frozenset({"first_category_min", "class_window_min", "editions"})
SHALLOW_UNDER_BPM = (
    10.0  # shallow falls are looked for only where variability is under this; no text calls more reduced
)
ACCELERATIONS_MIN = 30.0  # how far back one tells of a reactive tracing; our choice, the length of NICHD's window
SETTLE_MIN = 5  # minutes whose median stands for the middle one in a run of variability; our choice
Made = TypeVar("Made")


class Seen:
    """A reading with what all standards need of it. Makes nothing twice for the same marks and settings."""

    def __init__(
        self,
        reading: Reading,
        *,
        gestation_weeks: float | None = None,
        second_stage_s: float | None = None,
        gradual_s: float = GRADUAL_S,
    ) -> None:
        self.reading = reading
        self.gestation_weeks = gestation_weeks
        self.second_stage_s = second_stage_s  # from the first sample; None = unknown or none
        self.summed: Summed = sums_of(reading)
        self.falls: Falls = falls_of(reading, gradual_s=gradual_s)
        self.lasting_falls: Falls = self.falls.lasting()
        self.contractions: Contractions = contraction_arrays(reading.contractions)
        self.pairs: BoolArray = together(self.contractions, self.falls)
        self.lasting_pairs: BoolArray = together(self.contractions, self.lasting_falls)
        self._basics: dict[tuple[Any, ...], Basics] = {}
        self._made: dict[tuple[Any, ...], Any] = {}
        self._variability_runs: dict[tuple[Limit, float, int, int], FloatArray] = {}
        self._level_met_s: dict[tuple[Limit, float], FloatArray] = {}  # ends of the seconds that met a limit, ascending
        self._gradual_s = gradual_s
        self._taken_as: tuple[TakenAs, tuple[Limit, ...]] | None = None  # what cannot be told is; None = as judged
        self._otherwise: dict[tuple[Limit, ...], dict[TakenAs, Seen]] = {}

    def basics(self, at_s: FloatArray, floor_s: float, settings: StandardSettings) -> Basics:
        """The shared features at the marks, with the settings that they depend on."""
        key = (
            at_s.size,
            float(at_s[0]) if at_s.size else 0.0,
            float(at_s[-1]) if at_s.size else 0.0,
            floor_s,
            settings.baseline_identified.value,
            settings.variability_minimum_min,
            settings.carry_min,
            settings.contraction_rate_toco_usable,
        )
        if key not in self._basics:
            self._basics[key] = basics_at(
                self.reading,
                at_s,
                floor_s=floor_s,
                summed=self.summed,
                baseline_minimum_s=settings.baseline_identified.value,
                variability_minimum_min=settings.variability_minimum_min,
                carry_min=settings.carry_min,
                toco_usable_fraction=settings.contraction_rate_toco_usable,
            )
        return self._basics[key]

    def once(self, what: str, settings: StandardSettings, make: Callable[[], Made]) -> Made:
        """What `make` gives, made once for all minutes and windows of the reading under the same settings.

        It must not depend on the marks, nor on the settings that a window has of its own (`OF_A_WINDOW`).
        """
        key = (what, *(getattr(settings, name) for name in settings.__struct_fields__ if name not in OF_A_WINDOW))
        if key not in self._made:
            self._made[key] = make()
        found: Made = self._made[key]
        return found

    def seen_share(self, basics: Basics, window_min: float) -> FloatArray:
        """Share of the trailing window with accepted signal at each mark, 0 to 1."""
        start = np.maximum(basics.at_s - window_min * 60.0, basics.floor_s)
        return share(self.summed.seen_s, start, basics.at_s)

    def in_second_stage(self, start_s: FloatArray, end_s: FloatArray) -> BoolArray:
        """Whether at least half of each window lies in the second stage; never where its start is not known."""
        if self.second_stage_s is None:
            return np.zeros(end_s.size, dtype=bool)
        result: BoolArray = (start_s + end_s) / 2.0 >= self.second_stage_s
        return result

    def variability_run_min(
        self, limit: Limit, round_to_bpm: float, gap_min: int, *, settle_min: int = SETTLE_MIN
    ) -> FloatArray:
        """Minutes for which variability has met a limit without a break, after each minute of the tracing.

        Each minute is taken as the median of the `settle_min` around it: FIGO 2015 speaks of the average of one-minute
        segments, NICHD 2008 of a 10-minute window, none of every single minute.
        """
        key = (limit, round_to_bpm, gap_min, settle_min)
        if key not in self._variability_runs:
            values = rounded(settled(self.reading.variability_1min, settle_min), round_to_bpm)
            state = np.where(np.isfinite(values), limit.met(values), -1).astype(np.int64)
            self._variability_runs[key] = run_minutes(state, gap_min=gap_min)
        return self._variability_runs[key]

    def sinusoidal_at(self, basics: Basics, counts: Callable[[Sinusoidal], bool]) -> tuple[FloatArray, FloatArray]:
        """Length so far (min) and start (s) of a sinusoidal run at each mark; 0 and NaN where there is none.

        A run is current until 10 minutes after its end, the length of the window in which a baseline is read.
        """
        minutes, start = np.zeros(basics.at_s.size), np.full(basics.at_s.size, np.nan)
        for run in self.reading.sinusoidal:
            if not counts(run):
                continue
            current = basics.at_s < run.end_s + BASELINE_WINDOW_S
            so_far = (np.minimum(basics.at_s, run.end_s) - run.start_s) / 60.0
            longer = current & (so_far > minutes)
            minutes[longer], start[longer] = so_far[longer], run.start_s
        return minutes, start

    def sinusoidal_evidence(self, basics: Basics, counts: Callable[[Sinusoidal], bool]) -> Evidence:
        """Start and end so far of the sinusoidal run that reached latest by each mark, however long; NaN before any."""
        begun, until = np.full(basics.at_s.size, np.nan), np.full(basics.at_s.size, np.nan)
        for run in self.reading.sinusoidal:
            here = (basics.at_s > run.start_s) & counts(run)
            begun[here], until[here] = run.start_s, np.minimum(basics.at_s, run.end_s)[here]
        return begun, until

    def level_start_s(self, basics: Basics, met: BoolArray) -> FloatArray:
        """When a baseline finding began: the level change behind it, else the start of the first window that shows it.

        NaN where the finding is not met.
        """
        if not met.any():
            return np.full(met.size, np.nan)
        index = np.arange(met.size)
        first = np.minimum(np.maximum.accumulate(np.where(met, -1, index)) + 1, met.size - 1)
        start = np.maximum(basics.at_s[first] - BASELINE_WINDOW_S, 0.0)
        for change in self.reading.level_changes:
            behind = (change.onset_s >= start - 60.0) & (change.onset_s < basics.at_s[first])
            start = np.where(behind, change.onset_s, start)
        return np.where(met, start, np.nan)

    def level_evidence(self, basics: Basics, limit: Limit, round_to_bpm: float = 0.0) -> Evidence:
        """The last second by each mark at which the baseline met the limit; the mark where none of its window did.

        The category looks back over 10 minutes of baseline; what was found ends with the level.
        """
        key = (limit, round_to_bpm)
        if key not in self._level_met_s:
            met = limit.met(rounded(self.reading.baseline_1hz, round_to_bpm))
            self._level_met_s[key] = np.append(-np.inf, np.flatnonzero(met) + 1.0)
        ends = self._level_met_s[key]
        until = ends[np.searchsorted(ends, np.floor(basics.at_s), side="right") - 1]
        until = np.where(until > basics.at_s - BASELINE_WINDOW_S, until, basics.at_s)
        return until, until

    def accelerations_before(
        self, at_s: FloatArray, window_min: float, counts: Callable[[float, float], bool]
    ) -> FloatArray:
        """How many accelerations ended in the window before each time; `counts` takes height (bpm) and length (s).

        Overshoots are none: NICHD 2008 lists them among the features of variable decelerations.
        """
        ends = np.array(
            sorted(
                a.end_s
                for a in self.reading.accelerations
                if not a.overshoot and counts(a.height_bpm, a.end_s - a.onset_s)
            )
        )
        upto = np.searchsorted(ends, at_s, side="right")
        before = np.searchsorted(ends, at_s - window_min * 60.0, side="right")
        return (upto - before).astype(np.float64)

    @cached_property
    def _listed_with_shallow(self) -> Falls | None:
        """Lasting falls with the shallow abrupt ones; None where there are none, or nowhere little variability."""
        around = trailing_median(self.reading.variability_1min, np.arange(self.reading.variability_1min.size), 10, 1)
        if not (around < SHALLOW_UNDER_BPM).any():
            return None
        more = shallow_abrupt_falls(self.reading)
        if not more:
            return None
        listed = sorted((*self.reading.decelerations, *more), key=lambda event: event.onset_s)
        with_more = replace(self.reading, decelerations=tuple(listed))
        return falls_of(with_more, gradual_s=self._gradual_s, known=self.falls).lasting()

    @cached_property
    def falls_with_shallow(self) -> tuple[Falls, BoolArray]:
        """Lasting falls, with the abrupt ones under 15 bpm that a reading does not list, and their contractions."""
        found = self._listed_with_shallow
        if found is None:
            return self.lasting_falls, self.lasting_pairs
        taken = found if self._taken_as is None else found.taken_as(*self._taken_as)
        return taken, together(self.contractions, found)

    def otherwise(self, limits: tuple[Limit, ...] = ()) -> "dict[TakenAs, Seen]":
        """The same with every fall that cannot be told taken as abrupt, or gradual, or longer, or shorter.

        `limits`: of lengths. Empty where all falls are certain, and without a side on which all uncertain ones are
        already.
        """
        if limits not in self._otherwise:
            moved = [how for how in get_args(TakenAs) if self.falls.moved_when(how, limits).any()]
            self._otherwise[limits] = {how: self._taken(how, limits) for how in moved}
        return self._otherwise[limits]

    def _taken(self, how: TakenAs, limits: tuple[Limit, ...]) -> "Seen":
        other = self._across_ten_min(how)
        _ = other._listed_with_shallow  # found once for all
        other = copy(other)
        other.__dict__.pop("falls_with_shallow", None)
        other.falls, other._made, other._otherwise = other.falls.taken_as(how, limits), {}, {}
        other._taken_as = how, limits
        other.lasting_falls = other.falls.lasting()
        return other

    @cached_property
    def at_other_level(self) -> "Seen | None":
        """The same under the other level of a doubtful baseline; None where no baseline is doubtful."""
        if self.reading.at_other_level is None:
            return None
        return self._of(self.reading.at_other_level)

    def _of(self, reading: Reading) -> "Seen":
        """Another reading of the same tracing, prepared alike."""
        return Seen(
            reading,
            gestation_weeks=self.gestation_weeks,
            second_stage_s=self.second_stage_s,
            gradual_s=self._gradual_s,
        )

    def _across_ten_min(self, how: TakenAs) -> "Seen":
        """With falls near 10 minutes as levels of their own, or the other way round, where there are any."""
        others: dict[TakenAs, Reading | None] = {"longer": self.reading.if_longer, "shorter": self.reading.if_shorter}
        instead = others.get(how)
        return self if instead is None else self._of(instead)

    def variability_before(self, times_s: FloatArray, minimum_min: int) -> FloatArray:
        """Median of the last five measured minutes within the 10 before each time, bpm; NaN = too little seen."""
        minute = np.floor(np.nan_to_num(times_s) / 60.0).astype(np.int64)
        return trailing_median(self.reading.variability_1min, minute, 10, minimum_min, latest=5)


def ongoing_falls(
    falls: Falls, at_s: FloatArray, limit: Limit, counted: BoolArray
) -> tuple[BoolArray, FloatArray, tuple[float, ...]]:
    """Falls that have lasted long enough and have not come back by the minute before each mark.

    `falls`: every fall of the reading. `at_s`: shape (n,), s. `limit`: the length in s, with its operator. `counted`:
    shape (n_falls,), which falls are deep enough to count.
    Gives met: shape (n,). A fall that passed the limit between two marks and ended before the second is met there.
    start_s: shape (n,), onset of the earliest such fall, NaN where not met. exact_s: the second at which each fall
    passed the limit.
    """
    long_enough = counted & limit.met(falls.persists_until_s - falls.onset_s)
    met, start = np.zeros(at_s.size, dtype=bool), np.full(at_s.size, np.nan)
    exact: list[float] = []
    for k in np.flatnonzero(long_enough)[np.argsort(falls.onset_s[long_enough], kind="stable")].tolist():
        onset, until = float(falls.onset_s[k]), float(falls.persists_until_s[k])
        here = limit.met(np.minimum(at_s, until) - onset) & (at_s - 60.0 < until)
        start = np.where(here & ~met, onset, start)
        met |= here
        exact.append(onset + limit.value)
    return met, start, tuple(exact)
