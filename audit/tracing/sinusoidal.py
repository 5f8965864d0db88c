"""Runs with a smooth, sine-like baseline."""

import numpy as np

from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import bridge_gaps, merge_runs, running_total, true_runs, zero_unknown
from audit.tracing.types import Acceleration, FloatArray, Sinusoidal

# Of the method, not of a unit: window and taper of the spectrum. Rate, amplitude, share and length are settings.
WINDOW_S, STEP_S = 120, 40
# Windows with too little signal neither start nor end a run, up to so many in a row.
UNSEEN_BRIDGED = 8
# Lines of the spectrum beside the strongest that still belong to it (the taper spreads a sine over them), and the first
# that counts: what is slower is drift.
SIDE_LINES, FIRST_LINE = 4, 3
PADDED_S = 240
# A gap up to so long is drawn across.
BRIDGED_S = 10
# Neighbouring windows of one run differ by at most this.
FREQUENCY_STEP_PER_MIN = 0.75


def find_sinusoidal(
    fhr_1hz: FloatArray, line: FloatArray, accelerations: tuple[Acceleration, ...], settings: TracingSettings
) -> tuple[Sinusoidal, ...]:
    """Runs of at least `sinusoidal_shortest_s` with 3 to 5 smooth cycles a minute, in time order.

    `fhr_1hz`, `line`: shape (n_seconds,), bpm; NaN in `fhr_1hz` = not seen.

    3 to 5 cycles per minute for >= 20 min (NICHD 2008); the standards apply their own least duration. Irregular
    noise spreads its power over many frequencies; a run with accelerations of 15 x 15 is not sinusoidal.
    """
    n_windows = (fhr_1hz.size - WINDOW_S) // STEP_S + 1
    if n_windows < 1:
        return ()
    away = bridge_gaps(fhr_1hz - line, BRIDGED_S)
    views = np.lib.stride_tricks.sliding_window_view(away, WINDOW_S)[::STEP_S]
    seen_s = running_total(~np.isnan(away))
    seen = (seen_s[WINDOW_S::STEP_S] - seen_s[:-WINDOW_S:STEP_S]) / WINDOW_S
    good = seen >= settings.sinusoidal_seen_fraction
    if not good.any():
        return ()
    share, cycles, amplitude = (np.zeros(n_windows) for _ in range(3))
    share[good], cycles[good], amplitude[good] = _spectrum(zero_unknown(views[good]), settings)
    steady = np.ones(n_windows, dtype=bool)
    steady[good] = np.abs(np.diff(cycles[good], prepend=cycles[good][0])) <= FREQUENCY_STEP_PER_MIN
    like = (share >= settings.sinusoidal_power_share) & (amplitude >= settings.sinusoidal_amplitude_bpm) & steady
    unseen = ~good
    height_bpm, duration_s = settings.least_acceleration(None)
    for rise in accelerations:
        if rise.height_bpm >= height_bpm and rise.end_s - rise.onset_s >= duration_s:
            during = slice(max(0, int((rise.onset_s - WINDOW_S) // STEP_S) + 1), int(rise.end_s // STEP_S) + 1)
            like[during] = unseen[during] = False
    for start, stop in true_runs(unseen):
        if start > 0 and stop < n_windows and stop - start <= UNSEEN_BRIDGED and like[start - 1] and like[stop]:
            like[start:stop] = True
    found = []
    for start, stop in merge_runs(true_runs(like), 2):
        low, high = start * STEP_S, min((stop - 1) * STEP_S + WINDOW_S, fhr_1hz.size)
        if high - low >= settings.sinusoidal_shortest_s:
            inside = start + np.flatnonzero(amplitude[start:stop] > 0)
            found.append(
                Sinusoidal(
                    float(low), float(high), float(np.median(cycles[inside])), float(np.median(amplitude[inside]))
                )
            )
    return tuple(found)


def _spectrum(windows: FloatArray, settings: TracingSettings) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Share of the power in the strongest line of the band, its cycles per minute and peak-to-trough amplitude."""
    taper = np.hanning(WINDOW_S + 2)[1:-1]
    centred = windows - windows.mean(axis=1, keepdims=True)
    centred *= taper
    lines = np.fft.rfft(centred, PADDED_S, axis=1)
    power = lines.real**2 + lines.imag**2
    per_min = np.arange(power.shape[1]) * 60.0 / PADDED_S
    band = np.flatnonzero(
        (per_min >= settings.sinusoidal_lowest_per_min) & (per_min <= settings.sinusoidal_highest_per_min)
    )
    best = band[np.argmax(power[:, band], axis=1)]
    row = np.arange(len(power))
    near = np.abs(np.arange(power.shape[1]) - best[:, None]) <= SIDE_LINES
    inside = np.where(near, power, 0.0).sum(axis=1)
    everything = power[:, FIRST_LINE:].sum(axis=1)
    # A faster or slower wave reaches into the band, but is strongest outside it.
    beside = np.maximum(power[row, np.maximum(best - 1, 0)], power[row, np.minimum(best + 1, power.shape[1] - 1)])
    share = np.where(power[row, best] >= beside, inside / np.maximum(everything, 1e-9), 0.0)
    amplitude = 2 * np.sqrt(2 * inside / (PADDED_S / 2) / np.sum(taper**2))
    return share, per_min[best], amplitude
