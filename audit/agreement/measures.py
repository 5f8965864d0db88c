"""The figures over all readers of a grid, each with its interval and, where there is none, the reason."""

from collections.abc import Callable

import numpy as np

from audit.agreement import many_readers, measured
from audit.agreement.arrays import BoolArray, FloatArray
from audit.agreement.many_readers import PROPORTION, Formula
from audit.agreement.options import AgreementOptions
from audit.agreement.reads import ReadGrid, category_counts
from audit.agreement.resampling import Estimate, estimate, resample, sums_by_case
from audit.vocabulary import NOT_ASSESSABLE

NamedEstimate = tuple[str, str | None, Estimate]  # name of the measure, category, figure

NO_READS = "No reads of this item."
ONE_READER = "Only one reader: agreement needs two."
NO_PAIR = "No window was read by two readers."
ONE_CATEGORY = "Not defined: all reads are in one category, so agreement beyond chance cannot be judged."
ALL_EQUAL = "Not defined: all reads are equal, so agreement beyond chance cannot be judged."
NO_ORDER = "Not given: the answers have no order."
FOR_NUMBERS = "Not given: for measured numbers only."
FOR_CATEGORIES = "Not given: for categories only."
UNUSED = "No reader chose this category in a window read by two."

CATEGORY_MEASURES = (
    "proportion_of_agreement",
    "specific_agreement",
    "fleiss_kappa",
    "krippendorff_alpha_nominal",
    "krippendorff_alpha_ordinal",
    "gwet_ac1",
    "gwet_ac2",
    "brennan_prediger",
)


def all_measures(grid: ReadGrid, options: AgreementOptions) -> list[NamedEstimate]:
    """Every agreement figure over all readers of a grid.

    `grid`: first reads of one item. `options`: draws, seed, interval rule, weights of AC2.
    Gives measures: name, category (None but for figures by category) and Estimate; figures that do not apply are there
    with a note.

    Nominal figures count 'not assessable' as a category of its own once a reader used it; ordinal and interval ones
    leave those reads out, because the answer has no place in the order.
    """
    if grid.scale.kind == "number":
        return _number_measures(grid, options)
    return _category_measures(grid, options)


def _why_not(grid: ReadGrid, counts_per_window: FloatArray, otherwise: str) -> str:
    if not len(grid.windows):
        return NO_READS
    if len(grid.readers) < 2:
        return ONE_READER
    return otherwise if (counts_per_window > 1).any() else NO_PAIR


def _category_measures(grid: ReadGrid, options: AgreementOptions) -> list[NamedEstimate]:
    ordered = len(grid.scale.categories)
    names = [*grid.scale.categories, *([NOT_ASSESSABLE] if grid.used_not_assessable else [])]
    tables = [category_counts(grid.codes, len(names)), category_counts(grid.codes, ordered)]
    sums = [sums_by_case(many_readers.window_features(t), grid.case_index, len(grid.cases)) for t in tables]
    drawn = resample(sums, options.draws, options.seed) if grid.cases else [s[:0] for s in sums]
    nominal = _Family(grid, tables[0], sums[0], drawn[0], options)
    ordinal = _Family(grid, tables[1], sums[1], drawn[1], options)

    formulas = many_readers.WITHOUT_ORDER
    figures = {name: nominal.figure(formula, corrected=name != PROPORTION) for name, formula in formulas.items()}
    rows: list[NamedEstimate] = [(PROPORTION, None, figures.pop(PROPORTION))]
    for name, formula in many_readers.BY_CATEGORY.items():
        undefined = NO_READS if name == "category_share" else UNUSED
        rows += [(name, c, nominal.category_figure(formula, k, undefined)) for k, c in enumerate(names)]
    rows += [(name, None, figure) for name, figure in figures.items()]
    for name, formula in many_readers.with_order(options.ac2_weights).items():
        figure = ordinal.figure(formula) if grid.scale.kind == "ordinal" else Estimate(None, note=NO_ORDER)
        rows.append((name, None, figure))
    rows.append(("intraclass_correlation", None, Estimate(None, note=FOR_NUMBERS)))
    return rows


class _Family:
    """Figures that share one table of counts and one set of resamples."""

    def __init__(
        self, grid: ReadGrid, counts: FloatArray, sums: FloatArray, drawn: FloatArray, options: AgreementOptions
    ) -> None:
        k = counts.shape[1]
        self.reads = counts.sum(axis=1)
        self.counts = counts
        self.grid = grid
        self.options = options
        self.totals = many_readers.category_totals(sums.sum(axis=0), k)
        self.drawn = many_readers.category_totals(drawn, k)
        self.one_category = (counts.sum(axis=0) > 0).sum() < 2

    def figure(self, formula: Formula, *, corrected: bool = True) -> Estimate:
        """One figure; chance-corrected ones are not defined when all reads are in one category."""
        paired = int((self.reads > 1).sum())
        value = float("nan") if corrected and self.one_category else float(formula(self.totals))
        why = _why_not(self.grid, self.reads, ONE_CATEGORY)
        return estimate(
            value, formula(self.drawn), n=paired, cases=self._cases(self.reads > 1), rule=self.options.interval,
            undefined=why,
        )  # fmt: skip

    def category_figure(self, formula: Formula, k: int, undefined: str) -> Estimate:
        """One figure of one category; n is the number of windows in which a reader chose it."""
        used = self.counts[:, k] > 0
        why = _why_not(self.grid, self.reads, undefined)
        return estimate(
            float(formula(self.totals)[k]), formula(self.drawn)[..., k], n=int(used.sum()),
            cases=self._cases(self.reads > 1), rule=self.options.interval, undefined=why,
        )  # fmt: skip

    def _cases(self, windows: BoolArray) -> int:
        return len(np.unique(self.grid.case_index[windows]))


def _number_measures(grid: ReadGrid, options: AgreementOptions) -> list[NamedEstimate]:
    features = measured.number_features(grid.values)
    sums = sums_by_case(features, grid.case_index, len(grid.cases))
    (drawn,) = resample([sums], options.draws, options.seed) if grid.cases else (np.zeros((0, sums.shape[1])),)
    total = np.asarray(sums.sum(axis=0))
    reads = np.isfinite(grid.values).sum(axis=1).astype(float)
    paired = reads > 1
    cases = len(np.unique(grid.case_index[paired]))
    why = _why_not(grid, reads, ALL_EQUAL)

    def figure(formula: Callable[[FloatArray], FloatArray]) -> Estimate:
        n = int(paired.sum())
        value = float(formula(total))
        return estimate(value, formula(drawn), n=n, cases=cases, rule=options.interval, undefined=why)

    rows: list[NamedEstimate] = [
        ("intraclass_correlation", None, figure(measured.intraclass_correlation)),
        ("krippendorff_alpha_interval", None, figure(measured.alpha_interval)),
        ("mean_absolute_difference", None, figure(measured.mean_absolute_difference)),
    ]
    return rows + [(name, None, Estimate(None, note=FOR_CATEGORIES)) for name in CATEGORY_MEASURES]
