"""What goes into the reading of one tracing and what comes out of it.

Times are seconds from the first sample of the tracing that is read (`Tracing.fhr_bpm[0]` is at 0 s); the job adds
the tracing's own start. Arrays named `*_1hz` hold one value per whole second: index k covers [k, k+1) s. NaN is
'not seen' and never a number. Intervals are half-open.
"""

from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

DecelerationKind = Literal["early", "late", "variable", "prolonged", "unclassified"]
# What a deceleration could be instead: one of 10 min or more is a change of the baseline (NICHD 2008).
OtherKind = Literal["early", "late", "variable", "prolonged", "unclassified", "level_change"]
VariabilityClass = Literal["absent", "minimal", "moderate", "marked"]


class Exclusion(IntEnum):
    """Why a sample was not used. 0 is accepted."""

    ACCEPTED = 0
    NO_SIGNAL = 1
    OUT_OF_RANGE = 2
    SPIKE = 3
    ISLAND = 4
    HALVED = 5
    DOUBLED = 6
    MATERNAL_RATE = 7
    STUCK = 8


@dataclass(frozen=True)
class Tracing:
    """One fetus's tracing on one time axis: what the store gives, the reading reads and the strip draws."""

    fhr_bpm: FloatArray  # (n_samples,), NaN = no signal
    toco: FloatArray  # (n_samples,), arbitrary units, NaN = no signal
    sample_rate_hz: float = 4.0
    mhr_bpm: FloatArray | None = None  # (n_samples,) maternal heart rate; None = no such channel
    start_s: float = 0.0  # of the first sample, on the case's clock
    source_rates_hz: tuple[float | None, ...] = ()  # of its files, lowest first, None = not known; () = sample_rate_hz
    fhr_sensor: str | None = None  # ultrasound, scalp_electrode, both; None = not given
    toco_sensor: str | None = None  # external, intrauterine; None = not given

    @property
    def rates_hz(self) -> tuple[float | None, ...]:
        """The rates its files were sampled at, lowest first; None among them = could not be told."""
        return self.source_rates_hz or (self.sample_rate_hz,)

    @property
    def source_rate_hz(self) -> float | None:
        """The lowest known rate of its files: what limits the reading. None when none is known."""
        return min((rate for rate in self.rates_hz if rate is not None), default=None)


@dataclass(frozen=True)
class Contraction:
    """One contraction found on the toco channel."""

    onset_s: float
    peak_s: float
    end_s: float
    amplitude: float  # toco units above resting tone
    resting_tone: float = float("nan")  # toco units


@dataclass(frozen=True)
class Acceleration:
    """A rise above the baseline. Every departure of >= 10 bpm for >= 10 s is listed; the standards choose."""

    onset_s: float
    peak_s: float
    end_s: float
    height_bpm: float
    overshoot: bool = False  # follows a variable deceleration at once: no reassuring acceleration


@dataclass(frozen=True)
class Deceleration:
    """A fall below the baseline, with the evidence for its kind (kinds as in NICHD 2008)."""

    onset_s: float
    nadir_s: float
    end_s: float
    depth_bpm: float  # baseline at the nadir minus the lowest accepted level
    area_bpm_s: float  # integral of (baseline - FHR) over accepted seconds only
    kind: DecelerationKind
    contraction_peak_s: float | None  # peak of the contraction it goes with, None when none or toco unusable
    onset_to_nadir_s: float  # to the first arrival near the nadir
    nadir_to_end_s: float
    lag_s: float | None  # nadir minus contraction peak
    onset_lag_s: float | None  # onset minus contraction onset
    toco_usable: bool
    seen_fraction: float  # share of the event's seconds with accepted signal, 0 to 1
    lowest_bpm: float
    baseline_bpm: float  # at onset
    variability_inside_bpm: float  # peak-to-trough inside the event after removing its shape; NaN = cannot say
    shallow: bool = False  # below the 15 bpm x 15 s rule: counted by some standards only
    open_end: bool = False  # still going on at the end of the tracing or at a gap
    judged_fall_s: float = float("nan")  # onset to nadir as it counted for the kind: in noise the return is heard too
    kind_certain: bool = True  # False: its fall is so near 30 s, or its length 2 or 10 min, that it could be another
    other_kind: OtherKind | None = None  # the kind on the other side of it; None when the kind is certain
    length_error_s: float = 0.0  # it could be this much longer or shorter
    unseen_duration_s: float = 0.0  # of its seconds without accepted signal: nothing is filled in
    at_least: bool = False  # so much of it was lost that depth and area are 'at least'


