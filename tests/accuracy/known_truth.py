"""Drawn tracings with known truth, of shapes that the reading does not assume, and the scoring against them.

Nothing here comes from the engine: shapes are half cosines, straight lines, bells, exponentials and powers; the
fluctuation is autoregressive noise, pink noise or a sum of waves; beats are held until the next one; values are
rounded as recorders do. Truth is what was drawn before noise and artefacts were added.
"""

from dataclasses import dataclass, field

import numpy as np

RATE = 4


@dataclass
class Event:
    onset_s: float
    nadir_s: float
    end_s: float
    depth: float
    area: float = 0.0
    kind: str = "variable"
    shape: str = ""
    seen: float = 1.0


@dataclass
class Drawn:
    fhr_bpm: np.ndarray
    toco: np.ndarray
    baseline_1hz: np.ndarray
    variability_bpm: float
    decelerations: list[Event] = field(default_factory=list)
    accelerations: list[Event] = field(default_factory=list)
    contractions: list[Event] = field(default_factory=list)
    second_stage_s: float | None = None


def flank(n_samples: int, shape: str) -> np.ndarray:
    """From 0 to 1 in n_samples steps."""
    x = (np.arange(n_samples) + 0.5) / max(n_samples, 1)
    if shape == "line":
        return x
    if shape == "cosine":
        return (1 - np.cos(np.pi * x)) / 2
    if shape == "bell":
        return np.exp(-(((1 - x) * 2.5) ** 2) / 2)
    if shape == "exponential":  # fast first, slow at last
        return (1 - np.exp(-3 * x)) / (1 - np.exp(-3))
    if shape == "power":
        return x**1.5
    raise ValueError(shape)


def draw_shape(fall_s: float, hold_s: float, rise_s: float, shape_fall: str, shape_rise: str) -> np.ndarray:
    """An event of height 1 at RATE samples a second."""
    down = flank(round(fall_s * RATE), shape_fall)
    up = (
        1 - flank(round(rise_s * RATE), shape_rise)
        if shape_rise == "exponential"
        else flank(round(rise_s * RATE), shape_rise)[::-1]
    )
    return np.concatenate((down, np.ones(round(hold_s * RATE)), up))


def fluctuation(rng: np.random.Generator, n_samples: int, variability_bpm: float, colour: str) -> np.ndarray:
    """Noise whose range within a minute is about `variability_bpm`."""
    n_beats = n_samples // 2 + 2  # one value each half second, as beats come
    if colour == "autoregressive":
        white = rng.standard_normal(n_beats + 200)
        from scipy.signal import lfilter

        noise = lfilter([1.0], [1.0, -0.93], white)[200:]
        fast = rng.standard_normal(n_beats) * 0.25
        noise = noise / noise.std() + fast
    elif colour == "pink":
        power = 1 / np.sqrt(np.maximum(np.fft.rfftfreq(n_beats, 0.5), 0.01))
        power[np.fft.rfftfreq(n_beats, 0.5) < 0.01] = 0
        phase = np.exp(2j * np.pi * rng.random(power.size))
        noise = np.fft.irfft(power * phase, n_beats)
    else:  # waves of 2 to 8 cycles a minute with wandering phase
        t = np.arange(n_beats) / 2
        noise = np.zeros(n_beats)
        for per_min in rng.uniform(2, 8, 6):
            wander = np.cumsum(rng.standard_normal(n_beats)) * 0.05
            noise += rng.uniform(0.5, 1) * np.sin(2 * np.pi * per_min * t / 60 + wander + rng.uniform(0, 6.28))
    noise = (noise - noise.mean()) / noise.std() * variability_bpm / 4
    return np.repeat(noise, 2)[:n_samples]


