"""Fitting the second reading on windows that experts classed, and what it gives on recordings it has not seen."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audit.second_reading.calibration import Calibration, calibrated, middle_class
from audit.second_reading.convolutions import Kernels, answers, drawn_kernels, thresholds
from audit.second_reading.described import Described
from audit.second_reading.gaussian_process import scaling_of, solve
from audit.second_reading.model import FittedReading, FittedWindows, joint_likeness
from audit.standards.types import FloatArray, IntArray

# Of the method, chosen by cross-validation by recording on the tuning part of the open database.
KERNELS = 300
KERNEL_SEED = 3
RIDGE = 0.2  # variance of the noise of a window's target when nine experts read it
EXPERTS = 9
FOLDS = 10
FOLD_SEED = 1
SAMPLE_STEP_S = 30  # thresholds are taken from every thirtieth second
LEAST_WINDOWS = 20


@dataclass(frozen=True)
class CrossValidated:
    """What windows get from a reading that was fitted without their recording."""

    score: FloatArray  # (n,)
    probabilities: FloatArray  # (n, 3)
    classes: IntArray  # (n,)


def kernels_for(away_1hz: Sequence[FloatArray]) -> tuple[Kernels, FloatArray]:
    """The drawn kernels, and their thresholds on the stretches given (bpm at 1 Hz; NaN = not seen)."""
    kernels = drawn_kernels(KERNELS, KERNEL_SEED)
    samples = [answers(one, kernels, np.flatnonzero(np.isfinite(one))[::SAMPLE_STEP_S]) for one in away_1hz]
    return kernels, thresholds(np.concatenate(samples, axis=1), kernels)


def folds_of(recordings: Sequence[str]) -> IntArray:
    """The fold of each window, 0 to FOLDS - 1; windows of one recording are in one fold."""
    names = sorted(set(recordings))
    place = np.random.default_rng(FOLD_SEED).permutation(len(names)) % FOLDS
    fold = dict(zip(names, place.tolist(), strict=True))
    return np.array([fold[name] for name in recordings], dtype=np.int64)


def fit(
    found: Described, windows: FittedWindows, kernels: Kernels, limits: FloatArray
) -> tuple[FittedReading, CrossValidated]:
    """Fit the reading on all windows, and cross-validate it by recording.

    `found`: the windows. `windows`: whose they are, and the experts' votes. Every window has at least one. `kernels`,
    `limits`: what the convolutions were counted with.
    Raises ValueError: fewer than 20 windows, no two classes among them, or fewer recordings than folds.

    Target: the mean of the votes (0, 1, 2), with noise RIDGE times 9 over the number of votes. One solve (Rasmussen &
    Williams 2006, algorithm 2.1). The calibration is fitted on scores of windows whose recording was left out; to be
    told how good that is, each fold's calibration is fitted on the other folds' scores.
    """
    votes = windows.votes.astype(float)
    count = votes.sum(axis=1)
    if len(votes) < LEAST_WINDOWS or (votes.sum(axis=0) > 0).sum() < 2 or len(set(windows.recording)) < FOLDS:
        raise ValueError(
            f"{len(votes)} windows of {len(set(windows.recording))} recordings: expected at least {LEAST_WINDOWS} of"
            f" {FOLDS}, of two classes or more"
        )
    target, noise = votes @ np.arange(3.0) / count, RIDGE * EXPERTS / count
    shares = votes / count[:, None]
    fold = folds_of(windows.recording)
    parts = [(np.flatnonzero(fold == k), np.flatnonzero(fold != k)) for k in range(FOLDS)]
    score = np.zeros(len(target))
    for left, kept in parts:
        score[left] = _scores_without(found, left, kept, target, noise, count)
    probabilities = np.zeros((len(target), 3))
    for left, kept in parts:
        probabilities[left] = calibrated(score[kept], shares[kept], count[kept]).probabilities(score[left])
    seen_apart = CrossValidated(score, probabilities, middle_class(probabilities))
    reading = _fitted(found, windows, kernels, limits, target, noise, calibrated(score, shares, count))
    return reading, seen_apart


def _scores_without(
    found: Described, left: IntArray, kept: IntArray, target: FloatArray, noise: FloatArray, count: FloatArray
) -> FloatArray:
    """The scores of the windows left out, from a reading of those kept."""
    scalings = [scaling_of(block[kept]) for block in found.blocks]
    blocks = [scaling(block) for scaling, block in zip(scalings, found.blocks, strict=True)]
    inside, outside = [block[kept] for block in blocks], [block[left] for block in blocks]
    level = float(np.average(target[kept], weights=count[kept]))
    weights = solve(joint_likeness(inside, inside), target[kept] - level, noise[kept])
    result: FloatArray = level + joint_likeness(outside, inside) @ weights
    return result


def _fitted(
    found: Described,
    windows: FittedWindows,
    kernels: Kernels,
    limits: FloatArray,
    target: FloatArray,
    noise: FloatArray,
    calibration: Calibration,
) -> FittedReading:
    first, second, third = (scaling_of(block) for block in found.blocks)
    # as the file holds them, so that a reading from the file is the reading that was fitted
    points = tuple(
        scaling(block).astype(np.float32).astype(np.float64)
        for scaling, block in zip((first, second, third), found.blocks, strict=True)
    )
    level = float(np.average(target, weights=windows.votes.sum(axis=1)))
    return FittedReading(
        names=found.names,
        kernels=kernels,
        limits=limits,
        scalings=(first, second, third),
        points=(points[0], points[1], points[2]),
        weights=solve(joint_likeness(points, points), target - level, noise),
        level=level,
        calibration=calibration,
        windows=windows,
    )
