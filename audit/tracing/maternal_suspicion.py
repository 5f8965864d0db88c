"""Stretches in which the rate could be the mother's, where no maternal channel can tell.

After a death in labour, or with the transducer over a maternal vessel, the recorder counts the mother and the tracing
looks reassuring. FIGO 2015 and NICE NG229 (both from memory) name what points to it: a sudden change of level, a rate
in the maternal range, and accelerations that coincide with contractions, where a fetus would show decelerations.
Neither gives a number; ours stand below. A caution only: nothing is left out, and whoever was there decides.
"""

import numpy as np

from audit.tracing.runs import moving_mean, true_runs
from audit.tracing.types import Caution, Contraction, Deceleration, FloatArray, LevelChange

# Of the method. The usual maternal rate in labour, bpm.
LOWEST_BPM, HIGHEST_BPM = 50.0, 120.0
# A step: between two means so many seconds long, so many seconds apart in what was seen, most of the change is made.
MEAN_S, WITHIN_S, STEP_SHARE = 20, 15, 0.7
LOOK_S = 90  # of what was seen before and after the change
# Variability from which a low rate is not that of a fetus in a final bradycardia.
VARIABILITY_BPM = 5.0
# Rises with contractions: so much higher within than between them, in this share of them and in so many at least.
RISE_BPM, RISE_SHARE, LEAST_CONTRACTIONS = 4.0, 0.6, 3
SHORTEST_S = 600.0
# A loss through which a baseline is drawn straight, how much beside it is compared, and the least fall across it.
LONG_LOSS_S, BESIDE_S, LEAST_FALL_BPM = 600, 300, 15.0


def maternal_suspicions(
    fhr_1hz: FloatArray,
    variability_1min: FloatArray,
    level_changes: tuple[LevelChange, ...],
    contractions: tuple[Contraction, ...],
    decelerations: tuple[Deceleration, ...],
) -> tuple[Caution, ...]:
    """Levels that began with a step down into the maternal range and look like a maternal rate, in time order.

    `fhr_1hz`: shape (n_seconds,), accepted FHR, bpm; NaN = not seen. `variability_1min`: shape (n_minutes,), bpm; NaN =
    too little seen.

    With three contractions or more these decide, by the rate rising with them; with fewer, variability does.
    """
    found = []
    for change in (*level_changes, *_across_losses(fhr_1hz, level_changes)):
        if change.to_bpm >= change.from_bpm or not LOWEST_BPM <= change.to_bpm <= HIGHEST_BPM:
            continue
        onset, end = int(change.onset_s), min(int(change.end_s), fhr_1hz.size)
        if end - onset < SHORTEST_S or not _is_step(fhr_1hz, change):
            continue
        minutes = variability_1min[onset // 60 + 1 : end // 60]
        known = minutes[~np.isnan(minutes)]
        variability = float(np.median(known)) if known.size else float("nan")
        with_rise, of = _rises(fhr_1hz, [c for c in contractions if c.onset_s >= onset + MEAN_S and c.end_s <= end])
        falls = sum(d.onset_s >= onset and d.end_s <= end and d.contraction_peak_s is not None for d in decelerations)
        rises = of >= LEAST_CONTRACTIONS and with_rise >= RISE_SHARE * of
        lively = of < LEAST_CONTRACTIONS and variability >= VARIABILITY_BPM
        if (rises or lively) and 2 * falls < max(of, 2):
            found.append(_caution(change, float(end), variability, with_rise if rises else 0, of))
    return tuple(sorted(found, key=lambda caution: caution.start_s))


def _across_losses(fhr_1hz: FloatArray, level_changes: tuple[LevelChange, ...]) -> list[LevelChange]:
    """Falls of the level across losses so long that the baseline was drawn straight through them."""
    seen = ~np.isnan(fhr_1hz)
    gaps = true_runs(~seen)
    gaps = gaps[gaps[:, 1] - gaps[:, 0] >= LONG_LOSS_S]
    found = []
    for start, stop in gaps.tolist():
        listed = any(start - 60 <= change.onset_s <= stop + 60 for change in level_changes)
        before, after = fhr_1hz[max(start - BESIDE_S, 0) : start], fhr_1hz[stop : stop + BESIDE_S]
        if listed or any(part.size == 0 or np.isnan(part).mean() > 0.5 for part in (before, after)):
            continue
        level, to = float(np.nanmedian(before)), float(np.nanmedian(after))
        if level - to >= LEAST_FALL_BPM:
            end = min((c.onset_s for c in level_changes if c.onset_s > stop), default=float(fhr_1hz.size))
            found.append(LevelChange(float(stop), end, level, to))
    return found


def _is_step(fhr_1hz: FloatArray, change: LevelChange) -> bool:
    """Whether the level changed within seconds, or across a loss of signal."""
    index = np.flatnonzero(~np.isnan(fhr_1hz))
    at = int(np.searchsorted(index, int(change.onset_s)))
    seen = fhr_1hz[index[max(at - LOOK_S, 0) : at + LOOK_S]]
    if seen.size < 2 * MEAN_S + WITHIN_S:
        return False
    totals = np.concatenate(([0.0], np.cumsum(seen)))
    means = (totals[MEAN_S:] - totals[:-MEAN_S]) / MEAN_S
    drop = means[: -MEAN_S - WITHIN_S] - means[MEAN_S + WITHIN_S :]
    return bool(drop.max() >= STEP_SHARE * (change.from_bpm - change.to_bpm))


def _rises(fhr_1hz: FloatArray, contractions: list[Contraction]) -> tuple[int, int]:
    """With how many contractions the rate rises, and of how many that can be told."""
    smooth, count = moving_mean(fhr_1hz, ~np.isnan(fhr_1hz), 5)
    smooth[count < 5] = np.nan
    higher = of = 0
    for c in contractions:
        third = (c.end_s - c.onset_s) / 4
        inside = smooth[int(c.onset_s + third) : int(c.end_s - third) + 1]
        beside = np.concatenate(
            (smooth[int(c.onset_s) - 30 : int(c.onset_s)], smooth[int(c.end_s) : int(c.end_s) + 30])
        )
        if np.isnan(inside).mean() > 0.5 or beside.size == 0 or np.isnan(beside).mean() > 0.5:
            continue
        of += 1
        higher += bool(np.nanmean(inside) - np.nanmean(beside) >= RISE_BPM)
    return higher, of


def _caution(change: LevelChange, end_s: float, variability_bpm: float, rises: int, of: int) -> Caution:
    signs = [f"the level fell at once from {change.from_bpm:.0f} to {change.to_bpm:.0f} bpm"]
    if variability_bpm >= VARIABILITY_BPM:
        signs.append(f"variability stayed at {variability_bpm:.0f} bpm")
    if rises:
        signs.append(f"the rate rises with {rises} of {of} contraction{'' if of == 1 else 's'}")
    return Caution(
        kind="maternal_rate_suspected",
        start_s=change.onset_s,
        end_s=end_s,
        level_bpm=change.to_bpm,
        other_bpm=change.from_bpm,
        text=f"The rate could be the mother's: {', '.join(signs)}. There is no maternal channel to tell; nothing was"
        " left out for it.",
        short=f"could be the maternal rate ({change.to_bpm:.0f} bpm)",
    )
