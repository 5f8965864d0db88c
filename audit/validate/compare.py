"""Classes against classes: kappa of the computed reading and of each expert, with intervals over recordings."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.agreement.consensus import consensus_codes
from audit.agreement.options import IntervalRule
from audit.agreement.reads import MISSING
from audit.agreement.resampling import Estimate, estimate, resample, sums_by_case
from audit.agreement.scales import agreement_weights
from audit.agreement.two_readers import cohen_kappa, observed_agreement
from audit.setting_tables.validate import ValidateSettings

IntArray = NDArray[np.int64]
CLASSES = 3
NOT_ASSESSABLE = CLASSES
WHY_NONE = "No value: no window has both a class and a consensus, or all fall into one class."


@dataclass(frozen=True)
class ExpertTable:
    """Experts' classes of n windows. MISSING = none."""

    record: tuple[str, ...]  # (n,)
    step: tuple[str, ...]  # (n,)
    experts: tuple[str, ...]  # (m,)
    codes: IntArray  # (n, m)

    def chosen(self, keep: NDArray[np.bool_]) -> "ExpertTable":
        """The same table with some of its windows."""
        rows = np.flatnonzero(keep).tolist()
        return ExpertTable(
            tuple(self.record[k] for k in rows), tuple(self.step[k] for k in rows), self.experts, self.codes[keep]
        )


@dataclass(frozen=True)
class Comparison:
    """One reader against a consensus."""

    kappa_linear: Estimate
    agreement: Estimate
    windows: int
    confusion: tuple[tuple[int, ...], ...]  # rows the reader, columns the consensus, mildest first
    not_assessable: int = 0  # windows with a consensus that the reader did not class


def rule_of(settings: ValidateSettings) -> IntervalRule:
    """When an interval over recordings is given, by the settings."""
    return IntervalRule(
        level=settings.interval_level,
        cases_min=settings.interval_recordings_min,
        cases_firm=settings.interval_recordings_firm,
        undefined_fraction_max=settings.undefined_fraction_max,
    )


def consensus_of(codes: IntArray, settings: ValidateSettings) -> IntArray:
    """The experts' consensus per window by the rule of the settings; MISSING where there is none."""
    return consensus_codes(
        codes,
        CLASSES,
        rule=settings.consensus_rule,
        ties=settings.consensus_ties,
        readers_min=settings.consensus_readers_min,
    )


def compare(codes: IntArray, consensus: IntArray, record: tuple[str, ...], settings: ValidateSettings) -> Comparison:
    """A reader's classes against a consensus.

    `codes`: shape (n,), 0 to 2, NOT_ASSESSABLE, or MISSING for windows that the reader did not see. `consensus`: shape
    (n,), 0 to 2, MISSING = none. `record`: n names; windows of one recording are resampled together. `settings`: the
    `[validate]` table.

    Linear weighted kappa (Cohen 1968); percentile interval of a bootstrap over recordings.
    """
    wanted = (consensus >= 0) & (consensus < CLASSES) & (codes != MISSING)
    both = wanted & (codes >= 0) & (codes < CLASSES)
    names = sorted({record[k] for k in np.flatnonzero(both)})
    place = {name: k for k, name in enumerate(names)}
    index = np.array([place[record[k]] for k in np.flatnonzero(both)], dtype=np.int64)
    cell = codes[both] * CLASSES + consensus[both]
    one_hot = np.zeros((cell.size, CLASSES * CLASSES))
    one_hot[np.arange(cell.size), cell] = 1.0
    total = one_hot.sum(axis=0).reshape(CLASSES, CLASSES)
    if names:
        sums = sums_by_case(one_hot, index, len(names))
        drawn = resample([sums], settings.draws, settings.seed)[0].reshape(-1, CLASSES, CLASSES)
    else:
        drawn = np.zeros((0, CLASSES, CLASSES))
    weights = agreement_weights("linear", CLASSES)
    told: dict[str, Any] = {"n": int(both.sum()), "cases": len(names), "rule": rule_of(settings), "undefined": WHY_NONE}
    return Comparison(
        kappa_linear=estimate(float(cohen_kappa(total, weights)), cohen_kappa(drawn, weights), **told),
        agreement=estimate(float(observed_agreement(total)), observed_agreement(drawn), **told),
        windows=int(both.sum()),
        confusion=tuple(tuple(int(v) for v in row) for row in total),
        not_assessable=int((wanted & (codes == NOT_ASSESSABLE)).sum()),
    )


def each_expert(experts: ExpertTable, settings: ValidateSettings) -> dict[str, Comparison]:
    """Each expert against the consensus of the others, by the same rule."""
    return {
        name: compare(
            experts.codes[:, k], consensus_of(np.delete(experts.codes, k, axis=1), settings), experts.record, settings
        )
        for k, name in enumerate(experts.experts)
    }
