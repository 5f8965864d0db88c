"""Building blocks of a plan: contractions by stage, decelerations timed to them, accelerations where there is room."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from synthetic_cases.plan import AccelerationPlan, ContractionPlan, DecelerationPlan
from synthetic_cases.shapes import visible_share

Rng = np.random.Generator

GRADUAL_FAMILIES = ("cosine", "rounded", "sigmoid", "gaussian")
ABRUPT_FAMILIES = ("cosine", "rounded", "sigmoid")
_RISES, _RETURNS = (
    ("cosine", "gaussian", "sigmoid", "rounded"),
    ("cosine", "gaussian", "exponential", "rounded"),
)
RECOVERIES = ("cosine", "rounded", "exponential", "gaussian")
_GRADUAL_S = (36.0, 48.0)  # visible onset to nadir of gradual decelerations: a fifth over the 30 s of NICHD 2008
_MARGIN_S = 14.0  # between two events
_LONGEST_GRADUAL_S = 116.0  # under the 2 minutes of a prolonged one


@dataclass
class Builder:
    """Collects the events of one fetus, and knows where the line is still free."""

    rng: Rng
    decelerations: list[DecelerationPlan] = field(default_factory=list)
    accelerations: list[AccelerationPlan] = field(default_factory=list)
    taken: list[tuple[float, float]] = field(default_factory=list)

    def is_free(self, start_s: float, end_s: float) -> bool:
        """Nothing drawn within the span or its margin."""
        return start_s >= 20 and all(end_s + _MARGIN_S <= a or start_s - _MARGIN_S >= b for a, b in self.taken)

    def add_deceleration(self, event: DecelerationPlan) -> bool:
        """Take the event if there is room for it."""
        if not self.is_free(event.onset_s, event.end_s):
            return False
        self.decelerations.append(event)
        self.taken.append((event.onset_s, event.end_s))
        return True

    def add_acceleration(self, event: AccelerationPlan) -> bool:
        if not self.is_free(event.onset_s, event.end_s):
            return False
        self.accelerations.append(event)
        self.taken.append((event.onset_s, event.end_s))
        return True

    def keep_free(self, start_s: float, end_s: float) -> None:
        self.taken.append((start_s, end_s))


def contraction_train(
    rng: Rng,
    until_s: float,
    per_10_min: Callable[[float], float],
    *,
    amplitude: float = 42.0,
    pushing_from_s: float | None = None,
) -> list[ContractionPlan]:
    """Contractions to the end of the tracing at the asked rate, irregular by about an eighth.

    `per_10_min` gives the rate at a time in seconds. From `pushing_from_s` on they carry pushes.
    """
    found: list[ContractionPlan] = []
    at = float(rng.uniform(20, 200))
    while at < until_s - 30:
        rate = per_10_min(at)
        interval = 600 / rate * float(np.clip(1 + 0.13 * rng.standard_normal(), 0.7, 1.35))
        length = min(float(rng.uniform(56.0, 86.0)), 0.78 * interval)
        share = float(rng.uniform(0.36, 0.54))
        pushes = int(rng.integers(3, 6)) if pushing_from_s is not None and at >= pushing_from_s else 0
        found.append(
            ContractionPlan(
                onset_s=at,
                rise_s=length * share,
                fall_s=length * (1 - share),
                amplitude=float(amplitude * np.exp(np.clip(0.25 * rng.standard_normal(), -0.6, 0.5))),
                out=_RISES[rng.integers(len(_RISES))],
                back=_RETURNS[rng.integers(len(_RETURNS))],
                hump=float(rng.uniform(0.1, 0.3)) if rng.random() < 0.25 else 0.0,
                pushes=pushes,
            )
        )
        at += max(interval, length + 18)
    return found


def variable(
    rng: Rng, onset_s: float, *, depth: tuple[float, float], length: tuple[float, float], peak_s: float | None
) -> DecelerationPlan:
    """An abrupt fall: 6 to 20 s to its nadir, with or without a plateau, a notch and shoulders."""
    total = float(rng.uniform(*length))
    descent = float(min(rng.uniform(6, 20), 0.45 * total))
    recovery = float(min(rng.uniform(7, 24), 0.5 * total))
    plateau = total - descent - recovery
    notch = float(rng.uniform(0.1, 0.35)) if plateau > 18 and rng.random() < 0.3 else 0.0
    return DecelerationPlan(
        onset_s=onset_s,
        descent_s=descent,
        plateau_s=plateau,
        recovery_s=recovery,
        depth_bpm=float(rng.uniform(*depth)),
        kind="variable",
        out=str(rng.choice(ABRUPT_FAMILIES)),
        back=str(rng.choice(RECOVERIES)),
        notch=notch,
        shoulder_bpm=float(rng.uniform(5, 10)) if rng.random() < 0.3 else 0.0,
        contraction_peak_s=peak_s,
    )


def gradual(
    rng: Rng, kind: Literal["early", "late"], contraction: ContractionPlan, depth: tuple[float, float]
) -> DecelerationPlan:
    """A gradual fall timed to a contraction.

    Early: its nadir comes with the contraction's peak, within 5 s. Late: it begins 27 s or more after the contraction
    began, its nadir comes over 25 s after the peak, and it ends after the contraction.
    """
    deep = float(rng.uniform(*depth))
    out, back = str(rng.choice(GRADUAL_FAMILIES)), str(rng.choice(("cosine", "rounded", "gaussian")))
    descent = float(rng.uniform(*_GRADUAL_S)) / visible_share(out, int(deep))
    recovery = float(rng.uniform(32, 46))
    recovery = min(recovery, _LONGEST_GRADUAL_S - descent)
    if kind == "early":
        onset = contraction.peak_s + float(rng.uniform(-4, 4)) - descent
    else:
        onset = max(contraction.onset_s + float(rng.uniform(27, 34)), contraction.peak_s + 26 - descent)
        # It must outlast the contraction.
        recovery = max(recovery, min(contraction.end_s + 12 - onset - descent, _LONGEST_GRADUAL_S - descent))
    return DecelerationPlan(onset, descent, 0.0, recovery, deep, kind, out, back, contraction_peak_s=contraction.peak_s)


def prolonged(
    rng: Rng, onset_s: float, *, minutes: tuple[float, float], to_bpm: float, baseline_bpm: float
) -> DecelerationPlan:
    """A fall that lasts for minutes: down within a minute, held, and back slowly."""
    total = 60 * float(rng.uniform(*minutes))
    descent, recovery = float(rng.uniform(14, 45)), float(rng.uniform(30, 60))
    return DecelerationPlan(
        onset_s,
        descent,
        total - descent - recovery,
        recovery,
        baseline_bpm - to_bpm + float(rng.uniform(-4, 4)),
        "prolonged",
        str(rng.choice(("cosine", "rounded", "exponential"))),
        str(rng.choice(("cosine", "rounded"))),
        sway=float(rng.uniform(0.04, 0.13)),
    )


def within(contractions: Iterable[ContractionPlan], start_s: float, end_s: float) -> list[ContractionPlan]:
    """The contractions that begin in the span."""
    return [c for c in contractions if start_s <= c.onset_s < end_s]


def with_contractions(
    builder: Builder,
    contractions: list[ContractionPlan],
    span_s: tuple[float, float],
    *,
    kind: Literal["early", "late", "variable"],
    share: float,
    depth: tuple[float, float],
    length: tuple[float, float] = (26.0, 52.0),
) -> None:
    """Give a share of the span's contractions a deceleration of one kind, spread evenly over the span."""
    rng = builder.rng
    debt = 0.5
    for contraction in within(contractions, *span_s):
        debt += share
        if debt < 1:
            continue
        debt -= 1
        if kind == "variable":
            onset = contraction.onset_s + float(rng.uniform(-4, 0.9 * contraction.rise_s))
            event = variable(rng, onset, depth=depth, length=length, peak_s=contraction.peak_s)
        else:
            event = gradual(rng, kind, contraction, depth)
        if event.end_s <= span_s[1] + 120:
            builder.add_deceleration(event)


