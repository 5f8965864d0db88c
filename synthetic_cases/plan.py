"""What is to be drawn for one fetus: a plain description, made before any sample exists."""

from dataclasses import dataclass, field
from typing import Literal

SAMPLE_RATE_HZ = 4.0

Kind = Literal["early", "late", "variable", "prolonged"]


@dataclass(frozen=True)
class Course:
    """A quantity over time, linear between knots and constant outside them."""

    times_s: tuple[float, ...]
    values: tuple[float, ...]

    @staticmethod
    def constant(value: float) -> "Course":
        return Course((0.0,), (value,))


@dataclass(frozen=True)
class ContractionPlan:
    """One contraction as the toco shows it; a pushed one carries `pushes` short combs on top."""

    onset_s: float
    rise_s: float
    fall_s: float
    amplitude: float  # toco units above resting tone
    out: str = "cosine"
    back: str = "cosine"
    hump: float = 0.0  # share of the height of a second, lower wave on the way down
    pushes: int = 0

    @property
    def peak_s(self) -> float:
        return self.onset_s + self.rise_s

    @property
    def end_s(self) -> float:
        return self.onset_s + self.rise_s + self.fall_s


@dataclass(frozen=True)
class DecelerationPlan:
    """One fall of the rate below the baseline."""

    onset_s: float
    descent_s: float
    plateau_s: float
    recovery_s: float
    depth_bpm: float
    kind: Kind
    out: str = "cosine"
    back: str = "cosine"
    notch: float = 0.0
    sway: float = 0.0  # share of the depth by which the plateau wanders
    shoulder_bpm: float = 0.0  # short rise just before and after, as many variable decelerations have
    contraction_peak_s: float | None = None

    @property
    def end_s(self) -> float:
        return self.onset_s + self.descent_s + self.plateau_s + self.recovery_s


@dataclass(frozen=True)
class AccelerationPlan:
    """One rise of the rate above the baseline."""

    onset_s: float
    rise_s: float
    plateau_s: float
    fall_s: float
    height_bpm: float
    out: str = "cosine"
    back: str = "cosine"

    @property
    def end_s(self) -> float:
        return self.onset_s + self.rise_s + self.plateau_s + self.fall_s


@dataclass(frozen=True)
class LevelChangePlan:
    """A fall that stays: 10 minutes or more, to `end_s` (often the end of the tracing)."""

    onset_s: float
    descent_s: float
    end_s: float
    to_bpm: float


@dataclass(frozen=True)
class SinusoidalPlan:
    """A smooth sine-like run."""

    start_s: float
    end_s: float
    cycles_per_min: float
    peak_to_trough_bpm: float


@dataclass(frozen=True)
class ArtefactPlan:
    """What the sensors spoil. Rates are per hour, losses are the expected share of samples."""

    loss_first_stage: float = 0.0
    loss_second_stage: float = 0.0
    longest_gap_s: float = 150.0
    halving_per_hour: float = 0.0
    doubling_per_hour: float = 0.0
    spikes_per_hour: float = 0.0
    maternal_s: tuple[tuple[float, float], ...] = ()  # spans in which the maternal rate is recorded as the fetal one
    gaps_s: tuple[tuple[float, float], ...] = ()  # long gaps, both sensors off
    spared_s: tuple[tuple[float, float], ...] = ()  # spans with a third of the usual loss and no other artefact
    toco_noise: float = 0.6  # standard deviation of the fine ripple, toco units
    toco_waves: float = 0.0  # standard deviation of slow waves that are no contractions, toco units
    toco_drift: float = 3.0  # units
    belt_moves_per_hour: float = 0.0
    toco_gain: float = 1.0  # below 0.15 the contractions drown: a poor toco
    toco_absent_s: tuple[tuple[float, float], ...] = ()
    toco_poor_s: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class CasePlan:
    """Everything needed to draw one fetus's tracing."""

    duration_s: float
    baseline_bpm: Course
    variability_bpm: Course  # width of the middle 90 % of the 1-second values within a minute
    steadiness: Course = Course((0.0,), (0.0,))  # 0: the fluctuation swells and ebbs freely; 1: every minute alike
    contractions: tuple[ContractionPlan, ...] = ()
    decelerations: tuple[DecelerationPlan, ...] = ()
    accelerations: tuple[AccelerationPlan, ...] = ()
    level_changes: tuple[LevelChangePlan, ...] = ()
    sinusoidal: tuple[SinusoidalPlan, ...] = ()
    second_stage_s: float | None = None
    fhr_sensor: str = "ultrasound"
    toco_sensor: str = "external"
    with_mhr: bool = False
    wander_bpm: float = 1.0  # standard deviation of slow wandering, part of the baseline
    resting_tone: float = 15.0  # toco units
    artefacts: ArtefactPlan = field(default_factory=ArtefactPlan)

    @property
    def n_samples(self) -> int:
        return round(self.duration_s * SAMPLE_RATE_HZ)