def draw(
    seed: int,
    *,
    hours: float = 2.0,
    variability_bpm: float | None = None,
    share_with_deceleration: float = 0.5,
    interval_s: tuple[float, float] = (130, 260),
    shift_bpm: float = 0.0,
    drift_bpm: float | None = None,
    accelerations: float = 0.2,
    artefacts: str = "some",
    kinds: tuple[str, ...] = ("early", "late", "variable", "variable", "prolonged"),
    least_depth: float = 18.0,
    shapes: tuple[str, ...] = ("line", "cosine", "bell", "exponential", "power"),
    quantum_bpm: float | None = None,
    toco_noise: float | None = None,
    pushing: bool = False,
) -> Drawn:
    """Draw one tracing. `artefacts`: none, some, many."""
    rng = np.random.default_rng(seed)
    n = int(hours * 3600 * RATE)
    t = np.arange(n) / RATE
    variability = float(rng.uniform(4, 18)) if variability_bpm is None else variability_bpm
    drift = float(rng.uniform(-10, 10)) if drift_bpm is None else drift_bpm
    base = (
        rng.uniform(118, 155)
        + drift * t / t[-1]
        + 2.0 * np.sin(2 * np.pi * t / rng.uniform(2400, 5400) + rng.uniform(0, 6))
    )
    if shift_bpm:
        base[int(n * rng.uniform(0.35, 0.65)) :] += shift_bpm
    drawn = Drawn(np.empty(0), np.empty(0), base.reshape(-1, RATE).mean(axis=1), variability)
    toco = _draw_toco(rng, n, drawn, interval_s, toco_noise, pushing)
    fall = np.zeros(n)
    busy = np.zeros(n, dtype=bool)
    for uc in drawn.contractions:
        if rng.random() < share_with_deceleration:
            _draw_deceleration(rng, uc, str(rng.choice(kinds)), fall, busy, drawn, least_depth, shapes)
    _draw_accelerations(rng, accelerations, fall, busy, drawn)
    colour = str(rng.choice(["autoregressive", "pink", "waves"]))
    fhr = base - fall + fluctuation(rng, n, variability, colour)
    quantum = float(rng.choice([0.25, 1.0])) if quantum_bpm is None else quantum_bpm
    fhr = np.round(fhr / quantum) * quantum
    drawn.fhr_bpm = _artefacts(rng, fhr, artefacts)
    drawn.toco = toco
    return drawn


