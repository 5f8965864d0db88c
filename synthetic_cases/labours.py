"""A labour in the making: the draft that the archetypes write into, and the unremarkable background around them."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from synthetic_cases.patterns import Builder, accelerate, contraction_train, stretched, with_contractions, within
from synthetic_cases.plan import (
    ArtefactPlan,
    CasePlan,
    ContractionPlan,
    Course,
    LevelChangePlan,
    SinusoidalPlan,
)

Rng = np.random.Generator
MINUTE = 60.0
HOUR = 3600.0


@dataclass
class Concern:
    """A planted pattern: when it begins and ends, and by when a published criterion read literally is met.

    `recognisable_s` maps 'standard/trigger' to seconds; a trigger whose text leaves the moment open is not listed.
    """

    pattern: str
    start_s: float
    end_s: float
    recognisable_s: dict[str, float] = field(default_factory=dict)
    strong: bool = False  # meant to be pathological or category III, or to need an urgent review


@dataclass
class Draft:
    """One fetus's labour while it is being written."""

    rng: Rng
    duration_s: float
    second_stage_s: float | None
    baseline_bpm: float
    variability_bpm: float
    gestation_weeks: int = 39
    rate_per_10_min: Callable[[float], float] = lambda _t: 3.4
    baseline_knots: list[tuple[float, float]] = field(default_factory=list)
    variability_knots: list[tuple[float, float]] = field(default_factory=list)
    steadiness_knots: list[tuple[float, float]] = field(default_factory=list)
    concerns: list[Concern] = field(default_factory=list)
    contractions: list[ContractionPlan] = field(default_factory=list)
    level_changes: list[LevelChangePlan] = field(default_factory=list)
    sinusoidal: list[SinusoidalPlan] = field(default_factory=list)
    calm: list[tuple[float, float]] = field(default_factory=list)  # no accelerations, variability set by the archetype
    fhr_sensor: str = "ultrasound"
    toco_sensor: str = "external"
    with_mhr: bool = False
    oxytocin: bool = False
    loss: tuple[float, float] = (0.06, 0.18)  # expected share lost in first and second stage
    maternal_s: list[tuple[float, float]] = field(default_factory=list)
    toco_gain: float = 1.0
    toco_absent_s: list[tuple[float, float]] = field(default_factory=list)
    toco_poor_s: list[tuple[float, float]] = field(default_factory=list)
    second_stage_variables: float = 0.2  # share of second-stage contractions with a short variable deceleration
    builder: Builder = field(init=False)

    def __post_init__(self) -> None:
        self.builder = Builder(self.rng)

    @property
    def first_stage_end_s(self) -> float:
        return self.second_stage_s if self.second_stage_s is not None else self.duration_s

    def hold_variability(self, start_s: float, end_s: float, bpm: float) -> None:
        """Move the variability to a level over 3 minutes, hold it, and move it back after."""
        ramp = 90.0
        self.variability_knots += [
            (start_s - ramp, self.variability_bpm),
            (start_s + ramp / 2, bpm),
            (end_s - ramp / 2, bpm),
            (end_s + ramp, self.variability_bpm),
        ]
        # A planted level has to be that level in every minute, or the pattern would come and go.
        self.steadiness_knots += [(start_s - ramp, 0.0), (start_s, 0.75), (end_s, 0.75), (end_s + ramp, 0.0)]
        self.calm.append((start_s - ramp, end_s + ramp))

    def contract(self, rate_per_10_min: Callable[[float], float] | None = None) -> None:
        """Draw the contractions; archetypes that need another rate call this with their own."""
        if rate_per_10_min is not None:
            self.rate_per_10_min = rate_per_10_min
        self.contractions = contraction_train(
            self.rng,
            self.duration_s,
            self.rate_per_10_min,
            amplitude=float(self.rng.uniform(32, 55)),
            pushing_from_s=self.second_stage_s,
        )


def ordinary_rate(rng: Rng, duration_s: float) -> Callable[[float], float]:
    """Contractions from about 2.6 to about 4 per 10 minutes as labour goes on; never five."""
    first, last = float(rng.uniform(2.3, 3.0)), float(rng.uniform(3.5, 4.1))
    return lambda t: first + (last - first) * min(max(t / duration_s, 0.0), 1.0)


def background(draft: Draft) -> None:
    """Fill what the archetype left free with an unremarkable course."""
    rng = draft.rng
    _activity(draft)
    if rng.random() < 0.18:
        _early_stretch(draft)
    if draft.second_stage_s is not None and draft.second_stage_variables > 0:
        with_contractions(
            draft.builder,
            draft.contractions,
            (draft.second_stage_s, draft.duration_s - 60),
            kind="variable",
            share=draft.second_stage_variables,
            depth=(20, 42),
            length=(20, 44),
        )
    if rng.random() < 0.3:
        _stray_variables(draft)
    _drift(draft)


