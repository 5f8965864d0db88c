"""What `validate` found, as text and as JSON."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from audit.analysis import made_by
from audit.validate.card import figures_json
from audit.validate.compare import Comparison
from audit.validate.equal_footing import EqualFooting
from audit.validate.footing_words import CLASS_NAMES, footing_json, footing_lines, interval, words_of
from audit.validate.outcomes import PUBLISHED, OutcomeArea, Sorted
from audit.validate.readings import TUNING
from audit.validate.second import SecondOnFolder


@dataclass(frozen=True)
class ReadingComparison:
    """The computed reading under one set of classes against the consensus, whole and by group of windows."""

    standard: str
    whole: Comparison
    by_group: dict[str, Comparison]  # signal quality and step
    equal: EqualFooting | None = None  # panels of all other experts; None = too few experts
    equal_by_stage: dict[str, EqualFooting] = field(default_factory=dict)
    equal_of_seven: EqualFooting | None = None  # the check with odd panels


@dataclass(frozen=True)
class ValidationResult:
    """The computed reading beside the experts, on one part of the folder's records."""

    part: str
    recordings: int
    recordings_in_folder: int
    windows: int  # with a consensus
    headline: str
    readings: dict[str, ReadingComparison]
    experts: dict[str, Comparison]
    areas: list[OutcomeArea]
    consensus: str  # the rule in words
    notes: list[str] = field(default_factory=list)
    sorting: list[Sorted] = field(default_factory=list)
    second: SecondOnFolder | None = None  # the second reading, when one was fitted or switched on
    settings_sha256: str | None = None  # the analysis settings that the records were read with

    @property
    def median_expert(self) -> float | None:
        """Median of the experts' kappas, each against the others."""
        values = [c.kappa_linear.value for c in self.experts.values() if c.kappa_linear.value is not None]
        return float(np.median(values)) if values else None

    def to_json(self) -> dict[str, Any]:
        """The contract's document; numbers that cannot be estimated are null with a note."""
        head = self.readings[self.headline]
        return {
            "part": self.part,
            "recordings": self.recordings,
            **_comparison_json(head.whole),
            "windows_with_consensus": self.windows,
            "standard": self.headline,
            "consensus": self.consensus,
            "confusion": [list(row) for row in head.whole.confusion],
            "readings": [_reading_json(reading) for reading in self.readings.values()],
            "experts": [{"expert": name, **_comparison_json(found)} for name, found in self.experts.items()],
            "median_expert_kappa_linear": self.median_expert,
            "auc": [{name: told for name, told in vars(a).items() if name != "note" or told} for a in self.areas],
            "sorting": [vars(one) for one in self.sorting],
            "published_auc": [vars(p) for p in PUBLISHED],
            "equal_footing": [_equal_json(r) for r in self.readings.values() if r.equal is not None],
            "second_reading": self._second_json(),
            "notes": self.notes,
            "settings_sha256": self.settings_sha256,
            "version": made_by.version(),
            "stale": self._stale(),
        }

    def _stale(self) -> dict[str, Any]:
        """As in every document: here each recording is read anew, so none is out of date when it is written."""
        return {"tracings": self.recordings, "stale": 0, "never_read": 0, "reasons": [], "note": None}

    def _second_json(self) -> dict[str, Any] | None:
        if self.second is None:
            return None
        windows, recordings = self.second.fitted_on
        known = {"fitted_on_windows": windows, "fitted_on_recordings": recordings, **figures_json(self.second)}
        return {**known, "card": self.second.card}

    def table(self) -> str:
        """The same as text."""
        lines = [
            f"{self.recordings} of {self.recordings_in_folder} recordings ({self.part} part), {self.windows} windows "
            f"with a consensus of the experts ({self.consensus}).",
            "",
            "Against the consensus of all experts    kappa (linear), 95 % interval   agreement   windows",
        ]
        for reading in self.readings.values():
            lines.append(_line(f"computed, {reading.standard}", reading.whole))
            lines += [_line(f"  {group}", found) for group, found in reading.by_group.items()]
        for reading in self.readings.values():
            if reading.equal is not None:
                lines += ["", f"Computed, {reading.standard}, on equal footing", *equal_lines(reading, reading.equal)]
        lines += second_lines(self.second, self.part)
        lines += ["", f"Computed ({self.headline}) in rows, consensus in columns: {', '.join(CLASS_NAMES)}"]
        for name, row in zip(CLASS_NAMES, self.readings[self.headline].whole.confusion, strict=True):
            lines.append(f"  {name:<14}" + "".join(f"{value:>6}" for value in row))
        lines += ["", "Measure and outcome                                             AUC, 95 % interval        cases"]
        for a in self.areas:
            cases = f"{a.with_outcome} of {a.with_outcome + a.without}"
            lines.append(f"{a.measure + ' / ' + a.outcome:<74}{interval(a.estimate, a.low, a.high):<20}{cases}")
        lines += sorting_lines(self.sorting)
        lines += ["", "Published:"]
        lines += [
            f"{p.measure + ' / ' + p.outcome:<74}{interval(p.estimate, p.low, p.high):<20}{p.source}" for p in PUBLISHED
        ]
        return "\n".join([*lines, "", *self.notes])


