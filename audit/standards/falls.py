"""Falls of the heart rate as they could be seen at a given time: decelerations, and level changes under 10 min old."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from audit.setting_types import Limit
from audit.standards.basics import BASELINE_CHANGE_S
from audit.standards.types import BoolArray, FloatArray, IntArray, TakenAs
from audit.tracing.runs import moving_mean
from audit.tracing.types import Deceleration, LevelChange, Reading

NEAR_NADIR_BPM = 5.0  # the return begins where the rate was last this near its lowest; our choice
GRADUAL_S = 30.0  # NICHD 2008; the packaged `[tracing] gradual_s`
# A fall to a level under this has not ended for as long as the level lasts. The bound of NICHD 2008, FIGO 1986 and 2015
# and NG229 alike, and of one list of falls that all of them share: a unit's own limit of one standard cannot move it.
BRADYCARDIA_BPM = 110.0
# Beyond a limit means this far: lengths are whole seconds.
_BEYOND_S = 0.5

Evidence = tuple[FloatArray, FloatArray]  # (n_marks,) onset and end so far of what was found last, s


@dataclass(frozen=True)
class Falls:
    """Every fall of a reading, decelerations first, as arrays of shape (n_falls,).

    A level change downwards is listed too (`from_level`): while it is younger than 10 minutes nobody can tell it from
    a deceleration, so it counts as one until then and as the baseline afterwards.
    """

    onset_s: FloatArray
    nadir_s: FloatArray
    end_s: FloatArray  # of a level change: when its 10 minutes are over
    depth_bpm: FloatArray
    onset_to_nadir_s: FloatArray
    return_s: FloatArray  # from the last level near the lowest to the end
    way_back_s: FloatArray  # the same, by the middle of the way back where that is longer
    lag_s: FloatArray  # nadir minus contraction peak, NaN = none or toco not usable
    onset_lag_s: FloatArray  # onset minus contraction onset, NaN likewise
    contraction_end_s: FloatArray  # end of the contraction it goes with, NaN = none
    lowest_bpm: FloatArray
    variability_inside_bpm: FloatArray
    toco_usable: BoolArray
    shallow: BoolArray
    from_level: BoolArray
    persists_until_s: FloatArray  # end_s, or of a level change to a bradycardia the end of that level
    kind: tuple[str, ...]  # as in the reading (NICHD 2008); a level change is 'prolonged'
    contraction: IntArray  # index of the contraction it goes with, -1 = none
    baseline_bpm: FloatArray  # before the fall
    gradual: BoolArray  # 30 s or more from onset to nadir, judged once, by the reading, for every standard
    judged_fall_s: FloatArray  # the time that was judged
    other_kind: tuple[str | None, ...]  # the kind on the other side of 30 s, of 2 min or of 10 min; None = certain
    length_error_s: FloatArray  # it could be this much longer or shorter

    @property
    def duration_s(self) -> FloatArray:
        """Whole length of each fall, s; of a level change the 10 minutes for which it was a fall."""
        return self.end_s - self.onset_s

    def lasting(self) -> "Falls":
        """The same falls for a guideline without a 10-minute rule: a fall to a bradycardia goes on until it ends.

        It stays a fall afterwards, as any that has ended.
        """
        stays = self.from_level & (self.lowest_bpm < BRADYCARDIA_BPM)
        return replace(self, end_s=self.persists_until_s, from_level=self.from_level & ~stays)

    @property
    def uncertain(self) -> BoolArray:
        """Falls so near 30 s that an abrupt one could be gradual or the other way round, shape (n_falls,)."""
        return np.array([kind is not None for kind in self.other_kind], dtype=bool) & ~self._by_length

    @property
    def _by_length(self) -> BoolArray:
        """Falls whose other kind lies on the other side of a length."""
        pairs = zip(self.kind, self.other_kind, strict=True)
        return np.array([other is not None and "prolonged" in (own, other) for own, other in pairs], dtype=bool)

    @property
    def near_ten_min(self) -> BoolArray:
        """Decelerations that could be a change of the baseline, and changes that could be one, shape (n_falls,)."""
        could_be_level = np.array([other == "level_change" for other in self.other_kind], dtype=bool)
        return could_be_level | (self.from_level & self._by_length)

    def moved_when(self, taken_as: TakenAs, limits: Sequence[Limit] = ()) -> BoolArray:
        """Falls that are otherwise once all uncertain ones are taken as abrupt, gradual, longer or shorter.

        `limits`: of lengths, beyond which a fall is taken that could lie there.
        """
        if taken_as in ("longer", "shorter"):
            across_ten_min = self.near_ten_min & (self.from_level == (taken_as == "shorter"))
            at_limit: BoolArray = np.isfinite(self.beyond_s(taken_as, limits)) | across_ten_min
            return at_limit
        moved: BoolArray = self.uncertain & (self.gradual != (taken_as == "gradual"))
        return moved

    def beyond_s(self, taken_as: TakenAs, limits: Sequence[Limit]) -> FloatArray:
        """The farthest limit that each fall could be longer, or shorter than, s; NaN = it is as it is."""
        duration_s, farthest = self.duration_s, np.fmax if taken_as == "longer" else np.fmin
        beyond = np.full(duration_s.size, np.nan)
        for limit in limits:
            within = np.abs(duration_s - limit.value) <= self.length_error_s
            within &= ~self.from_level & (self.length_error_s > 0) & (limit.met(duration_s) != (taken_as == "longer"))
            beyond = np.where(within, farthest(beyond, limit.value), beyond)
        return beyond

    def taken_as(self, taken_as: TakenAs, limits: Sequence[Limit] = ()) -> "Falls":
        """The same falls with all that are uncertain taken as abrupt, gradual, longer or shorter."""
        by_length = taken_as in ("longer", "shorter")
        beyond_s = self.beyond_s(taken_as, limits)
        moved = np.isfinite(beyond_s) if by_length else self.moved_when(taken_as)
        kind = tuple(
            own if other is None or not here else other
            for own, other, here in zip(
                self.kind, self.other_kind, (moved & (self._by_length == by_length)).tolist(), strict=True
            )
        )
        if not by_length:
            return replace(self, kind=kind, gradual=self.gradual ^ moved)
        step_s = _BEYOND_S if taken_as == "longer" else -_BEYOND_S
        end_s = np.where(moved, self.onset_s + beyond_s + step_s, self.end_s)
        until_s = np.where(moved, end_s, self.persists_until_s)
        return replace(self, kind=kind, end_s=end_s, persists_until_s=until_s)

    def from_tachycardia(self, tachycardia: Limit, bradycardia: Limit) -> BoolArray:
        """Falls from a tachycardia to a rate that is no bradycardia, shape (n_falls,).

        A rate within 110 to 160 bpm is a normal baseline under all three standards: reaching it from above is no
        emergency, and where the rate stays there the tachycardia has ended.
        """
        calm: BoolArray = tachycardia.met(self.baseline_bpm) & ~bradycardia.met(self.lowest_bpm)
        return calm

    def so_far_s(self, at_s: FloatArray) -> FloatArray:
        """Length seen by each mark, shape (n_marks, n_falls), s; 0 before the onset and for reclassified falls."""
        length = np.minimum(self.end_s[None, :], at_s[:, None])
        length -= self.onset_s
        np.maximum(length, 0.0, out=length)
        for k in np.flatnonzero(self.from_level).tolist():
            length[at_s >= self.end_s[k], k] = 0.0
        return length

    def latest(self, at_s: FloatArray, chosen: BoolArray, known_s: FloatArray | None = None) -> "Evidence":
        """Onset and end so far of the chosen fall that reached latest by each mark; NaN before any.

        `chosen` has shape (n_falls,) or (n_marks, n_falls); `known_s` is when each fall could be recognised.
        """
        begun_s = self.onset_s if known_s is None else np.maximum(known_s, self.onset_s)
        if chosen.ndim == 1:
            return self._latest_of(at_s, np.flatnonzero(chosen), begun_s)
        begun = begun_s[None, :] <= at_s[:, None]
        until = np.where(begun & chosen, np.minimum(self.end_s[None, :], at_s[:, None]), -np.inf)
        if until.shape[1] == 0:
            return np.full(at_s.size, np.nan), np.full(at_s.size, np.nan)
        which = until.argmax(axis=1)
        latest = until[np.arange(at_s.size), which]
        found = np.isfinite(latest)
        return np.where(found, self.onset_s[which], np.nan), np.where(found, latest, np.nan)

    def _latest_of(self, at_s: FloatArray, index: IntArray, begun_s: FloatArray) -> "Evidence":
        if index.size == 0:
            return np.full(at_s.size, np.nan), np.full(at_s.size, np.nan)
        index = index[np.argsort(begun_s[index], kind="stable")]
        highest = np.maximum.accumulate(self.end_s[index])
        place = np.maximum.accumulate(np.where(self.end_s[index] == highest, np.arange(index.size), 0))
        last = np.searchsorted(begun_s[index], at_s, side="right") - 1
        found, which = last >= 0, index[place[last]]
        until = np.minimum(self.end_s[which], at_s)
        return np.where(found, self.onset_s[which], np.nan), np.where(found, until, np.nan)

    def _returns(self) -> dict[tuple[float, float, float], tuple[float, float]]:
        """`return_s` and `way_back_s` by onset, nadir and end of each deceleration, s."""
        columns = (self.onset_s, self.nadir_s, self.end_s, self.return_s, self.way_back_s)
        rows = zip(*(column[~self.from_level].tolist() for column in columns), strict=True)
        return {(onset, nadir, end): (return_s, way_back_s) for onset, nadir, end, return_s, way_back_s in rows}

    def overlapping(self, start_s: FloatArray, end_s: FloatArray) -> BoolArray:
        """Whether any part of each fall lies in [start_s, end_s), shape (n_windows, n_falls)."""
        inside: BoolArray = (self.end_s[None, :] > start_s[:, None]) & (self.onset_s[None, :] < end_s[:, None])
        return inside


def falls_of(reading: Reading, *, gradual_s: float = GRADUAL_S, known: Falls | None = None) -> Falls:
    """List the falls of a reading.

    `reading`: the reading of the whole tracing. `gradual_s`: s from onset to nadir from which the reading calls a fall
    gradual. `known`: falls of the same tracing listed before, whose returns need not be measured again.

    'Abrupt' is under, 'gradual' is 30 s or more from onset to nadir (NICHD 2008): the only text with a side for every
    value. FIGO 2015 (within 30 s, more than 30 s) leaves exactly 30 open, NICE NG229 names no number. So this sentence
    decides for all three, on the time that the reading judged: that gave the kind of every deceleration but prolonged
    ones.
    """
    decelerations = reading.decelerations
    changes = [c for c in reading.level_changes if c.to_bpm < c.from_bpm]
    count = len(decelerations)
    index = _contraction_of_each(reading)
    ends = np.array([c.end_s for c in reading.contractions] + [np.nan])

    def column(values: list[float | None], of_changes: list[float]) -> FloatArray:
        return np.array([np.nan if v is None else v for v in values] + of_changes, dtype=np.float64)

    unknown = [np.nan] * len(changes)
    end_of_change = [min(c.end_s, c.onset_s + BASELINE_CHANGE_S) for c in changes]
    until = [max(_low_until_s(reading, c), e) for c, e in zip(changes, end_of_change, strict=True)]
    before = {} if known is None else known._returns()
    measured = [before.get((d.onset_s, d.nadir_s, d.end_s)) or _returns_s(reading, d) for d in decelerations]
    return Falls(
        onset_s=column([d.onset_s for d in decelerations], [c.onset_s for c in changes]),
        nadir_s=column([d.nadir_s for d in decelerations], [c.onset_s + 60.0 for c in changes]),
        end_s=column([d.end_s for d in decelerations], end_of_change),
        depth_bpm=column([d.depth_bpm for d in decelerations], [c.from_bpm - c.to_bpm for c in changes]),
        onset_to_nadir_s=column([d.onset_to_nadir_s for d in decelerations], unknown),
        return_s=column([return_s for return_s, _ in measured], unknown),
        way_back_s=column([way_back_s for _, way_back_s in measured], unknown),
        lag_s=column([d.lag_s for d in decelerations], unknown),
        onset_lag_s=column([d.onset_lag_s for d in decelerations], unknown),
        contraction_end_s=np.concatenate([ends[index], unknown]),
        lowest_bpm=column([d.lowest_bpm for d in decelerations], [c.to_bpm for c in changes]),
        variability_inside_bpm=column([d.variability_inside_bpm for d in decelerations], unknown),
        toco_usable=np.array([d.toco_usable for d in decelerations] + [False] * len(changes), dtype=bool),
        shallow=np.array([d.shallow for d in decelerations] + [False] * len(changes), dtype=bool),
        from_level=np.array([False] * count + [True] * len(changes), dtype=bool),
        persists_until_s=column([d.end_s for d in decelerations], until),
        kind=tuple([d.kind for d in decelerations] + ["prolonged"] * len(changes)),
        contraction=np.concatenate([index, np.full(len(changes), -1, dtype=np.int64)]),
        baseline_bpm=column([d.baseline_bpm for d in decelerations], [c.from_bpm for c in changes]),
        gradual=np.array([_is_gradual(d, gradual_s) for d in decelerations] + [False] * len(changes), dtype=bool),
        judged_fall_s=column([_judged_fall_s(d) for d in decelerations], unknown),
        other_kind=(*(d.other_kind for d in decelerations), *(c.other_kind for c in changes)),
        length_error_s=column([d.length_error_s for d in decelerations], [0.0] * len(changes)),
    )


def _low_until_s(reading: Reading, change: LevelChange) -> float:
    """The end of the bradycardia that a fall of the level led to, s; 0 where it led to none."""
    if change.to_bpm >= BRADYCARDIA_BPM:
        return 0.0
    low = np.flatnonzero(reading.baseline_drawn_1hz[: round(change.end_s)] < BRADYCARDIA_BPM)
    return float(low[-1]) + 1.0 if low.size else 0.0


def _judged_fall_s(event: Deceleration) -> float:
    return event.onset_to_nadir_s if math.isnan(event.judged_fall_s) else event.judged_fall_s


def _is_gradual(event: Deceleration, gradual_s: float) -> bool:
    return _judged_fall_s(event) >= gradual_s if event.kind == "prolonged" else event.kind != "variable"


def _returns_s(reading: Reading, event: Deceleration) -> tuple[float, float]:
    """`return_s` and `way_back_s` of a deceleration."""
    return_s = _return_s(reading, event)
    return return_s, _way_back_s(reading, event, return_s)


def _return_s(reading: Reading, event: Deceleration) -> float:
    """How long the return to the baseline took, s: a flat bottom is not part of it."""
    inside = reading.fhr_1hz[int(event.onset_s) : int(np.ceil(event.end_s))]
    near = np.flatnonzero(inside <= event.lowest_bpm + NEAR_NADIR_BPM)
    if near.size == 0:
        return event.nadir_to_end_s
    return min(max(event.end_s - float(int(event.onset_s) + int(near[-1]) + 1), 0.0), event.nadir_to_end_s)


def _way_back_s(reading: Reading, event: Deceleration, return_s: float) -> float:
    """Twice the time from three quarters to one quarter of the depth on the way back, s, where that is longer.

    A single dip of the fluctuation on the way up cuts the time from the last level near the lowest short: of returns
    drawn 46 s long in fluctuations of 12 bpm, one in five read 30 s or less, and one in thirty this way (our choice).
    """
    inside = reading.fhr_1hz[int(event.onset_s) : int(np.ceil(event.end_s))]
    by_middle_s = min(2.0 * _middle_of_return_s(inside, event), event.end_s - event.onset_s)
    return max(return_s, by_middle_s)


def _middle_of_return_s(inside: FloatArray, event: Deceleration) -> float:
    """Time between the last seconds at three quarters and at one quarter of the depth, on means of 5 s; s."""
    smooth, _ = moving_mean(inside, np.isfinite(inside), 2)
    low, high = (np.flatnonzero(smooth <= event.baseline_bpm - share * event.depth_bpm) for share in (0.75, 0.25))
    return float(high[-1] - low[-1]) if low.size else 0.0


def _contraction_of_each(reading: Reading) -> IntArray:
    """Index of each deceleration's contraction by its peak, -1 where it has none."""
    peaks = np.array([c.peak_s for c in reading.contractions], dtype=np.float64)
    wanted = np.array(
        [np.nan if d.contraction_peak_s is None else d.contraction_peak_s for d in reading.decelerations],
        dtype=np.float64,
    )
    if peaks.size == 0 or wanted.size == 0:
        return np.full(wanted.size, -1, dtype=np.int64)
    right = np.clip(np.searchsorted(peaks, wanted), 1, max(peaks.size - 1, 1)) if peaks.size > 1 else None
    if right is None:
        nearest = np.zeros(wanted.size, dtype=np.int64)
    else:
        nearest = np.where(np.abs(peaks[right] - wanted) < np.abs(wanted - peaks[right - 1]), right, right - 1)
    matched = np.isfinite(wanted) & (np.abs(peaks[nearest] - np.nan_to_num(wanted)) < 1.0)
    return np.where(matched, nearest, -1).astype(np.int64)
