"""The second reading on the open database's folder: fitted there, or read from a file, always on unseen recordings."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np

from audit import processes
from audit.errors import AuditError
from audit.progress import Report
from audit.second_reading.convolutions import Kernels
from audit.second_reading.described import Described, hour_of, shapes_of
from audit.second_reading.fitting import fit, kernels_for
from audit.second_reading.model import FittedReading, FittedWindows
from audit.setting_tables.validate import ValidateSettings
from audit.standards.types import FloatArray, IntArray
from audit.validate.compare import CLASSES, NOT_ASSESSABLE, Comparison, ExpertTable, compare, consensus_of
from audit.validate.equal_footing import EqualFooting, on_equal_footing
from audit.validate.readings import RecordReading, WindowReading

FIFTHS = 5
CROSS_VALIDATED = "cross-validated by recording: each window is read by a fit without its recording"
HELD_OUT = "read by the fitted file; recordings that it was fitted on are left out"


@dataclass(frozen=True)
class Fifth:
    """A fifth of the windows by the probability of a class: what was said, and what share of the experts gave it."""

    category: int
    predicted: float
    observed: float
    windows: int


@dataclass(frozen=True)
class SecondOnFolder:
    """What the second reading makes of the windows that experts classed, of both parts, and how good it is."""

    experts: ExpertTable
    codes: IntArray  # (n,), NOT_ASSESSABLE where too little was seen
    probabilities: FloatArray  # (n, 3)
    basis: str
    against_all: Comparison
    equal: EqualFooting | None
    fifths: tuple[Fifth, ...]
    off_by_two: int
    fitted_on: tuple[int, int] = (0, 0)  # windows, recordings
    fitted: FittedReading | None = None  # when it was fitted here
    card: dict[str, Any] = field(default_factory=dict)

    def codes_of(self, experts: ExpertTable) -> IntArray:
        """The classes of some of the windows, NOT_ASSESSABLE where there is none."""
        keys = zip(self.experts.record, self.experts.step, strict=True)
        known = dict(zip(keys, self.codes.tolist(), strict=True))
        wanted = zip(experts.record, experts.step, strict=True)
        return np.array([known.get(key, NOT_ASSESSABLE) for key in wanted], dtype=np.int64)


def fit_on(
    readings: Sequence[RecordReading],
    experts: ExpertTable,
    settings: ValidateSettings,
    progress: Report | None = None,
    workers: int | None = None,
) -> SecondOnFolder:
    """Fit the second reading on every window that enough experts classed, and tell how good it is by cross-validation.

    Raises AuditError when there are too few.
    """
    votes = _votes(experts)
    enough = votes.sum(axis=1) >= settings.consensus_readers_min
    experts, votes = experts.chosen(enough), votes[enough]
    windows = _windows_of(readings, experts)
    by_name = {reading.name: reading for reading in readings}
    try:
        used = [by_name[name] for name in dict.fromkeys(experts.record)]
        kernels, limits = kernels_for([_looked_at(reading) for reading in used])
        found = _described(used, experts, windows, kernels, limits, progress, workers)
        reading, apart = fit(found, _fitted_windows(experts, windows, votes, settings), kernels, limits)
    except ValueError as error:
        raise AuditError(f"the second reading cannot be fitted: {error}") from error
    judged = _judged(experts, windows, apart.classes, apart.probabilities, settings, CROSS_VALIDATED)
    return replace(judged, fitted_on=(len(windows), len(used)), fitted=reading)


def read_with(
    fitted: FittedReading,
    readings: Sequence[RecordReading],
    experts: ExpertTable,
    settings: ValidateSettings,
    progress: Report | None = None,
    workers: int | None = None,
) -> SecondOnFolder | None:
    """Read the windows of recordings that a file was not fitted on; None when there are none."""
    known = set(fitted.windows.recording)
    experts = experts.chosen(np.array([name not in known for name in experts.record], dtype=bool))
    if not experts.record:
        return None
    windows = _windows_of(readings, experts)
    used = [reading for reading in readings if reading.name in set(experts.record)]
    found = _described(used, experts, windows, fitted.kernels, fitted.limits, progress, workers)
    try:
        alike = fitted.likeness(found)
    except ValueError as error:
        raise AuditError(
            "the fitted file was made by another version; fit it anew with `validate FOLDER --fit FILE`"
        ) from error
    judged = _judged(experts, windows, fitted.classes(alike), fitted.probabilities(alike), settings, HELD_OUT)
    return replace(judged, fitted_on=(len(fitted.windows.recording), len(known)), card=fitted.card)


def fifths_of(probabilities: FloatArray, shares: FloatArray) -> tuple[Fifth, ...]:
    """Predicted and observed shares of each class by fifths of the predicted one, shapes (n, 3)."""
    found = []
    for k in range(CLASSES):
        order = np.argsort(probabilities[:, k], kind="stable")
        for part in np.array_split(order, FIFTHS):
            if part.size:
                said, given = float(probabilities[part, k].mean()), float(shares[part, k].mean())
                found.append(Fifth(k, said, given, int(part.size)))
    return tuple(found)


def _judged(
    experts: ExpertTable,
    windows: Sequence[WindowReading],
    classes: IntArray,
    probabilities: FloatArray,
    settings: ValidateSettings,
    basis: str,
) -> SecondOnFolder:
    seen = np.array([w.seen_fraction for w in windows])
    codes = np.where(seen >= settings.fit_signal_seen_fraction, classes, NOT_ASSESSABLE).astype(np.int64)
    consensus = consensus_of(experts.codes, settings)
    votes = _votes(experts)
    known = votes.sum(axis=1) > 0
    shares = votes[known] / votes[known].sum(axis=1, keepdims=True)
    against = compare(codes, consensus, experts.record, settings)
    off = (consensus >= 0) & (codes < CLASSES) & (np.abs(codes - consensus) == 2)
    return SecondOnFolder(
        experts=experts,
        codes=codes,
        probabilities=probabilities,
        basis=basis,
        against_all=against,
        equal=on_equal_footing(codes, experts, settings),
        fifths=fifths_of(probabilities[known], shares),
        off_by_two=int(off.sum()),
    )


def _votes(experts: ExpertTable) -> IntArray:
    """How many experts gave each class, shape (n, 3)."""
    return np.stack([(experts.codes == code).sum(axis=1) for code in range(CLASSES)], axis=1).astype(np.int64)


def _windows_of(readings: Sequence[RecordReading], experts: ExpertTable) -> list[WindowReading]:
    by_window = {(r.name, w.step): w for r in readings for w in r.windows}
    return [by_window[key] for key in zip(experts.record, experts.step, strict=True)]


def _looked_at(reading: RecordReading) -> FloatArray:
    """The stretch of a recording's first phase that its windows and the half hours before them cover."""
    spans = [hour_of((w.start_s, w.end_s)) for w in reading.windows]
    first, last = min(a for a, _ in spans), max(b for _, b in spans)
    return reading.aways_1hz[0][int(first) : int(last)]


