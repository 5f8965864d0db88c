"""The fitted second reading of one tracing: windows that readers read, and a lane of half hours every ten minutes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from audit.second_reading.described import Described, Span, labours_of, numbers_of, shapes_of
from audit.second_reading.differences import differing_numbers
from audit.second_reading.model import CLASS_NAMES, FittedReading
from audit.settings import AnalysisSettings
from audit.standards.registry import FORMER_STANDARDS, STANDARDS
from audit.standards.seen import Seen
from audit.tracing.types import Reading, Tracing

LANE_STEP_S, LANE_LENGTH_S = 600.0, 1800.0  # the experts' windows were half hours; other lengths are no such reading
ALIKE = 3  # fitted windows shown as evidence
SHARES = ("normal_fraction", "suspicious_fraction", "pathological_fraction")


@dataclass(frozen=True)
class SecondRows:
    """The rows of each table of a second reading, on the case's clock."""

    second_readings: list[dict[str, Any]]  # of the windows that readers read
    second_reading_lane: list[dict[str, Any]]
    second_reading_evidence: list[dict[str, Any]]


def second_rows(
    fitted: FittedReading | None,
    tracing: Tracing | None,
    seen: Seen,
    settings: AnalysisSettings,
    *,
    case_id: str,
    start_s: float,
    read_spans: Sequence[Span],
) -> SecondRows:
    """What a fitted reading makes of a tracing; nothing unless the unit switched one on.

    `tracing`: the samples, which are read again by phases; None where none is switched on. `seen`: their reading by
    rules. `start_s`: of the first sample, on the case's clock. `read_spans`: the windows that readers read, on the
    case's clock.
    """
    found = SecondRows([], [], [])
    if fitted is None or tracing is None:
        return found
    reading = seen.reading
    # by (start, end) on the case's clock: the same on the reading's, which may be cut where the tracing ends
    wanted: dict[Span, Span] = {}
    for first_s, last_s in sorted(set(read_spans)):
        wanted[first_s, last_s] = max(first_s - start_s, 0.0), min(last_s - start_s, reading.duration_s)
    of_lane = []
    for first_s in np.arange(0.0, reading.duration_s - LANE_LENGTH_S + 1e-6, LANE_STEP_S).tolist():
        span = start_s + first_s, start_s + first_s + LANE_LENGTH_S
        of_lane.append(span)
        wanted.setdefault(span, (first_s, first_s + LANE_LENGTH_S))
    least = settings.validate.fit_signal_seen_fraction
    spans = {key: span for key, span in wanted.items() if span[1] > span[0] and _seen_fraction(reading, span) >= least}
    if not spans:
        return found
    rows = _read(fitted, tracing, seen, settings, spans, case_id, found.second_reading_evidence)
    found.second_readings.extend(rows[span] for span in sorted(set(read_spans)) if span in rows)
    found.second_reading_lane.extend(rows[span] for span in of_lane if span in rows)
    return found


def _read(
    fitted: FittedReading,
    tracing: Tracing,
    seen: Seen,
    settings: AnalysisSettings,
    spans: Mapping[Span, Span],
    case_id: str,
    evidence: list[dict[str, Any]],
) -> dict[Span, dict[str, Any]]:
    """A row for each window by its span on the case's clock; the evidence is added to the list."""
    labours = labours_of(tracing, settings.tracing, settings.of_standards, like=seen)
    inner = list(spans.values())
    shapes = shapes_of([one.away_1hz for one in labours], inner, fitted.kernels, fitted.limits)
    described = Described(*numbers_of(labours, inner), shapes)
    alike = fitted.likeness(described)
    chances, classes = fitted.probabilities(alike), fitted.classes(alike)
    standard = settings.validate.headline_standard
    by_rules = {**STANDARDS, **FORMER_STANDARDS}[standard]
    rows = {}
    for row, ((first_s, last_s), span) in enumerate(spans.items()):
        said = by_rules.window_category(seen.reading, *span, settings.of_standards[standard], seen=seen).category
        rules = CLASS_NAMES.index(said) if said in CLASS_NAMES else -1
        category = int(classes[row])
        rows[first_s, last_s] = {
            "start_s": first_s,
            "end_s": last_s,
            "category": CLASS_NAMES[category],
            **dict(zip(SHARES, chances[row].tolist(), strict=True)),
            "rules_category": said,
            "differs_by": differing_numbers(fitted, described, row, rules=rules, category=category),
            "fitted_on_this": case_id in fitted.windows.recording,
            "fitted_on_windows": len(fitted.windows.recording),
        }
        for place, one in enumerate(fitted.most_alike(alike[row], ALIKE, without=case_id), start=1):
            evidence.append(
                {
                    "start_s": first_s,
                    "end_s": last_s,
                    "place": place,
                    "recording": one.recording,
                    "recording_start_s": one.start_s,
                    "recording_end_s": one.end_s,
                    "likeness_fraction": one.likeness,
                    **dict(zip(("normal", "suspicious", "pathological"), one.votes, strict=True)),
                }
            )
    return rows


def _seen_fraction(reading: Reading, span: Span) -> float:
    part = reading.fhr_1hz[int(span[0]) : int(span[1])]
    return float(np.isfinite(part).mean()) if part.size else 0.0
