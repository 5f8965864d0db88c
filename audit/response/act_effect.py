"""Did the act help? The half hour after an act against the one before it, beside the same for random moments. Pure.

Acts come when things look worst, so they look better afterwards whatever was done (regression to the mean: Galton 1886;
Barnett et al., Int J Epidemiol 2005;34:215-20). Random moments that looked as bad, with no act near them, show how much
better it gets by itself.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

# minutes before and after the act; published windows of categories are half hours too; our choice
SPAN_MIN = 30
LEAST_SEEN_MIN = 20  # of each half hour with a category, fewer = the moment is not judged; our choice
MEASURES = ("concern_share", "area_bpm_s", "contractions_per_10_min")
BOUNDED = "concern_share"  # a share's change lies between -1 and 1
FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class LabourMinutes:
    """One fetus's labour by the minute, from its first whole one. Arrays of one length; nothing is modified."""

    labour: str  # twins are two of one name
    rank: NDArray[np.int64]  # 0 mildest, 2 worst, -1 = no category
    area_bpm_s: FloatArray  # of decelerations by the minute of their onset
    contractions: FloatArray  # by the minute of their peak; NaN = toco not usable


@dataclass(frozen=True)
class Effect:
    """What changed from before to after, over many acts. None = nothing to judge."""

    acts: int  # of twins those judged for the one with more of them
    labours: int
    change: float | None  # mean over labours of each one's mean, after less before
    low: float | None  # 95 % interval, labours as clusters; None where all changed alike and nothing bounds a change
    high: float | None
    random: float | None  # the same for random moments that looked as bad
    random_low: float | None  # 95 % of the draws
    random_high: float | None


def changes(labour: LabourMinutes) -> FloatArray:
    """After less before at every minute, for each of MEASURES.

    `labour`: the labour.
    Gives changes, shape (minutes, 3): share of minutes in any but the mildest category, area in 30 minutes (bpm·s),
    contractions per 10 minutes (NaN where the toco was not usable for half of either side). The minute itself is on
    neither side; NaN throughout where a side is not whole or too little of it has a category.
    """
    size = len(labour.rank)
    seen, felt = labour.rank >= 0, np.isfinite(labour.contractions)
    before, after = [], []
    place = np.arange(size)
    for values in (seen, labour.rank >= 1, labour.area_bpm_s, felt, np.where(felt, labour.contractions, 0.0)):
        total = np.concatenate([[0.0], np.cumsum(values, dtype=np.float64)])
        before.append(total[place] - total[place - SPAN_MIN])
        after.append(total[np.minimum(place + 1 + SPAN_MIN, size)] - total[place + 1])
    sides = []
    with np.errstate(divide="ignore", invalid="ignore"):
        for judged, bad, area, usable, count in (before, after):
            rate = np.where(usable >= SPAN_MIN / 2, 10.0 * count / usable, np.nan)
            side = np.column_stack([bad / judged, area, rate])
            side[judged < LEAST_SEEN_MIN] = np.nan
            sides.append(side)
    found = np.asarray(sides[1] - sides[0], dtype=np.float64)
    found[(place < SPAN_MIN) | (place >= size - SPAN_MIN)] = np.nan
    return found


def pools(labours: Sequence[LabourMinutes], every_act: Sequence[tuple[int, int]]) -> dict[int, FloatArray]:
    """The changes at every moment with no act within 30 minutes of it, by the category of its minute.

    `labours`: the unit's. `every_act`: (place in `labours`, minute) of all acts that answer.
    Gives changes, shape (moments, 3), by rank.
    """
    found: dict[int, list[FloatArray]] = {}
    acts: dict[int, list[int]] = {}
    for k, minute in every_act:
        acts.setdefault(k, []).append(minute)
    for k, labour in enumerate(labours):
        own = changes(labour)
        far, place = np.isfinite(own).any(axis=1), np.arange(len(own))
        for minute in acts.get(k, ()):
            far &= np.abs(place - minute) > SPAN_MIN
        for rank in (0, 1, 2):
            found.setdefault(rank, []).append(own[far & (labour.rank == rank)])
    return {rank: np.concatenate(listed) for rank, listed in found.items()}


