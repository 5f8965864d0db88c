"""How well measures of the tracing tell births with a low arterial pH from the others, beside published figures."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import rankdata

from audit.measures.proportions import wilson_interval
from audit.measures.roc import roc_area
from audit.setting_tables.validate import ValidateSettings
from audit.validate.readings import AREA_PER_HOUR, SHARE_LOST, RecordReading

# Inclusive, as the database is usually split. Not a setting: the figures stand beside published ones for these cuts.
OUTCOMES = {"pH <= 7.05": 7.05, "pH <= 7.15": 7.15}
TOGETHER = "area per seen hour and share lost together, last 60 min"
TOP_FRACTION = 0.2  # of the births, those that a sorting puts first; our choice


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


@dataclass(frozen=True)
class Sorted:
    """The births that a measure puts first, and how few of them had the outcome: what it says of one newborn."""

    measure: str
    outcome: str
    first: int  # births in the first fifth
    first_with_outcome: int
    share: float
    low: float
    high: float
    missed: int  # births with the outcome outside the first fifth
    with_outcome: int


def outcome_areas(readings: Sequence[RecordReading], settings: ValidateSettings) -> list[OutcomeArea]:
    """Every measure against every outcome; records without pH or without the measure are left out.

    DeLong's interval (DeLong 1988). A measure that cannot be estimated comes with a note.
    """
    found = []
    for outcome in OUTCOMES:
        for measure, values in _measured(readings).items():
            pairs = _pairs(values, readings, outcome)
            found.append(_area(measure, outcome, pairs, settings.interval_level))
    return found


def sorted_births(readings: Sequence[RecordReading], settings: ValidateSettings) -> list[Sorted]:
    """Of the births that area and loss together put into the first fifth, how many had each outcome.

    Wilson's interval (Wilson 1927). Nothing for an outcome that no birth has.
    """
    found = []
    values = _measured(readings).get(TOGETHER, {})
    for outcome in OUTCOMES:
        pairs = sorted(_pairs(values, readings, outcome), key=lambda pair: -pair[0])
        total = sum(low for _, low in pairs)
        if not total:
            continue
        first = max(round(TOP_FRACTION * len(pairs)), 1)
        hit = sum(low for _, low in pairs[:first])
        low, high = wilson_interval(hit, first, settings.interval_level)
        found.append(Sorted(TOGETHER, outcome, first, hit, hit / first, low, high, total - hit, total))
    return found


def _measured(readings: Sequence[RecordReading]) -> dict[str, dict[str, float]]:
    """The value of each measure by record, those without one left out; area and loss together among them.

    'Together' is the mean of the two ranks among the records that have both: an order and nothing more.
    """
    found: dict[str, dict[str, float]] = {}
    for reading in readings:
        for measure, value in reading.measures.items():
            if value is not None:
                found.setdefault(measure, {})[reading.name] = value
    area, lost = found.get(AREA_PER_HOUR, {}), found.get(SHARE_LOST, {})
    both = [name for name in area if name in lost]
    if both:
        ranks = rankdata([area[name] for name in both]) + rankdata([lost[name] for name in both])
        found[TOGETHER] = dict(zip(both, (ranks / 2.0).tolist(), strict=True))
    return dict(sorted(found.items()))


def _pairs(values: dict[str, float], readings: Sequence[RecordReading], outcome: str) -> list[tuple[float, bool]]:
    limit = OUTCOMES[outcome]
    return [(values[r.name], r.ph <= limit) for r in readings if r.ph is not None and r.name in values]


def _area(measure: str, outcome: str, pairs: list[tuple[float, bool]], level: float) -> OutcomeArea:
    positive = np.array([low for _, low in pairs], dtype=bool)
    cases, others = int(positive.sum()), int((~positive).sum())
    if not cases or not others:
        note = "No value: births with and without the outcome are needed."
        return OutcomeArea(measure, outcome, None, None, None, cases, others, note)
    area = roc_area(np.array([value for value, _ in pairs], dtype=float), positive, level=level)
    return OutcomeArea(measure, outcome, area.area, area.low, area.high, cases, others)