def _fitted_windows(
    experts: ExpertTable, windows: Sequence[WindowReading], votes: IntArray, settings: ValidateSettings
) -> FittedWindows:
    return FittedWindows(
        recording=experts.record,
        start_s=np.array([w.start_s for w in windows]),
        end_s=np.array([w.end_s for w in windows]),
        votes=votes,
        rules=np.array([w.codes[settings.headline_standard] for w in windows], dtype=np.int64),
    )


def _described(
    used: Sequence[RecordReading],
    experts: ExpertTable,
    windows: Sequence[WindowReading],
    kernels: Kernels,
    limits: FloatArray,
    progress: Report | None,
    workers: int | None,
) -> Described:
    """The windows with their convolutions, counted in worker processes."""
    report = progress or (lambda done, total: None)
    row_of = {key: k for k, key in enumerate(zip(experts.record, experts.step, strict=True))}
    shapes = np.full((len(windows), kernels.size), np.nan)
    count = partial(_shapes, kernels=kernels, limits=limits)
    every = processes.in_order(count, used, workers=processes.cores(workers, len(used)))
    for done, (reading, found) in enumerate(zip(used, every, strict=True), start=1):
        for window, row in zip(reading.windows, found, strict=True):
            place = row_of.get((reading.name, window.step))
            if place is not None:
                shapes[place] = row
        report(done, len(used))
    return Described(
        used[0].names,
        np.array([w.numbers for w in windows], dtype=np.float64),
        np.array([w.hour_numbers for w in windows], dtype=np.float64),
        shapes,
    )


def _shapes(reading: RecordReading, kernels: Kernels, limits: FloatArray) -> FloatArray:
    return shapes_of(reading.aways_1hz, [(w.start_s, w.end_s) for w in reading.windows], kernels, limits)