def effects(
    labours: Sequence[LabourMinutes],
    acts: Sequence[tuple[int, int]],
    by_chance: Mapping[int, FloatArray],
    *,
    draws: int,
    seed: int,
) -> dict[str, Effect]:
    """The change after one kind of act beside that after random moments.

    Parameters
    ----------
    labours : the unit's. acts : (place in `labours`, minute) of this kind. by_chance : `pools` of the unit.
    draws : sets of random moments, one for each act. seed : of the draws.

    Returns
    -------
    effects by MEASURES. A random moment is a minute with the same category as the act's own minute, in any labour;
        the moments of one labour's acts are averaged first, as its acts are, so that both figures weigh labours alike.
    """
    found, own = _judged(labours, acts)
    name_of = {labour.labour: k for k, labour in reversed(list(enumerate(labours)))}
    place = np.array([name_of[labours[k].labour] for k, _ in found], int)
    fetus = np.array([k for k, _ in found], int)
    drawn = np.full((draws, len(MEASURES)), np.nan)
    ranks = [int(labours[k].rank[minute]) for k, minute in found]
    if found and all(len(by_chance.get(rank, ())) for rank in ranks):
        rng = np.random.default_rng(seed)
        picks = np.stack([by_chance[rank][rng.integers(len(by_chance[rank]), size=draws)] for rank in ranks])
        drawn = _mean(np.stack([_mean(picks[place == k]) for k in np.unique(place)]))
    return {
        name: _effect(own[:, k], place, fetus, drawn[:, k], bounded=name == BOUNDED) for k, name in enumerate(MEASURES)
    }


def judged_in(labours: Sequence[LabourMinutes], acts: Sequence[tuple[int, int]]) -> dict[str, list[str]]:
    """The labours that `effects` judges, by MEASURES; arguments as there."""
    found, own = _judged(labours, acts)
    return {
        name: sorted({labours[k].labour for (k, _), change in zip(found, own[:, place], strict=True)
                      if np.isfinite(change)})
        for place, name in enumerate(MEASURES)
    }  # fmt: skip


def _judged(
    labours: Sequence[LabourMinutes], acts: Sequence[tuple[int, int]]
) -> tuple[list[tuple[int, int]], FloatArray]:
    """The acts with half an hour on both sides and a category in their own minute, and what changed after each."""
    known = {k: changes(labours[k]) for k in {k for k, _ in acts}}
    found = [(k, minute) for k, minute in acts if np.isfinite(known[k][minute]).any() and labours[k].rank[minute] >= 0]
    return found, np.array([known[k][minute] for k, minute in found]).reshape(-1, len(MEASURES))


def _mean(values: FloatArray) -> FloatArray:
    """Mean over the first axis of what is known; NaN where nothing is."""
    count = np.isfinite(values).sum(axis=0)
    return np.where(count > 0, np.nansum(values, axis=0) / np.maximum(count, 1), np.nan)


def _of_alike(change: float, labours: int) -> tuple[float, float]:
    """Interval of a mean change between -1 and 1 where all labours changed alike: their scatter tells nothing.

    Of all labours at most so many change otherwise, and by as much as a change can: the upper 97.5 % limit of a share
    of which none was seen (Clopper & Pearson, Biometrika 1934;26:404-13; Hanley & Lippman-Hand, JAMA 1983;249:1743-5).
    """
    others = float(stats.beta.ppf(0.975, 1, labours))
    return change - others * (1.0 + change), change + others * (1.0 - change)


def _effect(
    changes: FloatArray, place: NDArray[np.int64], fetus: NDArray[np.int64], drawn: FloatArray, *, bounded: bool
) -> Effect:
    known = np.isfinite(changes)
    labours = np.unique(place[known])
    if not len(labours):
        return Effect(0, 0, None, None, None, None, None, None)
    means = np.array([changes[known & (place == k)].mean() for k in labours])
    low = high = None
    if len(means) > 1 and np.ptp(means) == 0.0:
        if bounded:
            low, high = _of_alike(float(means.mean()), len(means))
    elif len(means) > 1:
        reach = float(stats.t.ppf(0.975, len(means) - 1)) * float(means.std(ddof=1)) / np.sqrt(len(means))
        low, high = float(means.mean() - reach), float(means.mean() + reach)
    draws = drawn[np.isfinite(drawn)]
    chance: tuple[float | None, float | None, float | None] = (None, None, None)
    if len(draws):
        chance = (float(draws.mean()), float(np.quantile(draws, 0.025)), float(np.quantile(draws, 0.975)))
    counted = {k: int((known & (fetus == k)).sum()) for k in np.unique(fetus[known])}
    acts = sum(max(counted[k] for k in np.unique(fetus[known & (place == labour)])) for labour in labours)
    return Effect(acts, len(labours), float(means.mean()), low, high, *chance)