def equal_lines(reading: ReadingComparison, whole: EqualFooting) -> list[str]:
    """One reading on equal footing as text: all windows, each stage, and the check with odd panels."""
    lines = footing_lines(whole)
    for stage, found in reading.equal_by_stage.items():
        lines += [f"  {stage}", *footing_lines(found, short=True)]
    if reading.equal_of_seven is not None:
        lines += ["  check with panels of seven", *footing_lines(reading.equal_of_seven, short=True)]
    return lines


def second_lines(second: SecondOnFolder | None, part: str) -> list[str]:
    """The second reading on all windows that it had not seen, with its calibration; the reporting part has both."""
    if second is None:
        return []
    lines = [
        "",
        f"Second reading, fitted on {second.fitted_on[0]} windows of {second.fitted_on[1]} recordings; {second.basis}.",
        _line(f"  against all experts, {'tuning part' if part == TUNING else 'both parts'}", second.against_all),
        *([] if second.equal is None or part == TUNING else footing_lines(second.equal)),
        f"  windows off by two classes: {second.off_by_two}",
        "  predicted / observed share of the experts, by fifths",
    ]
    for k, name in enumerate(CLASS_NAMES):
        parts = "  ".join(f"{one.predicted:.2f}/{one.observed:.2f}" for one in second.fifths if one.category == k)
        lines.append(f"    {name:<14}{parts}")
    return lines


def sorting_lines(sorting: list[Sorted]) -> list[str]:
    """How little the measures that sort births say of one newborn."""
    return [
        f"For sorting only: of the {s.first} births that area and loss together put first, {s.first_with_outcome} had"
        f" {s.outcome} ({s.share:.0%}, {s.low:.0%} to {s.high:.0%}); {s.missed} of the {s.with_outcome} that had it"
        " were not among them."
        for s in sorting
    ]


def _reading_json(reading: ReadingComparison) -> dict[str, Any]:
    return {
        "standard": reading.standard,
        **_comparison_json(reading.whole),
        "confusion": [list(row) for row in reading.whole.confusion],
        "groups": [{"group": name, **_comparison_json(found)} for name, found in reading.by_group.items()],
    }


def _equal_json(reading: ReadingComparison) -> dict[str, Any]:
    assert reading.equal is not None
    return {
        "standard": reading.standard,
        **footing_json(reading.equal),
        "stages": [{"stage": stage, **footing_json(found)} for stage, found in reading.equal_by_stage.items()],
        "odd_panels": None if reading.equal_of_seven is None else footing_json(reading.equal_of_seven),
    }


def _comparison_json(found: Comparison) -> dict[str, Any]:
    kappa = found.kappa_linear
    return {
        "windows": found.windows,
        "not_assessable": found.not_assessable,
        "kappa_linear": kappa.value,
        "kappa_linear_low": kappa.low,
        "kappa_linear_high": kappa.high,
        "agreement": found.agreement.value,
        **({"note": kappa.note} if kappa.note else {}),
    }


def _line(name: str, found: Comparison) -> str:
    agreement = "" if found.agreement.value is None else f"{found.agreement.value:.0%}"
    refused = f" ({found.not_assessable} not assessable)" if found.not_assessable else ""
    return f"{name:<40}{words_of(found.kappa_linear):<32}{agreement:<12}{found.windows}{refused}"
