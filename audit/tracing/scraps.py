"""Scraps: short pieces of signal amid loss, of which nothing can be said.

An event is a change that is seen: NICHD 2008 speaks of a 'visually apparent' decrease and times it from its onset. A
piece of a few seconds between long losses shows neither fall nor return, and may be another rate, half the rate or
noise. No source gives a limit; the settings do.
"""

import numpy as np
from numpy.typing import NDArray

from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import merge_runs, running_total, true_runs
from audit.tracing.types import BoolArray, FloatArray

# Of the method: how far a piece of signal may lie from the longer ones whose level it is held against.
NEAR_S = 300
# Of the method: the seconds beside a loss that a piece across it is held against; a loss of so many pieces at most.
BESIDE_LOSS_S, LONGEST_LOSS = 5, 2
# Of the method: how near the baseline, and how far from it, a flank must be seen in one piece (shares of the height),
# losses that do not break a piece, and how far beyond the edges of an event its flanks are looked for.
FLANK_FOOT, FLANK_TOP, UNBROKEN_S, BESIDE_S = 0.4, 0.6, 3, 8


def scraps_of(fhr_bpm: FloatArray, accepted: BoolArray, rate: float, settings: TracingSettings) -> BoolArray:
    """Samples in short pieces of signal between losses that are longer than the piece, shape (n_samples,).

    `fhr_bpm`: shape (n_samples,), bpm. `accepted`: shape (n_samples,), samples that nothing else speaks against.
    `rate`: Hz.

    A piece at the level of the longer ones near by is kept: it says nothing else than they do. So is a lone piece
    whose losses are short enough to be bridged: the rules of events decide of it. And so is one that goes on across a
    short loss from where the signal was when it was lost, or leads to where it came back: a fall that was seen to begin
    is not over because its signal comes and goes.
    """
    runs = merge_runs(true_runs(accepted), int(settings.island_gap_s * rate))
    result = np.zeros(accepted.size, dtype=bool)
    if len(runs) < 2:
        return result
    length = runs[:, 1] - runs[:, 0]
    gaps = runs[1:, 0] - runs[:-1, 1]
    # What lies before the first sample and after the last one is no signal either.
    before, after = np.concatenate(([accepted.size], gaps)), np.concatenate((gaps, [accepted.size]))
    least = np.maximum(length, settings.scrap_gap_s * rate)
    short = length < settings.scrap_longest_s * rate
    alone = short & (before >= least) & (after >= least)
    firm = np.concatenate(([False], ~short, [False]))
    bridged = np.maximum(before, after) <= settings.bridge_gap_s * rate
    alone &= ~(bridged & firm[:-2] & firm[2:])
    longer = runs[~short]
    for start, stop in runs[alone].tolist():
        near = longer[(longer[:, 1] > start - NEAR_S * rate) & (longer[:, 0] < stop + NEAR_S * rate)]
        levels = [
            np.median(fhr_bpm[low:high][accepted[low:high]])
            for low, high in np.clip(near, start - int(NEAR_S * rate), stop + int(NEAR_S * rate)).tolist()
        ]
        own = np.median(fhr_bpm[start:stop][accepted[start:stop]])
        result[start:stop] = not levels or min(abs(own - level) for level in levels) > settings.flank_agreement_bpm
    for order, step in ((range(1, len(runs)), -1), (range(len(runs) - 2, -1, -1), 1)):
        for k in order:
            (start, stop), (low, high) = runs[k], runs[k + step]
            if result[start]:
                kept = accepted[low:high] & ~result[low:high]
                result[start:stop] = not _goes_on(fhr_bpm, kept, runs[k], runs[k + step], rate, settings)
    return result & accepted


def _goes_on(
    fhr_bpm: FloatArray,
    kept: BoolArray,
    piece: NDArray[np.int64],
    other: NDArray[np.int64],
    rate: float,
    settings: TracingSettings,
) -> bool:
    """Whether a piece lies where the one beside it was lost or came back, across a loss that is short for the piece.

    `kept`: shape (n_samples of the other,), what is left of it.
    """
    (start, stop), (low, high) = piece.tolist(), other.tolist()
    loss, beside = max(start - high, low - stop), int(BESIDE_LOSS_S * rate)
    if not kept.any() or loss > min(settings.bridge_gap_s * rate, LONGEST_LOSS * (stop - start)):
        return False
    near = fhr_bpm[low:high][kept]
    near = near[-beside:] if high <= start else near[:beside]
    own = fhr_bpm[start:stop]
    return bool(abs(np.median(own[~np.isnan(own)]) - np.median(near)) <= settings.flank_agreement_bpm)


def shows_itself(
    away_bpm: FloatArray, onset_s: FloatArray, end_s: FloatArray, height_bpm: FloatArray, seen_fraction: float
) -> NDArray[np.bool_]:
    """Which events were seen: for most of their time, or with the fall or the return in one piece.

    Parameters
    ----------
    away_bpm : array, shape (n_seconds,), distance from the baseline in the direction of the events, NaN = not seen.
    onset_s, end_s, height_bpm : arrays, shape (n_events,).
    seen_fraction : share of its seconds from which an event needs no flank.

    Notes
    -----
    What a line drawn across a loss makes of a piece of signal has an onset and an end that nobody saw.
    """
    seen = ~np.isnan(away_bpm)
    total = running_total(seen)
    first = np.clip(onset_s.astype(np.int64), 0, away_bpm.size)
    last = np.clip(end_s.astype(np.int64), first, away_bpm.size)
    result = (total[last] - total[first]) >= seen_fraction * (last - first)
    for k in np.flatnonzero(~result).tolist():
        low, high = max(int(first[k]) - BESIDE_S, 0), min(int(last[k]) + BESIDE_S, away_bpm.size)
        for start, stop in merge_runs(true_runs(seen[low:high]), UNBROKEN_S) + low:
            piece = away_bpm[start:stop]
            if np.nanmin(piece) < FLANK_FOOT * height_bpm[k] and np.nanmax(piece) > FLANK_TOP * height_bpm[k]:
                result[k] = True
    return np.asarray(result)
