"""Do the times of a tracing look like seconds from its first sample, in steady steps? What is said when they do not.

The contract of the input files decides what is right (seconds from the first sample, 0.5 to 10 samples a second); the
shares and lengths from which something is said are our choice.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# What a step in another unit would be in seconds. 'Seconds' themselves are not among them.
_UNITS = (("milliseconds", 0.001), ("minutes", 60.0), ("hours", 3600.0), ("days", 86400.0), ("microseconds", 1e-6))
_UNSTEADY = 0.25  # how far a step may lie from a whole number of steps, in steps; rounded times do
_MOST_UNSTEADY = 0.05  # share of such steps up to which sampling counts as steady
_LEAST_UNSTEADY = 10  # such steps; fewer are single rows that stand apart, and kept out
_MOST_LOST = 0.05  # share of the time without a sample within one step from which it is told
_MOST_DOUBLED = 0.5  # share of rows that share their time with another row from which the whole column is in doubt
STARTS_LATE_S = 60.0  # a first sample later than this is told: clocks count from midnight, pieces from the case's start
_DAY_S = 86400.0
_LONGEST_S = 86400.0  # s: a longer tracing in whole seconds is told, as its times may count samples; our choice
_LEAST_EVENTS = 3  # of a case; fewer may lie anywhere
_NEAR_S = 3600.0
# two clocks that differ: so far apart, within so much of each other, in so many of so many cases; our choice
_LEAST_CASES, _CLOCKS_APART_S, _STEADY_S, _MOST_STEADY = 3, 600.0, 180.0, 0.75


@dataclass(frozen=True)
class Steps:
    """How the rows follow each other. `unsteady`: share of steps that fit no steady sampling; `lost`: of the time."""

    step_s: float
    unsteady: float
    lost: float
    shortest_s: float
    longest_s: float

    @property
    def steady(self) -> bool:
        """Whether one step describes the file."""
        return self.unsteady <= _MOST_UNSTEADY


def steps_of(t_s: FloatArray, step_s: float, longest_s: float) -> Steps:
    """Look at the steps up to `longest_s` of strictly rising times; longer ones are gaps that the file left."""
    steps = np.diff(t_s)
    steps = steps[steps <= max(longest_s, 1.5 * step_s)]
    if not len(steps):
        return Steps(step_s, 0.0, 0.0, step_s, step_s)
    relative = steps / step_s
    away = np.abs(relative - np.maximum(1.0, np.rint(relative)))
    over = steps[relative > 1.5] - step_s
    low, high = np.percentile(steps, [5, 95])
    odd = away > _UNSTEADY
    unsteady = float(np.mean(odd)) if np.count_nonzero(odd) >= _LEAST_UNSTEADY else 0.0
    return Steps(step_s, unsteady, float(over.sum() / steps.sum()), float(low), float(high))


def about_steps(steps: Steps, longest_s: float) -> str | None:
    """What must be said of unsteady steps, or of time that no sample covers; None = nothing."""
    span = f"found steps of {steps.shortest_s:.3g} to {steps.longest_s:.3g} s"
    if not steps.steady:
        return (
            f"{span} (9 in 10 of them), expected one steady step; each sample stands until the next one, for at most"
            f" {longest_s:g} s"
        )
    if steps.lost > _MOST_LOST:
        return (
            f"{span} (9 in 10 of them), expected one steady step, {steps.step_s:.3g} s as most: {steps.lost:.0%} of"
            " the time has no sample and is stored as no signal; export it at one rate, or each rate as a file of its"
            " own"
        )
    return None


def unit_of(step_s: float, rates_hz: tuple[float, float]) -> str:
    """A hint at the unit in which such a step would be an accepted one; '' when there is none."""
    if step_s <= 0:
        return ""
    fitting = [name for name, seconds in _UNITS if rates_hz[0] <= 1 / (step_s * seconds) <= rates_hz[1]]
    return f": this looks like {fitting[0]}" if fitting else ""


def rate_out_of_bounds(t_s: FloatArray, rates_hz: tuple[float, float]) -> str | None:
    """Why times of any order, of which some may be missing, cannot be seconds of an accepted sampling; None = they can.

    Looks at the median step between different times.
    """
    times = t_s[np.isfinite(t_s)]
    steps = np.diff(times)
    if not (steps > 0).all():
        steps = np.diff(np.unique(times))
    if not len(steps):
        return None
    step_s = float(np.median(steps))
    if rates_hz[0] * 0.99 <= 1 / step_s <= rates_hz[1] * 1.01:
        return None
    per_second = f"{1 / step_s:.3g}" if 0.001 <= 1 / step_s < 100_000 else "other than that many"
    fast = "; if they are seconds, export fewer samples a second" if 1 / step_s > rates_hz[1] else ""
    return (
        f"found {per_second} samples a second, expected {rates_hz[0]:g} to {rates_hz[1]:g}"
        f"{unit_of(step_s, rates_hz)}; expected seconds from the case's first sample{fast}"
    )


def mostly_doubled(t_s: FloatArray) -> str | None:
    """What is said of a column in which most times stand several times, rounded or in a longer unit."""
    times, counts = np.unique(t_s[np.isfinite(t_s)], return_counts=True)
    if not len(times) or counts[counts > 1].sum() <= _MOST_DOUBLED * counts.sum() or len(times) < 3:
        return None
    each = float(np.median(counts))
    return (
        f"found most times more than once with different values (each {each:g} times), expected each time once: are the"
        " times rounded, in minutes, or are these several fetuses?"
    )


def about_start(start_s: float) -> str | None:
    """What is said of a case whose first sample does not lie at its beginning; None = nothing."""
    if start_s <= STARTS_LATE_S:
        return None
    clock = f" ({_clock(start_s)} on a clock that counts from midnight)" if start_s < _DAY_S else ""
    return (
        f"found the case's first sample at {start_s:g} s{clock}, expected 0: times count from the case's first sample,"
        " those of care events and birth too"
    )


def about_length(t_s: FloatArray) -> str | None:
    """What is said of a tracing in whole seconds that is longer than any labour is recorded; None = nothing."""
    if not len(t_s) or t_s[-1] - t_s[0] <= _LONGEST_S or np.any(t_s != np.rint(t_s)):
        return None
    return (
        f"found a tracing of {(t_s[-1] - t_s[0]) / 3600:.0f} h in whole seconds, expected at most"
        f" {_LONGEST_S / 3600:.0f} h: are its times sample numbers?"
    )


def about_birth(birth_s: float, span_s: tuple[float, float], before_s: float, after_s: float) -> str | None:
    """What is odd about a birth and a tracing that should end near it; None = nothing.

    `before_s` and `after_s`: how far before and after the tracing's end a birth is usual.
    """
    end_s = span_s[1]

    def near(at_s: float) -> bool:
        return -before_s <= at_s - end_s <= after_s

    if near(birth_s):
        return None
    away = f"{(end_s - birth_s) / 60:.0f} min before" if birth_s < end_s else f"{(birth_s - end_s) / 3600:.1f} h after"
    hint = ""
    if near(birth_s * 60):
        hint = ": is it in minutes?"
    elif near(birth_s / 1000):
        hint = ": is it in milliseconds?"
    elif birth_s > end_s:
        hint = ": does its time count from midnight?"
    return f"found birth at {birth_s:g} s, {away} the tracing's end, expected it near the end{hint}"


def about_events(at_s: Sequence[float], span_s: tuple[float, float]) -> str | None:
    """What is odd about all the times of a case's events together, against its tracing; None = nothing."""
    if len(at_s) < _LEAST_EVENTS:
        return None
    (start_s, end_s), first, last = span_s, min(at_s), max(at_s)
    if not any(start_s - _NEAR_S <= at <= end_s + _NEAR_S for at in at_s):
        hint = "do their times count from midnight?" if first > end_s else "do they belong to another labour?"
        return (
            f"found all {len(at_s)} events more than an hour away from the tracing ({start_s:g} to {end_s:g} s): {hint}"
        )
    if end_s >= 3600 and first >= 0 and last <= end_s / 60 and all(at == round(at) for at in at_s):
        return (
            f"found all {len(at_s)} events in the first {last:g} s of a tracing of {end_s:g} s, expected seconds: are"
            " they in minutes?"
        )
    return None


def about_clocks(birth_after_end_s: Sequence[float]) -> str | None:
    """What is said of births that lie a steady time away from the ends of their tracings; None = nothing."""
    if len(birth_after_end_s) < _LEAST_CASES:
        return None
    away = np.asarray(birth_after_end_s)
    middle = float(np.median(away))
    if abs(middle) < _CLOCKS_APART_S or np.mean(np.abs(away - middle) <= _STEADY_S) < _MOST_STEADY:
        return None
    side = "after" if middle > 0 else "before"
    return (
        f"found births a steady {abs(middle) / 60:.0f} min {side} the ends of their tracings ({len(away)} cases): do"
        f" the clocks of events and tracings differ? Give the difference, here about {-middle:.0f}, as clock_offset_s"
        " of the mapping of the events, where it is kept"
    )


def _clock(at_s: float) -> str:
    minutes = int(at_s // 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
