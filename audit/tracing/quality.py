"""A reason for every sample that is not used, and the accepted signal at one value a second."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import IntArray, fill_runs, merge_runs, true_runs
from audit.tracing.scraps import scraps_of
from audit.tracing.types import BoolArray, Exclusion, FloatArray

# Of the method, not of a unit: how much of a neighbour is looked at to judge a segment, and working sizes. The limits
# of the judgement itself are settings.
# A segment between two jumps is only judged by flanks that are seen within this time.
FLANK_REACH_S = 30.0
# How much of a neighbouring segment stands for its level.
FLANK_S = 2.0
USUAL_FLANK_BPM = 100.0
ROUNDS = 6
# A value that comes again and again says less where it is stored in coarse steps or seldom: a run must be longer by the
# step over the finest that recorders store and by the usual rate over the present one, in all at most so much.
FINE_STEP_BPM, USUAL_RATE_HZ, LONGEST_RUN_FACTOR = 0.25, 4.0, 4.0
# Samples a second up to which a second's samples are put in order column by column.
FEW_COLUMNS = 5


def exclusions(
    fhr_bpm: FloatArray, mhr_bpm: FloatArray | None, sample_rate_hz: float, settings: TracingSettings
) -> NDArray[np.uint8]:
    """The Exclusion code of every sample, shape (n_samples,).

    `fhr_bpm`, `mhr_bpm`: shape (n_samples,), beats per minute; NaN or 0 = no signal. `sample_rate_hz`: float, Hz.

    No sample is excluded for a steep slope alone: a spike, a halved or a doubled stretch has a jump at either end and
    flanks that agree, so that a steep deceleration stays. The maternal rule is |FHR - MHR| <= 5 bpm (Pinto 2015).
    """
    code = np.zeros(fhr_bpm.size, dtype=np.uint8)
    with np.errstate(invalid="ignore"):
        outside = (fhr_bpm < settings.fhr_lowest_bpm) | (fhr_bpm > settings.fhr_highest_bpm)
    code[outside] = Exclusion.OUT_OF_RANGE
    code[np.isnan(fhr_bpm) | (fhr_bpm == 0)] = Exclusion.NO_SIGNAL
    code[_stuck(fhr_bpm, code == 0, sample_rate_hz, settings)] = Exclusion.STUCK
    if mhr_bpm is not None:
        code[_maternal(fhr_bpm, mhr_bpm, code == 0, sample_rate_hz, settings)] = Exclusion.MATERNAL_RATE
    _mark_jump_blocks(fhr_bpm, code, sample_rate_hz, settings)
    _mark_islands(code, sample_rate_hz, settings)
    code[scraps_of(fhr_bpm, code == 0, sample_rate_hz, settings)] = Exclusion.ISLAND
    return code


def _stuck(fhr_bpm: FloatArray, valid: BoolArray, rate: float, settings: TracingSettings) -> BoolArray:
    """Exactly constant runs. A tracing that is constant most of the time is a drawn one, not a stuck sensor."""
    same = np.zeros(fhr_bpm.size, dtype=bool)
    step = np.abs(fhr_bpm[1:] - fhr_bpm[:-1])
    both = valid[1:] & valid[:-1]
    same[1:] = (step == 0) & both
    runs = true_runs(same)
    runs[:, 0] -= 1
    length = runs[:, 1] - runs[:, 0]
    least = settings.stuck_shortest_s * rate
    if (length >= least).any():
        moved = np.where(both & (step > 0), step, np.inf)
        coarse = float(moved.min(initial=LONGEST_RUN_FACTOR * FINE_STEP_BPM)) / FINE_STEP_BPM
        least *= min(max(coarse, 1.0) * max(USUAL_RATE_HZ / rate, 1.0), LONGEST_RUN_FACTOR)
    stuck = runs[length >= least]
    if 2 * int(np.sum(stuck[:, 1] - stuck[:, 0])) > np.count_nonzero(valid):
        stuck = stuck[:0]
    return fill_runs(stuck, fhr_bpm.size)


def _maternal(
    fhr_bpm: FloatArray, mhr_bpm: FloatArray, valid: BoolArray, rate: float, settings: TracingSettings
) -> BoolArray:
    with np.errstate(invalid="ignore"):
        near = valid & (mhr_bpm > 0) & (np.abs(fhr_bpm - mhr_bpm) <= settings.maternal_gap_bpm)
    runs = merge_runs(true_runs(near), int(2 * rate))
    runs = runs[(runs[:, 1] - runs[:, 0]) >= settings.maternal_shortest_s * rate]
    return fill_runs(runs, fhr_bpm.size) & valid


def _mark_jump_blocks(fhr_bpm: FloatArray, code: NDArray[np.uint8], rate: float, settings: TracingSettings) -> None:
    """Mark short blocks between two jumps as spikes, and blocks at half or twice their flanks as halved or doubled."""
    for _ in range(ROUNDS):
        # A halved deceleration may lie under the lowest rate: what is out of range still shows where blocks end.
        index = np.flatnonzero((code == 0) | (code == int(Exclusion.OUT_OF_RANGE)))
        if index.size < 3:
            return
        values = fhr_bpm[index]
        cuts = np.flatnonzero(np.abs(values[1:] - values[:-1]) > settings.spike_step_bpm) + 1
        if cuts.size == 0:
            return
        starts = np.concatenate(([0], cuts))
        stops = np.concatenate((cuts, [index.size]))
        reason = _judge_blocks(values, index, starts, stops, rate, settings)
        judged = np.flatnonzero(reason)
        if judged.size == 0:
            return
        for block in judged.tolist():
            code[index[starts[block] : stops[block]]] = reason[block]


def _judge_blocks(
    values: FloatArray, index: IntArray, starts: IntArray, stops: IntArray, rate: float, settings: TracingSettings
) -> NDArray[np.uint8]:
    """The Exclusion code of each block; a block is judged before its longer neighbours."""
    reach = max(1, int(FLANK_S * rate))

    def mean(low: IntArray, high: IntArray) -> FloatArray:
        place = low[:, None] + np.arange(reach)
        near = np.where(place < high[:, None], values[np.minimum(place, values.size - 1)], 0.0)
        return np.asarray(near.sum(axis=1) / (high - low))

    first = index[starts]
    last = index[stops - 1]
    length_s = (last - first + 1) / rate
    head = mean(starts, np.minimum(starts + reach, stops))
    tail = mean(np.maximum(stops - reach, starts), stops)
    n_blocks = starts.size
    before, after = np.full(n_blocks, np.nan), np.full(n_blocks, np.nan)
    before[1:], after[:-1] = tail[:-1], head[1:]
    near = np.zeros(n_blocks, dtype=bool)
    unseen_s = (first[1:] - last[:-1] - 1) / rate
    near[1:-1] = (unseen_s[:-1] < FLANK_REACH_S) & (unseen_s[1:] < FLANK_REACH_S)
    neighbour_s = np.minimum(
        np.concatenate(([np.inf], length_s[:-1])), np.concatenate((length_s[1:], [np.inf]))
    )  # the shorter neighbour decides whose turn it is
    turn = near & (length_s <= neighbour_s)
    # Of two equally short neighbours the first is judged first.
    turn[1:] &= ~(turn[:-1] & (length_s[1:] == length_s[:-1]))
    reason = np.zeros(n_blocks, dtype=np.uint8)
    with np.errstate(invalid="ignore"):
        agree = np.abs(before - after) <= settings.flank_agreement_bpm
        away = (np.abs(head - before) > settings.flank_agreement_bpm) & (
            np.abs(tail - after) > settings.flank_agreement_bpm
        )
        spike = turn & agree & away & (length_s <= settings.spike_longest_s)
        # Between flanks at a usual fetal rate the block is wrong, not its flanks, whoever is shorter.
        usual = near & (np.minimum(before, after) >= USUAL_FLANK_BPM)
        long_enough = (turn | usual) & (length_s <= settings.half_double_longest_s)
        tolerance = settings.half_double_tolerance_bpm
        half = long_enough & (np.abs(2 * head - before) <= tolerance) & (np.abs(2 * tail - after) <= tolerance)
        double = long_enough & (np.abs(head / 2 - before) <= tolerance) & (np.abs(tail / 2 - after) <= tolerance)
    reason[spike] = Exclusion.SPIKE
    reason[half & (length_s > 1.0)] = Exclusion.HALVED
    reason[double & (length_s > 1.0)] = Exclusion.DOUBLED
    return reason


def _mark_islands(code: NDArray[np.uint8], rate: float, settings: TracingSettings) -> None:
    runs = true_runs(code == 0)
    if len(runs) == 0:
        return
    gap_before = runs[:, 0] - np.concatenate(([-np.inf], runs[:-1, 1]))
    gap_after = np.concatenate((runs[1:, 0], [np.inf])) - runs[:, 1]
    length = runs[:, 1] - runs[:, 0]
    lonely = (
        (length < settings.island_longest_s * rate)
        & (gap_before > settings.island_gap_s * rate)
        & (gap_after > settings.island_gap_s * rate)
    )
    code[fill_runs(runs[lonely], code.size)] = Exclusion.ISLAND


def per_second(values: FloatArray, used: BoolArray, sample_rate_hz: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Median, lowest and highest of the used samples of each whole second, each of shape (n_seconds,).

    NaN where none is used. Below 1 Hz a sample stands for the seconds until the next one is due. A last second that is
    not whole is dropped.
    """
    ordered = _sorted_columns(_by_second(np.where(used, values, np.nan), sample_rate_hz))
    rate = len(ordered)
    middle, highest = (ordered[(rate - 1) // 2] + ordered[rate // 2]) / 2, ordered[-1].copy()
    # Where samples are missing they stand last, and the middle lies further forward.
    short = np.flatnonzero(np.isnan(highest))
    seen = np.count_nonzero(~np.isnan(ordered[:, short]), axis=0)
    last = np.maximum(seen - 1, 0)
    middle[short] = (ordered[last // 2, short] + ordered[np.minimum(seen // 2, rate - 1), short]) / 2
    highest[short] = ordered[last, short]
    return np.asarray(middle), ordered[0], highest


def _sorted_columns(block: FloatArray) -> FloatArray:
    """The samples of each row of `block` in ascending order down a column, NaN last.

    Few samples are put in order row against row, all columns at once.
    """
    if block.shape[1] > FEW_COLUMNS:
        return np.ascontiguousarray(np.sort(block, axis=1).T)
    ordered = np.ascontiguousarray(block.T)
    ordered[np.isnan(ordered)] = np.inf
    lower = np.empty(len(block))
    for turn in range(len(ordered)):
        for left in range(turn % 2, len(ordered) - 1, 2):
            np.minimum(ordered[left], ordered[left + 1], out=lower)
            np.maximum(ordered[left], ordered[left + 1], out=ordered[left + 1])
            ordered[left] = lower
    ordered[ordered == np.inf] = np.nan
    return ordered


def _sum_of_rows(block: NDArray[Any], kind: type) -> NDArray[Any]:
    """Sum of each column, row upon row in turn."""
    total: NDArray[Any] = np.zeros(block.shape[1], dtype=kind)
    for row in block:
        total += row
    return total


def mean_per_second(values: FloatArray, sample_rate_hz: float) -> FloatArray:
    """Mean of the samples of each whole second, shape (n_seconds,); NaN where none is there."""
    block = np.ascontiguousarray(_by_second(values, sample_rate_hz).T)
    seen = ~np.isnan(block)
    count, total = _sum_of_rows(seen, np.int64), _sum_of_rows(np.where(seen, block, 0.0), np.float64)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _by_second(values: FloatArray, sample_rate_hz: float) -> FloatArray:
    """Samples as one row a second, shape (n_seconds, samples a second)."""
    if sample_rate_hz != int(sample_rate_hz):
        # Sampling that does not divide a second: each quarter second takes the sample in force.
        n_quarters = 4 * int(values.size / sample_rate_hz)
        source = np.floor(np.arange(n_quarters) / 4 * sample_rate_hz + 1e-9).astype(np.int64)
        values, sample_rate_hz = values[np.minimum(source, values.size - 1)], 4.0
    rate = int(sample_rate_hz)
    n_seconds = values.size // rate
    return values[: n_seconds * rate].reshape(n_seconds, rate)