def _draw_toco(
    rng: np.random.Generator,
    n: int,
    drawn: Drawn,
    interval_s: tuple[float, float],
    noise: float | None,
    pushing: bool,
) -> np.ndarray:
    t = np.arange(n) / RATE
    toco = np.full(n, rng.uniform(2, 60)) + rng.uniform(-8, 8) * np.sin(2 * np.pi * t / rng.uniform(3000, 9000))
    amplitude = rng.uniform(15, 90)
    peak = rng.uniform(40, 160)
    while peak < t[-1] - 80:
        duration = rng.uniform(40, 100)
        share = rng.uniform(0.4, 0.6)
        height = amplitude * rng.uniform(0.7, 1.3)
        shape = str(rng.choice(["cosine", "bell"]))
        pulse = height * draw_shape(duration * share, 0, duration * (1 - share), shape, shape)
        start = round((peak - duration * share) * RATE)
        low, high = max(start, 0), min(start + pulse.size, n)
        if pushing:
            k = np.arange(pulse.size) / RATE
            pulse = pulse * (1 + 0.5 * np.sin(2 * np.pi * k / rng.uniform(9, 14)) ** 2)
        toco[low:high] += pulse[low - start : high - start]
        drawn.contractions.append(Event(peak - duration * share, peak, peak + duration * (1 - share), height))
        peak += max(rng.uniform(*interval_s), duration + 25)
    sd = rng.uniform(0.3, 2.0) if noise is None else noise
    toco += np.repeat(rng.standard_normal(n // RATE + 1), RATE)[:n] * sd
    return np.maximum(np.round(toco * 2) / 2, 0)


def _draw_deceleration(
    rng: np.random.Generator,
    uc: Event,
    kind: str,
    fall: np.ndarray,
    busy: np.ndarray,
    drawn: Drawn,
    least_depth: float,
    shapes: tuple[str, ...],
) -> None:
    shape = str(rng.choice([s for s in shapes if s != "exponential"] or list(shapes)))
    rise_shape = str(rng.choice(shapes))
    if kind == "early":
        onset = uc.onset_s + rng.uniform(-3, 3)
        nadir = uc.nadir_s + rng.uniform(-4, 4)
        if nadir - onset < 36:
            onset = nadir - rng.uniform(36, 48)
        rise, hold, depth = max(uc.end_s - nadir + rng.uniform(-3, 6), 20), 0.0, rng.uniform(least_depth, 35)
        rise_shape = "cosine" if rise_shape == "exponential" else rise_shape
    elif kind == "late":
        nadir = uc.nadir_s + rng.uniform(20, 45)
        onset = nadir - rng.uniform(36, 55)
        rise, hold, depth = rng.uniform(25, 60), 0.0, rng.uniform(least_depth, 45)
    elif kind == "variable":
        onset = uc.nadir_s + rng.uniform(-35, 20)
        nadir = onset + rng.uniform(4, 20)
        hold, rise, depth = rng.uniform(0, 30), rng.uniform(6, 35), rng.uniform(max(least_depth, 20), 75)
    else:
        onset = uc.nadir_s + rng.uniform(-30, 20)
        nadir = onset + rng.uniform(8, 50)
        hold, rise, depth = rng.uniform(90, 280), rng.uniform(20, 80), rng.uniform(max(least_depth, 20), 60)
    pulse = depth * draw_shape(nadir - onset, hold, rise, shape, rise_shape)
    start = round(onset * RATE)
    stop = start + pulse.size
    if start < 30 * RATE or stop > fall.size - 30 * RATE or busy[start - 15 * RATE : stop + 15 * RATE].any():
        return
    length = pulse.size / RATE
    if kind in ("early", "late", "variable") and length >= 118:
        return
    fall[start:stop] += pulse
    busy[start:stop] = True
    drawn.decelerations.append(Event(onset, nadir, stop / RATE, depth, float(pulse.sum() / RATE), kind, shape))


def _draw_accelerations(
    rng: np.random.Generator, share: float, fall: np.ndarray, busy: np.ndarray, drawn: Drawn
) -> None:
    for _ in range(rng.poisson(share * fall.size / RATE / 120)):
        up, hold, down = rng.uniform(5, 20), rng.uniform(0, 20), rng.uniform(8, 25)
        pulse = rng.uniform(16, 28) * draw_shape(up, hold, down, "cosine", "cosine")
        start = int(rng.uniform(30 * RATE, fall.size - pulse.size - 30 * RATE))
        stop = start + pulse.size
        if busy[start - 15 * RATE : stop + 15 * RATE].any():
            continue
        fall[start:stop] -= pulse
        busy[start:stop] = True
        drawn.accelerations.append(Event(start / RATE, start / RATE + up, stop / RATE, float(pulse.max())))


def _artefacts(rng: np.random.Generator, fhr: np.ndarray, level: str) -> np.ndarray:
    fhr = fhr.copy()
    n = fhr.size
    if level == "none":
        return fhr
    strength = {"some": 1.0, "many": 3.0}[level]
    hours = n / RATE / 3600
    for factor in (0.5, 2.0):
        for _ in range(rng.poisson(2 * strength * hours)):
            start = int(rng.uniform(0, n))
            stop = start + int(rng.uniform(3, 40) * RATE)
            fhr[start:stop] *= factor
    spikes = rng.random(n) < 0.001 * strength
    fhr[spikes] += rng.choice([-1, 1], spikes.sum()) * rng.uniform(30, 80, spikes.sum())
    for _ in range(rng.poisson(6 * strength * hours)):
        start = int(rng.uniform(0, n))
        fhr[start : start + int(rng.exponential(8 * strength) * RATE)] = np.nan
    fhr[rng.random(n) < 0.05 * strength] = np.nan
    fhr[(fhr < 20) | (fhr > 255)] = np.nan
    return fhr


def match(truth: list, found: list, least_iou: float) -> list[tuple[int, int]]:
    """One-to-one pairs, best overlap (intersection over union) first."""
    pairs = []
    for i, a in enumerate(truth):
        for j, b in enumerate(found):
            inter = min(a.end_s, b.end_s) - max(a.onset_s, b.onset_s)
            if inter > 0:
                iou = inter / (max(a.end_s, b.end_s) - min(a.onset_s, b.onset_s))
                if iou >= least_iou:
                    pairs.append((iou, i, j))
    taken_i: set[int] = set()
    taken_j: set[int] = set()
    result = []
    for _, i, j in sorted(pairs, reverse=True):
        if i not in taken_i and j not in taken_j:
            taken_i.add(i)
            taken_j.add(j)
            result.append((i, j))
    return result