def accelerate(builder: Builder, span_s: tuple[float, float], per_hour: float, height: tuple[float, float]) -> None:
    """Accelerations at random where nothing else is: up within 20 s, 20 to 60 s long."""
    rng = builder.rng
    hours = max(span_s[1] - span_s[0], 0) / 3600
    for _ in range(rng.poisson(per_hour * hours)):
        rise, fall = float(rng.uniform(7, 18)), float(rng.uniform(8, 22))
        event = AccelerationPlan(
            onset_s=float(rng.uniform(span_s[0], max(span_s[1] - 75, span_s[0] + 1))),
            rise_s=rise,
            plateau_s=float(rng.uniform(5, 28)),
            fall_s=fall,
            height_bpm=float(rng.uniform(*height)),
            out=str(rng.choice(ABRUPT_FAMILIES)),
            back=str(rng.choice(("cosine", "rounded", "gaussian"))),
        )
        builder.add_acceleration(event)


def stretched(contractions: list[ContractionPlan], span_s: tuple[float, float], rise_s: float) -> list[ContractionPlan]:
    """The same contractions with a slower rise inside the span, so that early decelerations fit on them."""
    return [replace(c, rise_s=max(c.rise_s, rise_s)) if span_s[0] <= c.onset_s < span_s[1] else c for c in contractions]
