"""Slips of the toco's belt: the level at rest moves once and stays there, which is no contraction.

Mostly within seconds; a belt that loosens in one go over some minutes leaves the same, and is taken likewise.

The zero of an external toco is arbitrary (FIGO 2015), so what a slip adds says nothing of the uterus. What is found
here decides only whether a toco rests; contractions are read on the channel as it was recorded.
"""

import numpy as np
from scipy import ndimage

from audit.tracing.runs import IntArray, true_runs
from audit.tracing.types import BoolArray, FloatArray

# Of the method, not of a unit. The levels of the two sides are compared in blocks, over as long as the longest
# contraction lasts, so that none fills a side; a side cut short by an end of the tracing needs half of that.
BLOCK_S, SIDE_BLOCKS, LEAST_BLOCKS = 10, 24, 12
REST_PERCENTILE = 15
# A slip moves the level by more than the channel ranges on its quieter side, and by this many times what smoothing
# takes away; this much of it comes in one go.
CLEAR_OF_RIPPLE, SUDDEN_SHARE = 3.0, 0.5
SUDDEN_S = 25
SMOOTH_S = 4.0
MOST_SLIPS = 40


def belt_slips(filled: FloatArray, known: BoolArray) -> tuple[FloatArray, BoolArray]:
    """What slips of the belt added to a toco, and the seconds in which they happened.

    `filled`: shape (n_seconds,), toco units, gaps drawn across. `known`: shape (n_seconds,), where it was seen.
    Gives added: shape (n_seconds,), toco units: the sum of the slips so far, 0 before the first. slipping: shape
    (n_seconds,), true while the level moves.
    """
    added, slipping = np.zeros(filled.size), np.zeros(filled.size, dtype=bool)
    n_blocks = filled.size // BLOCK_S
    if n_blocks < 2 * LEAST_BLOCKS:
        return added, slipping
    seconds = slice(0, n_blocks * BLOCK_S)
    blocks = filled[seconds].reshape(-1, BLOCK_S).mean(axis=1)
    blocks[~known[seconds].reshape(-1, BLOCK_S).all(axis=1)] = np.nan
    moved, spread = _moved(blocks)
    if not (np.abs(moved) > np.nan_to_num(spread)).any():
        return added, slipping
    held = _held(filled, known)
    fine = ndimage.gaussian_filter1d(held, SMOOTH_S, mode="nearest", truncate=3)
    slope = np.gradient(fine)
    ripple = float(np.median(np.abs(held - fine)[known]))
    need = np.maximum(CLEAR_OF_RIPPLE * ripple, spread)
    for first, stop in true_runs(np.abs(moved) > need).tolist()[:MOST_SLIPS]:
        # on either side of a border that moved lie `LEAST_BLOCKS`, which are longer
        span = slice(first * BLOCK_S - SUDDEN_S, stop * BLOCK_S + SUDDEN_S)
        by = float(moved[first + int(np.argmax(np.abs(moved[first:stop])))])
        start, end = _fastest(slope[span] * np.sign(by), known[span]) + span.start
        if (fine[end] - fine[start - 1]) / by < SUDDEN_SHARE:
            continue
        added[end:] += by
        added[start:end] += by * (np.arange(end - start) + 1) / (end - start + 1)
        slipping[start:end] = True
    return added, slipping


def _held(filled: FloatArray, known: BoolArray) -> FloatArray:
    """With each value held to the middle of the gap beside it, where a level that came back elsewhere then steps."""
    held = filled.copy()
    for start, stop in true_runs(~known).tolist():
        middle = (start + stop) // 2
        if start > 0 and stop < filled.size:
            held[start:middle], held[middle:stop] = filled[start - 1], filled[stop]
    return held


def _moved(blocks: FloatArray) -> tuple[FloatArray, FloatArray]:
    """By how much the level at rest differs after and before each border of blocks, and its lesser range."""
    padded = np.concatenate((np.full(SIDE_BLOCKS, np.nan), blocks, np.full(SIDE_BLOCKS, np.nan)))
    sides = np.sort(np.lib.stride_tricks.sliding_window_view(padded, SIDE_BLOCKS), axis=1)  # NaN last
    count = np.count_nonzero(~np.isnan(sides), axis=1)
    rows = np.arange(count.size)

    def rank(percentile: int) -> FloatArray:
        at: FloatArray = sides[rows, np.maximum(count - 1, 0) * percentile // 100]
        return at

    rest = np.where(count >= LEAST_BLOCKS, rank(REST_PERCENTILE), np.nan)
    spread = rank(90) - rank(10)
    before, after = slice(0, blocks.size), slice(SIDE_BLOCKS, SIDE_BLOCKS + blocks.size)
    return np.nan_to_num(rest[after] - rest[before]), np.fmin(spread[after], spread[before])


def _fastest(way: FloatArray, known: BoolArray) -> IntArray:
    """The seconds, [start, stop), round the steepest way in the slip's direction while it goes on, a gap included."""
    top = int(np.argmax(way))
    if way[top] <= 0:
        return np.array([top, top])
    going = true_runs((way > 0.1 * way[top]) | ~known)
    here: IntArray = going[np.searchsorted(going[:, 0], top, side="right") - 1]
    return here
