"""Where the baseline could be another: two levels between which the rate goes to and fro.

Accelerations that run into each other hold the rate up for most of the time, and look like a baseline with
decelerations whose bottoms all lie at one level. FIGO 2015 and NICE NG229 both warn of it (from memory) and neither
gives a number. What tells them apart here: a baseline is as narrow as its fluctuation, while decelerations reach
different depths and accelerations different heights. Where both levels are narrow both are named.
"""

from collections.abc import Iterator

import numpy as np

from audit.tracing.runs import merge_runs, moving_mean, running_total, true_runs
from audit.tracing.types import BoolArray, Caution, FloatArray

# Of the method, set on drawn tracings with accelerations that run together and with 60 % of the time in decelerations.
# Windows in which two levels are looked for, and how much of one must be seen.
WINDOW_S, STEP_S, SEEN_SHARE = 1200, 300, 0.5
# The other level is this far from the baseline: accelerations are 15 bpm and seldom over 30.
NEAREST_BPM, FARTHEST_BPM = 12.0, 32.0
# The share of the seen time beyond AWAY_BPM that the other level must hold below, and above, the line.
AWAY_BPM, LEAST_BELOW, LEAST_ABOVE = 9.0, 0.25, 0.35
# And the share of that time within so many bpm of it (more where the fluctuation is larger).
NARROW_SHARE, NARROW_BPM, NARROW_NOISE = 0.7, 6.0, 1.3
SMOOTH_HALF_S, BIN_BPM, N_BINS = 2, 2.0, 35
# One or two long decelerations with a flat bottom are no second baseline: the rate must go there so often.
LEAST_VISITS, APART_S = 3, 10


def doubtful_baselines(fhr_1hz: FloatArray, line: FloatArray, noise_bpm: FloatArray) -> tuple[Caution, ...]:
    """Stretches in which the baseline could be the other of two levels, in time order.

    `fhr_1hz`, `line`, `noise_bpm`: shape (n_seconds,), bpm: accepted FHR (NaN = not seen), the baseline as drawn and
    the local size of the fluctuations.
    """
    away = fhr_1hz - line
    seen = ~np.isnan(away)
    smooth, _ = moving_mean(away, seen, SMOOTH_HALF_S)
    smooth[~seen] = np.nan
    found = []
    for start, stop, other in _joined(_windows(smooth, noise_bpm)):
        level = float(np.median(line[start:stop]))
        found.append(_caution(float(start), float(stop), level, level + other))
    return tuple(found)


def _windows(smooth: FloatArray, noise_bpm: FloatArray) -> Iterator[tuple[int, int, float]]:
    """Windows with a second narrow level, and its distance from the line."""
    with np.errstate(invalid="ignore"):
        counts = [running_total(~np.isnan(smooth)), *(running_total(side * smooth > AWAY_BPM) for side in (-1.0, 1.0))]
    for start in range(0, max(smooth.size - WINDOW_S, 0) + 1, STEP_S):
        stop = min(start + WINDOW_S, smooth.size)
        seen, below, above = (int(total[stop] - total[start]) for total in counts)
        if seen < SEEN_SHARE * WINDOW_S or (below < LEAST_BELOW * seen and above < LEAST_ABOVE * seen):
            continue
        piece = smooth[start:stop]
        known = piece[~np.isnan(piece)]
        for side, least in ((-1.0, LEAST_BELOW), (1.0, LEAST_ABOVE)):
            other = _other_level(side * known, least, noise_bpm[start:stop])
            if other is not None:
                yield start, stop, side * other


def _other_level(known: FloatArray, least_share: float, noise_bpm: FloatArray) -> float | None:
    beyond = known > AWAY_BPM
    away = known[beyond]
    if away.size < least_share * known.size or len(merge_runs(true_runs(beyond), APART_S)) < LEAST_VISITS:
        return None
    width_bpm = max(NARROW_BPM, NARROW_NOISE * float(np.median(noise_bpm)))
    counts = np.bincount(((away - AWAY_BPM) / BIN_BPM).astype(np.int64), minlength=N_BINS)[:N_BINS]
    near = np.convolve(counts, np.ones(3), mode="same")
    mode = AWAY_BPM + BIN_BPM * (int(near.argmax()) + 0.5)
    inside: BoolArray = np.abs(known - mode) <= width_bpm
    inside &= known > AWAY_BPM - width_bpm / 2
    narrow = np.count_nonzero(inside) >= NARROW_SHARE * away.size
    level = float(np.median(known[inside])) if narrow else mode
    return level if narrow and NEAREST_BPM <= level <= FARTHEST_BPM else None


def _joined(windows: Iterator[tuple[int, int, float]]) -> list[tuple[int, int, float]]:
    """Windows that touch and name a level on the same side as one stretch, with the mean distance."""
    groups: list[list[tuple[int, int, float]]] = []
    for window in windows:
        last = next((g for g in reversed(groups) if np.sign(g[-1][2]) == np.sign(window[2])), None)
        if last is not None and window[0] <= last[-1][1]:
            last.append(window)
        else:
            groups.append([window])
    return sorted((g[0][0], g[-1][1], float(np.mean([w[2] for w in g]))) for g in groups)


def _caution(start_s: float, end_s: float, level_bpm: float, other_bpm: float) -> Caution:
    if other_bpm < level_bpm:
        why = "its decelerations all end at one level, as a baseline under accelerations that run together would"
        then = "what is listed as decelerations there may be the baseline"
    else:
        why = "its accelerations all reach one level, as a baseline with decelerations would"
        then = "what is listed as accelerations there may be the baseline"
    return Caution(
        kind="baseline_doubtful",
        start_s=start_s,
        end_s=end_s,
        level_bpm=level_bpm,
        other_bpm=other_bpm,
        text=f"The baseline is doubtful: taken as {level_bpm:.0f} bpm, it could be {other_bpm:.0f} bpm ({why});"
        f" {then}.",
        short=f"baseline doubtful: {level_bpm:.0f} or {other_bpm:.0f} bpm",
    )
