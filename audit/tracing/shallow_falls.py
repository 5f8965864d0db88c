"""Abrupt falls of 10 to 15 bpm, which NICHD 2008 does not count and a reading does not list.

NICE NG229 counts variable decelerations that are shallower than 15 bpm where variability is reduced. Such a dip stands
out of the noise only there, so whoever asks for these falls must look at the variability around them too.
"""

import numpy as np

from audit.tracing.runs import fill_runs, moving_mean, run_maxima, true_runs
from audit.tracing.types import Contraction, Deceleration, Reading

# Of the method: smoothing, least depth, the height at which a fall begins and ends, least and greatest length.
HALF_S, DEPTH_BPM, EDGE_BPM, SHORTEST_S, LONGEST_S = 2, 10.0, 3.0, 15, 120
ABRUPT_S = 30.0  # NICHD 2008: under 30 s from onset to nadir
NEAR_BPM = 2.0  # the nadir begins where the rate first comes this near its lowest
SEEN_SHARE = 0.8  # of the seconds of a fall


def shallow_abrupt_falls(reading: Reading) -> tuple[Deceleration, ...]:
    """Falls of at least 10 bpm for 15 s, abrupt, that are not among the reading's decelerations; in order of time.

    `reading`: the reading of the whole tracing. Seconds without signal are no fall.

    Depth is that of a mean of 5 s, so that a single sample makes none. A reading without signal has none.
    """
    away = reading.fhr_1hz - reading.baseline_drawn_1hz
    seen = np.isfinite(away)
    if not seen.any():
        return ()
    smooth, count = moving_mean(away, seen, HALF_S)
    smooth = np.where(count > HALF_S, smooth, 0.0)
    spans = [[int(d.onset_s), int(np.ceil(d.end_s))] for d in reading.decelerations]
    taken = fill_runs(np.array(spans, dtype=np.int64).reshape(-1, 2), away.size)
    runs = true_runs(smooth < -EDGE_BPM)
    length = runs[:, 1] - runs[:, 0]
    found = []
    runs = runs[(length >= SHORTEST_S) & (length < LONGEST_S)]
    deep = run_maxima(-smooth, runs) >= DEPTH_BPM
    for start, stop in runs[deep].tolist():
        part = smooth[start:stop]
        lowest = float(part.min())
        if taken[start:stop].any() or seen[start:stop].mean() < SEEN_SHARE:
            continue
        to_nadir = int(np.flatnonzero(part <= lowest + NEAR_BPM)[0])
        if to_nadir < ABRUPT_S:
            found.append(_event(reading, start, start + to_nadir, stop, lowest))
    return tuple(found)


def _event(reading: Reading, onset: int, nadir: int, end: int, lowest: float) -> Deceleration:
    contraction = _contraction_of(reading.contractions, onset, end)
    line = reading.baseline_drawn_1hz
    part = np.nan_to_num(line[onset:end] - reading.fhr_1hz[onset:end])
    return Deceleration(
        onset_s=float(onset),
        nadir_s=float(nadir),
        end_s=float(end),
        depth_bpm=-lowest,
        area_bpm_s=float(part.sum()),
        kind="variable",
        contraction_peak_s=None if contraction is None else contraction.peak_s,
        onset_to_nadir_s=float(nadir - onset),
        nadir_to_end_s=float(end - nadir),
        lag_s=None if contraction is None else nadir - contraction.peak_s,
        onset_lag_s=None if contraction is None else onset - contraction.onset_s,
        toco_usable=bool(reading.toco_usable_1hz[onset:end].all()),
        seen_fraction=float(np.isfinite(reading.fhr_1hz[onset:end]).mean()),
        lowest_bpm=float(line[nadir]) + lowest,
        baseline_bpm=float(line[onset]),
        variability_inside_bpm=float("nan"),
        shallow=True,
    )


def _contraction_of(contractions: tuple[Contraction, ...], onset: int, end: int) -> Contraction | None:
    """The contraction that overlaps the fall and whose peak is nearest to its middle."""
    near = [c for c in contractions if c.onset_s < end and c.end_s > onset]
    return min(near, key=lambda c: abs(c.peak_s - (onset + end) / 2), default=None)
