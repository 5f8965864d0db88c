"""The truth of a drawn tracing: what was drawn, not what any reading would find."""

from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from synthetic_cases.plan import SAMPLE_RATE_HZ
from synthetic_cases.shapes import FloatArray


class Artefact(IntEnum):
    """What was done to a sample. 0 is untouched."""

    NONE = 0
    LOSS = 1
    HALVED = 2
    DOUBLED = 3
    SPIKE = 4
    MATERNAL_RATE = 5


@dataclass(frozen=True)
class TrueContraction:
    """Onset and end where the drawn pressure passes 5 % of its own height; the highest drawn point is the peak."""

    onset_s: float
    peak_s: float
    end_s: float
    amplitude: float
    visible: bool  # the toco was working and its gain let it be seen


@dataclass(frozen=True)
class TrueDeceleration:
    """Onset and end where the drawn fall passes 1 bpm; `nadir_s` is its first deepest point."""

    onset_s: float
    nadir_s: float
    end_s: float
    depth_bpm: float
    area_bpm_s: float  # integral of the drawn fall, lost samples included
    kind: str
    nadir_begin_s: float  # first within 2 bpm of the deepest
    contraction_peak_s: float | None
    seen_fraction: float  # share of its samples that no artefact touched
    seen_area_bpm_s: float  # the same integral over the samples that no artefact touched
    open_end: bool  # the tracing ended before the recovery was complete


@dataclass(frozen=True)
class TrueAcceleration:
    """Onset and end where the drawn rise passes 1 bpm."""

    onset_s: float
    peak_s: float
    end_s: float
    height_bpm: float
    seen_fraction: float


@dataclass(frozen=True)
class TrueLevelChange:
    """A fall of 10 minutes or more: the baseline itself changes."""

    onset_s: float
    end_s: float
    from_bpm: float
    to_bpm: float


@dataclass(frozen=True)
class TrueSinusoidal:
    start_s: float
    end_s: float
    cycles_per_min: float
    peak_to_trough_bpm: float


@dataclass(frozen=True)
class Truth:
    """What was drawn. Arrays: `*_4hz` one per sample, `*_1min` one per whole minute."""

    duration_s: float
    contractions: tuple[TrueContraction, ...]
    decelerations: tuple[TrueDeceleration, ...]
    accelerations: tuple[TrueAcceleration, ...]
    level_changes: tuple[TrueLevelChange, ...]
    sinusoidal: tuple[TrueSinusoidal, ...]
    baseline_bpm_4hz: FloatArray
    clean_fhr_bpm_4hz: FloatArray  # before sensor and artefacts
    artefact_4hz: NDArray[np.uint8]  # Artefact codes
    toco_usable_4hz: NDArray[np.bool_]
    variability_1min_bpm: FloatArray  # 5th to 95th percentile of the drawn fluctuation, 1-second means
    variability_range_1min_bpm: FloatArray  # highest minus lowest of the same

    def as_document(self) -> dict[str, Any]:
        """A JSON-ready form: events in full, courses by the minute, artefacts as shares."""
        minutes = self.variability_1min_bpm.size
        per_minute = int(60 * SAMPLE_RATE_HZ)
        baseline = self.baseline_bpm_4hz[: minutes * per_minute].reshape(minutes, per_minute).mean(axis=1)
        names = {a.name.lower(): float(np.mean(self.artefact_4hz == a)) for a in Artefact}
        events = {
            name: [_rounded(vars(event)) for event in getattr(self, name)]
            for name in ("contractions", "decelerations", "accelerations", "level_changes", "sinusoidal")
        }
        return {
            "duration_s": self.duration_s,
            **events,
            "baseline_1min_bpm": [round(float(v), 2) for v in baseline],
            "variability_1min_bpm": [round(float(v), 2) for v in self.variability_1min_bpm],
            "artefact_fractions": {k: round(v, 5) for k, v in names.items()},
        }


def _rounded(record: dict[str, Any]) -> dict[str, Any]:
    return {k: round(v, 3) if isinstance(v, float) else v for k, v in record.items()}
