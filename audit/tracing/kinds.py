"""The kind of a deceleration, from its shape first and its timing second (NICHD 2008)."""

from dataclasses import dataclass

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import Contraction, DecelerationKind

# A deceleration goes with a contraction that peaks at most this long before its nadir ...
PEAK_EARLIER_S = 100.0
# ... or this long after it, and that ended at most this long before the deceleration began.
PEAK_LATER_S, ENDED_EARLIER_S = 20.0, 30.0
# A nadir before the peak fits a contraction this much worse than one as long after it.
EARLY_PENALTY = 3.0


@dataclass(frozen=True)
class Timing:
    """How a deceleration lies to the contraction it goes with; None everywhere when there is none."""

    peak_s: float | None = None
    lag_s: float | None = None
    onset_lag_s: float | None = None


def timing_of(
    onset_s: float, nadir_s: float, end_s: float, contractions: tuple[Contraction, ...], settings: TracingSettings
) -> Timing:
    """The contraction that a deceleration goes with, and the lags of onset and nadir behind it, seconds."""
    near = [
        contraction
        for contraction in contractions
        if -PEAK_LATER_S <= nadir_s - contraction.peak_s <= PEAK_EARLIER_S
        and contraction.end_s + ENDED_EARLIER_S >= onset_s
        and contraction.onset_s < end_s
    ]
    if not near:
        return Timing()

    def misfit(contraction: Contraction) -> float:
        lag = nadir_s - contraction.peak_s
        return lag if lag >= 0 else -EARLY_PENALTY * lag

    best = min(near, key=misfit)
    return Timing(best.peak_s, nadir_s - best.peak_s, onset_s - best.onset_s)


def kind_of(
    duration_s: float, onset_to_nadir_s: float, timing: Timing, toco_usable: bool, settings: TracingSettings
) -> DecelerationKind:
    """The NICHD 2008 kind. A gradual one without a usable contraction stays unclassified, never late by default."""
    if duration_s >= settings.prolonged_s:
        return "prolonged"
    if onset_to_nadir_s < settings.gradual_s:
        return "variable"
    if not toco_usable or timing.lag_s is None:
        return "unclassified"
    return "late" if timing.lag_s > settings.timing_tolerance_s else "early"
