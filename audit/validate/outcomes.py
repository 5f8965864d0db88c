"""How well measures of the tracing tell births with a low arterial pH from the others, beside published figures."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audit.measures.roc import roc_area
from audit.setting_tables.validate import ValidateSettings
from audit.validate.readings import RecordReading

# Inclusive, as the database is usually split. Not a setting: the figures stand beside published ones for these cuts.
OUTCOMES = {"pH <= 7.05": 7.05, "pH <= 7.15": 7.15}


@dataclass(frozen=True)
class OutcomeArea:
    """Area under the ROC curve of one measure for one outcome; more of the measure is taken to go with it."""

    measure: str
    outcome: str
    estimate: float | None
    low: float | None
    high: float | None
    with_outcome: int
    without: int
    note: str | None = None


@dataclass(frozen=True)
class PublishedArea:
    """A published area under the ROC curve for a computed or measured burden."""

    measure: str
    outcome: str
    estimate: float
    low: float | None
    high: float | None
    source: str


PUBLISHED = (
    PublishedArea("total deceleration area, last 30 min", "acidaemia", 0.60, None, None, "Strachan 2001, n 679"),
    PublishedArea("cumulative deceleration area", "base deficit > 12", 0.702, 0.655, 0.749, "Furukawa 2021, n 1630"),
    PublishedArea(
        "deceleration area, last 30 min", "pH <= 7.10 and BD > 8", 0.83, None, None, "Marti Gamboa 2017, n 204"
    ),
    PublishedArea("triangle area, last 120 min", "pH <= 7.10", 0.76, 0.72, 0.80, "Cahill 2018, n 8580 (from memory)"),
    PublishedArea(
        "minimal variability, last 30 min", "pH <= 7.10 and BD > 8", 0.74, None, None, "Marti Gamboa 2017, n 204"
    ),
    PublishedArea("variability", "base deficit > 12", 0.611, None, None, "Furukawa 2021, n 1630"),
)


def outcome_areas(readings: Sequence[RecordReading], settings: ValidateSettings) -> list[OutcomeArea]:
    """Every measure against every outcome; records without pH or without the measure are left out.

    DeLong's interval (DeLong 1988). A measure that cannot be estimated comes with a note.
    """
    measures = sorted({name for reading in readings for name in reading.measures})
    found = []
    for outcome, limit in OUTCOMES.items():
        for measure in measures:
            pairs = [
                (reading.measures[measure], reading.ph <= limit)
                for reading in readings
                if reading.ph is not None and reading.measures.get(measure) is not None
            ]
            found.append(_area(measure, outcome, pairs, settings.interval_level))
    return found


def _area(measure: str, outcome: str, pairs: list[tuple[float | None, bool]], level: float) -> OutcomeArea:
    positive = np.array([low for _, low in pairs], dtype=bool)
    cases, others = int(positive.sum()), int((~positive).sum())
    if not cases or not others:
        note = "No value: births with and without the outcome are needed."
        return OutcomeArea(measure, outcome, None, None, None, cases, others, note)
    area = roc_area(np.array([value for value, _ in pairs], dtype=float), positive, level=level)
    return OutcomeArea(measure, outcome, area.area, area.low, area.high, cases, others)
