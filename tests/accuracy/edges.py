"""Falls with straight, sawtooth, asymmetric and rounded edges and their truth, in fluctuation of a known size.

Nothing here comes from the reading. A fall is drawn to a contraction: abrupt ones reach their nadir within 24 s,
gradual ones after 38 s or more and 22 s or more behind the contraction's peak, and all are over within 112 s, so that
by NICHD 2008 (30 s, 2 min) every kind is beyond doubt; what a reading cannot tell near 30 s is asked apart.
"""

from collections.abc import Callable

import numpy as np

from tests.accuracy.known_truth import RATE, Drawn, Event, draw_shape, fluctuation

Rng = np.random.Generator
Edge = Callable[[Rng, bool], tuple[float, float, float, str, str]]

HOURS = 1.5
LONGEST_S = 112.0


def _fall_s(rng: Rng, gradual: bool) -> float:
    return float(rng.uniform(38, 55) if gradual else rng.uniform(8, 24))


def straight(rng: Rng, gradual: bool) -> tuple[float, float, float, str, str]:
    """Fall, hold and return in seconds, and the shapes of fall and return."""
    fall_s = _fall_s(rng, gradual)
    return fall_s, float(rng.uniform(0, 12)), fall_s * float(rng.uniform(0.8, 1.2)), "line", "line"


def sawtooth(rng: Rng, gradual: bool) -> tuple[float, float, float, str, str]:
    """A sudden fall that returns slowly, or a slow fall that returns at once."""
    sudden_s, slow_s = float(rng.uniform(2, 6)), float(rng.uniform(38, 60))
    return (slow_s, 0.0, sudden_s, "line", "line") if gradual else (sudden_s, 0.0, slow_s, "line", "line")


def asymmetric(rng: Rng, gradual: bool) -> tuple[float, float, float, str, str]:
    """Flanks of different lengths and shapes."""
    fall_s = _fall_s(rng, gradual)
    shapes = str(rng.choice(["line", "cosine", "power"])), str(rng.choice(["line", "cosine", "power"]))
    return fall_s, float(rng.uniform(0, 20)), fall_s * float(rng.choice([0.45, 2.0])), *shapes


def rounded(rng: Rng, gradual: bool) -> tuple[float, float, float, str, str]:
    """Half cosines."""
    fall_s = _fall_s(rng, gradual)
    return fall_s, float(rng.uniform(0, 12)), fall_s * float(rng.uniform(0.8, 1.2)), "cosine", "cosine"


EDGES: dict[str, Edge] = {"straight": straight, "sawtooth": sawtooth, "asymmetric": asymmetric, "rounded": rounded}


def draw_falls(
    seed: int,
    edge: Edge,
    variability_bpm: float,
    *,
    depth_bpm: tuple[float, float] = (20, 55),
    gradual_share: float = 0.5,
    colour: str | None = None,
) -> Drawn:
    """A tracing of 1.5 h at about 140 bpm, a contraction every 3 to 4 min and a fall with each.

    Parameters
    ----------
    edge : one of EDGES, or any function that gives fall, hold and return in seconds and two shapes.
    variability_bpm : range of the fluctuation within a minute; 0 = none.
    colour : of the fluctuation; None = one of three at random.
    """
    rng = np.random.default_rng([seed, 11])
    n = int(HOURS * 3600 * RATE)
    t = np.arange(n) / RATE
    base = 138 + 3 * np.sin(2 * np.pi * t / 4000 + seed)
    fhr, toco = base.copy(), np.full(n, 10.0)
    drawn = Drawn(np.empty(0), np.empty(0), base.reshape(-1, RATE).mean(axis=1), variability_bpm)
    peak_s = 150.0
    while peak_s < HOURS * 3600 - 200:
        half_s = float(rng.uniform(32, 45))
        toco += 25 * (1 + np.cos(np.pi * np.clip((t - peak_s) / half_s, -1, 1)))
        drawn.contractions.append(Event(peak_s - half_s, peak_s, peak_s + half_s, 50.0))
        gradual = bool(rng.random() < gradual_share)
        fall_s, hold_s, back_s, fall_shape, back_shape = edge(rng, gradual)
        hold_s = min(hold_s, max(LONGEST_S - fall_s - back_s, 0.0))
        back_s = min(back_s, LONGEST_S - fall_s)
        depth = float(rng.uniform(*depth_bpm))
        nadir_s = peak_s + float(rng.uniform(22, 40) if gradual else rng.uniform(-20, 20))
        onset = round((nadir_s - fall_s) * RATE)
        pulse = depth * draw_shape(fall_s, hold_s, back_s, fall_shape, back_shape)
        fhr[onset : onset + pulse.size] -= pulse
        drawn.decelerations.append(
            Event(
                onset / RATE,
                nadir_s,
                (onset + pulse.size) / RATE,
                depth,
                float(pulse.sum() / RATE),
                "late" if gradual else "variable",
                edge.__name__,
            )
        )
        peak_s += float(rng.uniform(185, 250))
    if variability_bpm > 0:
        hue = colour or str(rng.choice(["autoregressive", "pink", "waves"]))
        fhr += fluctuation(rng, n, variability_bpm, hue)
    drawn.fhr_bpm, drawn.toco = np.round(fhr * 4) / 4, np.round((toco + rng.normal(0, 0.5, n)) * 2) / 2
    return drawn
