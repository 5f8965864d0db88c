"""Every reader held against the same judges: panels of the other experts, on the same windows.

A panel of nine keeps windows that a panel of eight loses to ties, so an expert (judged by the other eight) and the
computed reading (judged by all nine) must not be compared. Here the computed reading takes each expert's chair in turn:
both are held against the same panel, on the windows that both classed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from audit.agreement.resampling import Estimate, estimate, resample, sums_by_case
from audit.agreement.scales import agreement_weights
from audit.agreement.two_readers import cohen_kappa
from audit.setting_tables.validate import ValidateSettings
from audit.standards.types import FloatArray
from audit.validate.compare import CLASSES, WHY_NONE, ExpertTable, IntArray, consensus_of, rule_of

_CELLS = CLASSES * CLASSES


@dataclass(frozen=True)
class Chair:
    """One expert and the reading in that expert's place, against the panel of the others."""

    expert: Estimate  # kappa
    reading: Estimate
    difference: Estimate  # reading minus expert
    windows: int


@dataclass(frozen=True)
class ClassShares:
    """How much of a class is found, and how much of what is called so is of it; means over the panels."""

    recall: Estimate
    precision: Estimate


@dataclass(frozen=True)
class EqualFooting:
    """The computed reading beside the experts, on equal footing. Kappas are linear weighted."""

    panel: int  # experts on a panel
    windows: int  # mean over the panels
    reading: Estimate  # mean over the panels
    experts: Estimate  # mean of the experts' own
    median_expert: Estimate
    best_expert: Estimate
    best_name: str
    over_mean: Estimate  # reading minus the mean expert
    over_median: Estimate
    over_best: Estimate
    chairs: Mapping[str, Chair]
    reading_classes: tuple[ClassShares, ...]  # mildest class first
    expert_classes: tuple[ClassShares, ...]  # of all experts together


def on_equal_footing(
    codes: IntArray, experts: ExpertTable, settings: ValidateSettings, *, panel: int | None = None
) -> EqualFooting | None:
    """The reading and each expert against the same panels; None with fewer than four experts.

    `codes`: shape (n,), the reading's classes, 0 to 2; anything else = the reading has none. `experts`: the experts'
    classes of the same windows. `settings`: the `[validate]` table: consensus, intervals. `panel`: experts on a panel,
    of those that are left without the one in whose place the reading is put; None = all of them. With fewer, every such
    panel is taken and the kappas of one chair are averaged.

    Linear weighted kappa (Cohen 1968). Intervals: bootstrap over recordings, the same draws for every reader and panel,
    so differences are paired (Davison & Hinkley 1997, section 3.8, from memory).
    """
    count = len(experts.experts)
    size = count - 1 if panel is None else panel
    if count < 4 or not 1 <= size < count:
        return None
    places = {name: k for k, name in enumerate(sorted(set(experts.record)))}
    case = np.array([places[name] for name in experts.record], dtype=np.int64)
    tables, windows, chair_of = [], [], []
    for k in range(count):
        for members in combinations([j for j in range(count) if j != k], size):
            judged = consensus_of(experts.codes[:, list(members)], settings)
            chair = experts.codes[:, k]
            usable = _classed(judged) & _classed(chair) & _classed(codes)
            tables += [_one_hot(chair, judged, usable), _one_hot(codes, judged, usable)]
            windows.append(int(usable.sum()))
            chair_of.append(k)
    sums = sums_by_case(np.concatenate(tables, axis=1), case, len(places))
    drawn = resample([sums], settings.draws, settings.seed)[0] if places else np.zeros((0, sums.shape[1]))
    shape = (-1, len(chair_of), 2, CLASSES, CLASSES)
    every = np.concatenate([sums.sum(axis=0)[None, :], drawn]).reshape(shape)
    chairs = np.array(chair_of)
    kappa = cohen_kappa(every, agreement_weights("linear", CLASSES))  # (1 + draws, panels, 2)
    # (1 + draws, experts, 2)
    by_chair: FloatArray = np.stack([kappa[:, chairs == k].mean(axis=1) for k in range(count)], axis=1)
    maker = _Maker(settings, len(places), int(np.mean(windows)) if windows else 0)
    own, put = by_chair[..., 0], by_chair[..., 1]
    reading, mean = put.mean(axis=1), own.mean(axis=1)
    median: FloatArray = np.median(own, axis=1).astype(float)
    best = int(np.argmax(np.where(np.isfinite(own[0]), own[0], -np.inf)))
    return EqualFooting(
        panel=size,
        windows=maker.windows,
        reading=maker.of(reading),
        experts=maker.of(mean),
        median_expert=maker.of(median),
        best_expert=maker.of(own[:, best]),
        best_name=experts.experts[best],
        over_mean=maker.of(reading - mean),
        over_median=maker.of(reading - median),
        over_best=maker.of(put[:, best] - own[:, best]),
        chairs={
            name: Chair(
                maker.of(own[:, k]),
                maker.of(put[:, k]),
                maker.of(put[:, k] - own[:, k]),
                int(np.mean([n for n, c in zip(windows, chair_of, strict=True) if c == k])),
            )
            for k, name in enumerate(experts.experts)
        },
        reading_classes=_class_shares(every[:, :, 1], maker),
        expert_classes=_class_shares(every[:, :, 0], maker),
    )


def by_stage(
    codes: IntArray, experts: ExpertTable, settings: ValidateSettings, stages: Mapping[str, tuple[str, ...]]
) -> dict[str, EqualFooting]:
    """The same for the windows of each stage; `stages` names the steps of each."""
    found = {}
    for name, steps in stages.items():
        keep = np.array([step in steps for step in experts.step], dtype=bool)
        one = on_equal_footing(codes[keep], experts.chosen(keep), settings) if keep.any() else None
        if one is not None:
            found[name] = one
    return found


@dataclass(frozen=True)
class _Maker:
    """Figures with intervals from a value and its resamples."""

    settings: ValidateSettings
    cases: int
    windows: int

    def of(self, values: FloatArray) -> Estimate:
        """The first value with the interval of the others."""
        rule = rule_of(self.settings)
        return estimate(float(values[0]), values[1:], n=self.windows, cases=self.cases, rule=rule, undefined=WHY_NONE)


def _class_shares(tables: FloatArray, maker: _Maker) -> tuple[ClassShares, ...]:
    """Recall and precision of each class from tables of all panels together, shape (1 + draws, panels, 3, 3)."""
    pooled = tables.sum(axis=1)
    hit = np.diagonal(pooled, axis1=-2, axis2=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        recall, precision = hit / pooled.sum(axis=-2), hit / pooled.sum(axis=-1)
    return tuple(ClassShares(maker.of(recall[:, k]), maker.of(precision[:, k])) for k in range(CLASSES))


def _classed(codes: IntArray) -> np.ndarray:
    return np.asarray((codes >= 0) & (codes < CLASSES))


def _one_hot(rows: IntArray, columns: IntArray, usable: np.ndarray) -> FloatArray:
    """One 3 x 3 table a window, laid flat, shape (n, 9); rows the reader, columns the panel; 0 where not usable."""
    table = np.zeros((rows.size, _CELLS))
    at = np.flatnonzero(usable)
    table[at, rows[at] * CLASSES + columns[at]] = 1.0
    return table