@dataclass(frozen=True)
class LevelChange:
    """A departure of >= 10 minutes: a baseline change, not an event. It looked like a deceleration when it began."""

    onset_s: float
    end_s: float
    from_bpm: float
    to_bpm: float
    kind_certain: bool = True  # False: a fall so near 10 min that it could be a deceleration
    other_kind: DecelerationKind | None = None  # what it would be then; None when it is certain


CautionKind = Literal["baseline_doubtful", "maternal_rate_suspected", "monitoring_ended"]


@dataclass(frozen=True)
class Caution:
    """A stretch of which a reader must know something before trusting what was found there."""

    kind: CautionKind
    start_s: float
    end_s: float
    level_bpm: float  # of the baseline there; NaN = none
    other_bpm: float  # the other level that it could be, or that it had before; NaN = none
    text: str  # a sentence without times
    short: str  # a few words, beside a category and on the strip


@dataclass(frozen=True)
class Sinusoidal:
    """A run with a smooth sine-like baseline."""

    start_s: float
    end_s: float
    cycles_per_min: float
    amplitude_bpm: float  # peak-to-trough


@dataclass(frozen=True)
class Epoch:
    """A fixed 10-minute segment."""

    start_s: float
    end_s: float
    baseline_bpm: float | None  # unrounded; None = indeterminate
    baseline_rounded_bpm: int | None
    variability_bpm: float | None
    variability: VariabilityClass | None
    signal_loss_fraction: float
    contractions_per_10_min: float | None  # None = toco not usable
    sinusoidal: bool


@dataclass(frozen=True)
class Reading:
    """Everything the tracing showed."""

    duration_s: float
    sample_rate_hz: float
    exclusion: NDArray[np.uint8]  # (n_samples,) Exclusion codes
    fhr_1hz: FloatArray  # (n_seconds,) accepted FHR, NaN = not seen
    baseline_1hz: FloatArray  # (n_seconds,), NaN = indeterminate
    baseline_drawn_1hz: FloatArray  # (n_seconds,) without the indeterminate holes: a drawing aid only
    variability_1min: FloatArray  # (n_minutes,) bpm peak-to-trough outside events, NaN = too little seen
    in_event_1hz: BoolArray  # (n_seconds,) inside an acceleration or deceleration
    toco_usable_1hz: BoolArray  # (n_seconds,)
    contractions: tuple[Contraction, ...] = ()
    decelerations: tuple[Deceleration, ...] = ()
    accelerations: tuple[Acceleration, ...] = ()
    level_changes: tuple[LevelChange, ...] = ()
    sinusoidal: tuple[Sinusoidal, ...] = ()
    epochs: tuple[Epoch, ...] = ()
    monitored_until_s: float = float("nan")  # when FHR and toco both ended for good; NaN = not asked
    cautions: tuple[Caution, ...] = ()
    notes: tuple[str, ...] = field(default=())  # things a reviewer should know of this reading
    at_other_level: "Reading | None" = None  # the same under the other levels of doubtful baselines; None = no doubt
    if_longer: "Reading | None" = None  # the same with falls near 10 min as levels of their own; None = there is none
    if_shorter: "Reading | None" = None  # the same with changes of level near 10 min as decelerations


_CLOCK_TIMES = ("onset_s", "nadir_s", "peak_s", "end_s", "start_s", "contraction_peak_s")


def on_case_clock(event: object, start_s: float) -> dict[str, Any]:
    """The fields of an event, its times moved to the clock of the case, on which its tracing starts at `start_s`."""
    row = dict(vars(event))
    for name in _CLOCK_TIMES:
        if row.get(name) is not None:
            row[name] += start_s
    return row
