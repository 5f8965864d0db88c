"""A fitted second reading: probabilities for windows, and the fitted windows that are most like them."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audit.second_reading.calibration import Calibration, middle_class
from audit.second_reading.convolutions import Kernels
from audit.second_reading.described import Described
from audit.second_reading.gaussian_process import Scaling, likeness
from audit.standards.types import FloatArray, IntArray

CLASS_NAMES = ("normal", "suspicious", "pathological")
# Of the method: how much each block of numbers counts, and how far likeness reaches in it. Chosen by cross-validation
# by recording on the tuning part of the open database.
SHARES = (0.5, 0.3, 0.2)
WIDTHS = (1.3, 1.3, 1.5)


@dataclass(frozen=True)
class FittedWindows:
    """The windows it was fitted on, with what the experts said of them."""

    recording: tuple[str, ...]  # (n,)
    start_s: FloatArray  # (n,)
    end_s: FloatArray  # (n,)
    votes: IntArray  # (n, 3), experts who gave each class, mildest first
    rules: IntArray  # (n,), class by rules, 3 = not assessable


@dataclass(frozen=True)
class Alike:
    """A fitted window that resembles the one that is read."""

    recording: str
    start_s: float
    end_s: float
    likeness: float  # 0 to 1
    votes: tuple[int, int, int]


@dataclass(frozen=True)
class FittedReading:
    """Everything that a fitted file holds."""

    names: tuple[str, ...]  # of the numbers
    kernels: Kernels
    limits: FloatArray  # (n_kernels,)
    scalings: tuple[Scaling, Scaling, Scaling]
    points: tuple[FloatArray, FloatArray, FloatArray]  # the fitted windows' scaled blocks
    weights: FloatArray  # (n,) of the fitted windows in the mean
    level: float  # mean of the fitted targets
    calibration: Calibration
    windows: FittedWindows
    card: dict[str, Any] = field(default_factory=dict)

    def likeness(self, found: Described) -> FloatArray:
        """How much each window resembles each fitted one, shape (n, n_fitted), 0 to 1.

        Raises ValueError when the windows are described by other numbers.
        """
        if found.names != self.names:
            raise ValueError("described by other numbers")
        scaled = [scaling(block) for scaling, block in zip(self.scalings, found.blocks, strict=True)]
        return joint_likeness(scaled, self.points)

    def scores(self, likeness: FloatArray) -> FloatArray:
        """Expected mean class of the experts, shape (n,), 0 = normal to 2 = pathological."""
        result: FloatArray = self.level + likeness @ self.weights
        return result

    def probabilities(self, likeness: FloatArray) -> FloatArray:
        """Share of the experts who would give each class, mildest first, shape (n, 3)."""
        return self.calibration.probabilities(self.scores(likeness))

    def classes(self, likeness: FloatArray) -> IntArray:
        """The middle expert's class of each window, shape (n,)."""
        return middle_class(self.probabilities(likeness))

    def most_alike(self, likeness: FloatArray, count: int, *, without: str = "") -> list[Alike]:
        """The fitted windows that one window, shape (n_fitted,), resembles most, one of each recording.

        `without` names a recording that is left out: a window is no evidence for itself.
        """
        found: list[Alike] = []
        taken = {without}
        for k in np.argsort(-likeness, kind="stable").tolist():
            name = self.windows.recording[k]
            if name in taken:
                continue
            taken.add(name)
            first, second, third = self.windows.votes[k].tolist()
            span = float(self.windows.start_s[k]), float(self.windows.end_s[k])
            found.append(Alike(name, *span, float(likeness[k]), (first, second, third)))
            if len(found) == count:
                break
        return found


def joint_likeness(left: Sequence[FloatArray], right: Sequence[FloatArray]) -> FloatArray:
    """The kernel of two sets of scaled blocks: a sum of one radial basis function a block, shape (n_left, n_right)."""
    parts = [share * likeness(a, b, width) for share, width, a, b in zip(SHARES, WIDTHS, left, right, strict=True)]
    result: FloatArray = np.sum(parts, axis=0)
    return result
