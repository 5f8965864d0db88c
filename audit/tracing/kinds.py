"""The kind of a deceleration, from its shape first and its timing second (NICHD 2008)."""

from dataclasses import dataclass

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import Contraction, DecelerationKind

# A deceleration goes with a contraction that peaks at most this long before its nadir ...
PEAK_EARLIER_S = 100.0
# ... or this long after it, and that ended at most this long before the deceleration began.
PEAK_LATER_S, ENDED_EARLIER_S = 30.0, 30.0
# A nadir before the peak fits a contraction this much worse than one as long after it.
EARLY_PENALTY = 3.0


# Noise relative to the depth from which, and up to which, return and steepness join in; their exponents at the most,
# and the values at which they are neutral (measured on drawn events of two independent generators; our choice).
QUIET_TO, NOISY_FROM = 0.05, 0.11
RETURN_EXPONENT, DEPTH_EXPONENT = 0.55, 0.45
NEUTRAL_RETURN_S, NEUTRAL_DEPTH_BPM = 30.0, 28.0
# The most by which they move the judged time, and the least and greatest return that counts.
MOST_FACTOR, SHORTEST_RETURN_S, LONGEST_RETURN_S = 1.7, 8.0, 60.0


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


def judged_fall(fall_s: float, return_s: float, depth_bpm: float, noise_bpm: float) -> float:
    """The time from onset to nadir by which a fall counts as abrupt or gradual, seconds.

    Without noise it is the measured time. In noise the measured time errs by ten seconds and more, and the rest of the
    shape is heard too: early and late decelerations fall and return gradually, 'usually symmetrical' (NICHD 2008), and
    a steep fall looks abrupt.
    """
    share = min(max((noise_bpm / depth_bpm - QUIET_TO) / (NOISY_FROM - QUIET_TO), 0.0), 1.0)
    back = min(max(return_s, SHORTEST_RETURN_S), LONGEST_RETURN_S)
    factor = float((back / NEUTRAL_RETURN_S) ** (RETURN_EXPONENT * share))
    factor *= float((NEUTRAL_DEPTH_BPM / depth_bpm) ** (DEPTH_EXPONENT * share))
    return fall_s * min(max(factor, 1 / MOST_FACTOR), MOST_FACTOR)


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