def _activity(draft: Draft) -> None:
    """Cycles of active and quiet behaviour: accelerations come with the active ones. Both are moderate variability."""
    rng = draft.rng
    at = 0.0
    active = rng.random() < 0.7
    height = (12.0, 18.0) if draft.gestation_weeks < 32 else (17.0, 32.0)
    while at < draft.duration_s:
        length = 60 * float(rng.uniform(25, 50) if active else rng.uniform(14, 26))
        end = min(at + length, draft.duration_s)
        if not _in_calm(draft, at, end):
            level = draft.variability_bpm * (1.0 if active else 0.74)
            draft.variability_knots += [(at + 100, level), (end - 100, level)]
            accelerate(draft.builder, (at, end), 9.0 if active else 0.8, height)
        at, active = end, not active


def _in_calm(draft: Draft, start_s: float, end_s: float) -> bool:
    return any(start_s < b and end_s > a for a, b in draft.calm)


def _early_stretch(draft: Draft) -> None:
    """Early decelerations late in the first stage, when the head is low."""
    end = draft.first_stage_end_s - 120
    span = (max(end - 60 * float(draft.rng.uniform(18, 35)), 600.0), end)
    if _in_calm(draft, *span) or not within(draft.contractions, *span):
        return
    draft.contractions = stretched(draft.contractions, span, rise_s=46)
    with_contractions(draft.builder, draft.contractions, span, kind="early", share=0.6, depth=(17, 25))


def _stray_variables(draft: Draft) -> None:
    """One or two isolated variable decelerations somewhere in the first stage."""
    for _ in range(int(draft.rng.integers(1, 3))):
        at = float(draft.rng.uniform(600, max(draft.first_stage_end_s - 300, 700)))
        near = within(draft.contractions, at, at + 200)[:1]
        if near and not _in_calm(draft, at, at + 300):
            span = (near[0].onset_s, near[0].onset_s + 1)
            with_contractions(draft.builder, near, span, kind="variable", share=1.0, depth=(20, 40), length=(20, 40))


def _drift(draft: Draft) -> None:
    """The baseline moves by a few bpm over the hours unless the archetype moves it."""
    if draft.baseline_knots:
        return
    hours = max(int(draft.duration_s // HOUR), 1)
    level = draft.baseline_bpm
    for k in range(hours + 1):
        draft.baseline_knots.append((k * HOUR, level))
        level = float(np.clip(level + draft.rng.normal(0, 2.0), draft.baseline_bpm - 5, draft.baseline_bpm + 5))


def artefact_plan(draft: Draft) -> ArtefactPlan:
    """Sensor faults in keeping with the sensors; planted patterns are spared the worst of them."""
    rng = draft.rng
    scalp = draft.fhr_sensor == "scalp_electrode"
    return ArtefactPlan(
        loss_first_stage=draft.loss[0],
        loss_second_stage=draft.loss[1],
        halving_per_hour=0.1 if scalp else 0.5,
        doubling_per_hour=0.05 if scalp else 0.4,
        spikes_per_hour=3.0 if scalp else 1.5,
        maternal_s=tuple(draft.maternal_s),
        spared_s=tuple((c.start_s - 300, c.end_s + 300) for c in draft.concerns),
        toco_noise=float(rng.uniform(0.25, 0.9)),
        toco_waves=float(rng.uniform(0.3, 1.6)),
        toco_drift=float(rng.uniform(1.5, 5.0)),
        belt_moves_per_hour=0.0 if draft.toco_sensor == "intrauterine" else 0.25,
        toco_gain=draft.toco_gain,
        toco_absent_s=tuple(draft.toco_absent_s),
        toco_poor_s=tuple(draft.toco_poor_s),
    )


def finish(draft: Draft) -> CasePlan:
    """The plan of a finished draft."""
    return CasePlan(
        duration_s=draft.duration_s,
        baseline_bpm=_course(draft.baseline_knots, draft.baseline_bpm),
        variability_bpm=_course(draft.variability_knots, draft.variability_bpm),
        steadiness=_course(draft.steadiness_knots, 0.0),
        contractions=tuple(draft.contractions),
        decelerations=tuple(sorted(draft.builder.decelerations, key=lambda d: d.onset_s)),
        accelerations=tuple(sorted(draft.builder.accelerations, key=lambda a: a.onset_s)),
        level_changes=tuple(draft.level_changes),
        sinusoidal=tuple(draft.sinusoidal),
        second_stage_s=draft.second_stage_s,
        fhr_sensor=draft.fhr_sensor,
        toco_sensor=draft.toco_sensor,
        with_mhr=draft.with_mhr,
        wander_bpm=1.4,
        resting_tone=float(draft.rng.uniform(9, 22)),
        artefacts=artefact_plan(draft),
    )


def _course(knots: list[tuple[float, float]], otherwise: float) -> Course:
    if not knots:
        return Course.constant(otherwise)
    ordered = sorted(knots)
    return Course(tuple(t for t, _ in ordered), tuple(v for _, v in ordered))
