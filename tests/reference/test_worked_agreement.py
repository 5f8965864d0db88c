"""Agreement figures against published worked examples (section A there; sources beside each row).

Feinstein & Cicchetti 1990, Fleiss, Cohen & Everitt 1969, Cohen 1968, Gwet 2014, Fleiss 1971, Krippendorff 2011,
Shrout & Fleiss 1979, Bland & Altman 1986. Data and figures are read from the folder of worked examples.
"""

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from audit.agreement import many_readers as many
from audit.agreement import measured
from audit.agreement import two_readers as two
from audit.agreement.pairs import pair_agreements
from audit.agreement.reads import category_counts
from audit.agreement.resampling import resample
from audit.agreement.scales import Scale, agreement_weights
from audit.agreement.yardstick import PUBLISHED_AGREEMENT
from audit.settings import load_settings

Figures = dict[str, float]
Z95 = 1.959963984540054


def _table(folder: Path, name: str) -> dict:
    return json.loads((folder / "agreement_tables.json").read_text(encoding="utf-8"))[name]


def _columns(folder: Path, name: str) -> np.ndarray:
    """All columns but the first; empty cells are NaN."""
    with (folder / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    return np.array([[float(cell) if cell else np.nan for cell in row[1:]] for row in rows])


def _counts(ratings: np.ndarray, lowest: int, categories: int) -> np.ndarray:
    return category_counts(np.where(np.isnan(ratings), -99, ratings - lowest).astype(int), categories)


def _totals(counts: np.ndarray) -> many.CategoryTotals:
    return many.category_totals(many.window_features(counts).sum(axis=0), np.shape(counts)[1])


def _of_pairs(table: np.ndarray) -> many.CategoryTotals:
    """The same two readers, window by window."""
    pairs = np.repeat(np.indices(table.shape).reshape(2, -1), table.ravel(), axis=1).T
    return _totals(category_counts(pairs, len(table)))


def paradox(folder: Path, name: str) -> Figures:
    table = np.array(_table(folder, name)["table"])
    totals = _of_pairs(table)
    specific, jaccard = many.specific_agreement(totals), many.jaccard_agreement(totals)
    return {
        "percent_agreement": float(two.observed_agreement(table)),
        "cohen_kappa": float(two.cohen_kappa(table)),
        "kappa_se_FCE": float(two.kappa_standard_error(table)),
        "ppos_specific_agreement": specific[0],
        "pneg_specific_agreement": specific[1],
        "pabak_2po_minus_1": float(two.prevalence_adjusted_kappa(table)),
        "gwet_ac1": float(two.gwet_ac1_of_table(table)),
        # for two readers who read every window Fleiss' kappa is Scott's pi
        "scott_pi": float(many.fleiss_kappa(totals)),
        "jaccard_a_over_abc": jaccard[0],
    }


def fleiss_cohen_everitt(folder: Path, name: str) -> Figures:
    data = _table(folder, name)
    table, weights = np.array(data["table"]), np.array(data["agreement_weights"])
    kappa, error = float(two.cohen_kappa(table)), float(two.kappa_standard_error(table))
    rows, columns = np.repeat(np.indices(table.shape).reshape(2, -1), table.ravel(), axis=1)
    options = replace(load_settings().agreement, draws=20000, seed=1)
    (resampled,) = pair_agreements(
        [(rows, columns)], Scale("category", "ordinal", ("a", "b", "c")), np.arange(len(rows)), len(rows),
        options, with_not_assessable=False,
    )  # fmt: skip
    assert resampled.kappa.low is not None
    assert resampled.kappa.high is not None
    return {
        "percent_agreement": float(two.observed_agreement(table)),
        "cohen_kappa": kappa,
        "var_kappa": error**2,
        "kappa_se": error,
        "kappa_ci_low_wald95": kappa - Z95 * error,
        "kappa_ci_high_wald95": kappa + Z95 * error,
        "weighted_kappa_FCE_weights": float(two.cohen_kappa(table, weights)),
        "var_weighted_kappa": float(two.kappa_standard_error(table, weights)) ** 2,
        "bootstrap_percentile_ci_low": resampled.kappa.low,
        "bootstrap_percentile_ci_high": resampled.kappa.high,
    }


def cohen_1968(folder: Path, name: str) -> Figures:
    data = _table(folder, name)
    table = np.array(data["table"])
    weights, asymmetric = (
        1.0 - np.array(data[key]) / np.max(data[key])
        for key in ("disagreement_weights", "asymmetric_disagreement_weights")
    )
    return {
        "cohen_kappa": float(two.cohen_kappa(table)),
        "kappa_se_FCE": float(two.kappa_standard_error(table)),
        "weighted_kappa": float(two.cohen_kappa(table, weights)),
        "weighted_kappa_se": float(two.kappa_standard_error(table, weights)),
        "weighted_kappa_asymmetric_weights": float(two.cohen_kappa(table, asymmetric)),
    }


def skin(folder: Path, name: str) -> Figures:
    table = np.array(_table(folder, name)["table"])
    figures = {"cohen_kappa": float(two.cohen_kappa(table)), "kappa_se": float(two.kappa_standard_error(table))}
    for kind in ("linear", "quadratic"):
        weights = agreement_weights(kind, 4)
        figures[f"weighted_kappa_{kind}"] = float(two.cohen_kappa(table, weights))
        figures[f"weighted_kappa_{kind}_se"] = float(two.kappa_standard_error(table, weights))
    return figures


def empty_column(folder: Path, name: str) -> Figures:
    table = np.array(_table(folder, name)["table"])
    linear = agreement_weights("linear", 3)
    return {
        "cohen_kappa": float(two.cohen_kappa(table)),
        "kappa_se": float(two.kappa_standard_error(table)),
        "weighted_kappa_linear": float(two.cohen_kappa(table, linear)),
        "weighted_kappa_linear_se": float(two.kappa_standard_error(table, linear)),
    }


def abstractors(folder: Path, name: str) -> Figures:
    table = np.array(_table(folder, name)["table"])
    totals = _of_pairs(table)
    specific, jaccard = many.specific_agreement(totals), many.jaccard_agreement(totals)
    figures = {
        "percent_agreement": float(two.observed_agreement(table)),
        "cohen_kappa": float(two.cohen_kappa(table)),
        "kappa_se": float(two.kappa_standard_error(table)),
        # for two readers who read every window Fleiss' kappa is Scott's pi
        "scott_pi": float(many.fleiss_kappa(totals)),
        "gwet_ac1": float(two.gwet_ac1_of_table(table)),
        "brennan_prediger": float(two.prevalence_adjusted_kappa(table)),
    }
    for k, label in enumerate(("ectopic", "abnormal_iu", "normal_iu")):
        figures[f"specific_agreement_{label}"] = specific[k]
        figures[f"jaccard_{label}"] = jaccard[k]
    return figures


def fleiss_1971(folder: Path, _name: str) -> Figures:
    counts = _counts(_columns(folder, "fleiss1971_ratings.csv"), 1, 5)
    totals = _totals(counts)
    left_out = np.array([many.fleiss_kappa(_totals(np.delete(counts, i, 0))) for i in range(30)])
    (drawn,) = resample([many.window_features(counts)], 20000, 1)
    low, high = np.quantile(many.fleiss_kappa(many.category_totals(drawn, 5)), [0.025, 0.975])
    shares = many.category_shares(totals)
    specific = many.specific_agreement(totals)
    # identity: the specific agreements, weighted by the categories' shares, add up to the overall agreement
    assert (shares * specific).sum() == pytest.approx(float(many.proportion_of_agreement(totals)), abs=1e-12)
    figures = {
        "fleiss_kappa": float(many.fleiss_kappa(totals)),
        "mean_pairwise_agreement_P": float(many.proportion_of_agreement(totals)),
        "chance_agreement_Pe": float((shares**2).sum()),
        "jackknife_se_over_cases": float(np.sqrt(29 / 30 * ((left_out - left_out.mean()) ** 2).sum())),
        "bootstrap_percentile_ci_low": low,
        "bootstrap_percentile_ci_high": high,
        "randolph_free_marginal_kappa": float(many.brennan_prediger(totals)),
    }
    for k, label in enumerate(("depression", "personality_disorder", "schizophrenia", "neurosis", "other")):
        figures[f"specific_agreement_{label}"] = specific[k]
    return figures


def fleiss_10x5(folder: Path, _name: str) -> Figures:
    totals = _totals(_columns(folder, "fleiss_counts_10x5_14raters.csv"))
    return {
        "fleiss_kappa": float(many.fleiss_kappa(totals)),
        "mean_pairwise_agreement_P": float(many.proportion_of_agreement(totals)),
        "chance_agreement_Pe": float((many.category_shares(totals) ** 2).sum()),
    }


def krippendorff_2011(folder: Path, _name: str) -> Figures:
    totals = _totals(_counts(_columns(folder, "krippendorff_4x12.csv"), 1, 5))
    ac1, pa = float(many.gwet_ac(totals)), float(many.window_agreement(totals))
    alphas = {f"alpha_{x}": float(many.krippendorff_alpha(totals, x)) for x in ("nominal", "ordinal", "interval")}
    return alphas | {
        "gwet_ac1_missing_data": ac1,
        "gwet_ac1_pa": pa,
        "gwet_ac1_pe": (pa - ac1) / (1 - ac1),
        "brennan_prediger_missing_data": float(many.brennan_prediger(totals)),
        "fleiss_kappa_generalised_missing_data": float(many.fleiss_kappa(totals)),
        "gwet_ac2_linear": float(many.gwet_ac(totals, "linear")),
        "gwet_ac2_quadratic": float(many.gwet_ac(totals, "quadratic")),
        "brennan_prediger_quadratic": float(many.brennan_prediger(totals, "quadratic")),
    }


def gwet_5_observers(folder: Path, _name: str) -> Figures:
    totals = _totals(_counts(_columns(folder, "gwet_5observers_15units.csv"), 0, 4))
    figures = {
        f"krippendorff_alpha_{x}": float(many.krippendorff_alpha(totals, x)) for x in ("nominal", "ordinal", "interval")
    }
    return figures | {
        "gwet_ac1": float(many.gwet_ac(totals)),
        "gwet_ac2_linear": float(many.gwet_ac(totals, "linear")),
        "gwet_ac2_quadratic": float(many.gwet_ac(totals, "quadratic")),
    }


def shrout_fleiss(folder: Path, _name: str) -> Figures:
    values = _columns(folder, "shrout_fleiss_1979.csv")
    return {"icc_2_1": float(measured.intraclass_correlation(measured.number_features(values).sum(axis=0)))}


def bland_altman(folder: Path, _name: str) -> Figures:
    wright1, wright2, mini1, mini2 = _columns(folder, "bland_altman_pefr_1986.csv").T
    two_sd = measured.limits_of_agreement(wright1, mini1, multiplier=2.0, level=0.95)
    # these rows were worked out with the exact normal quantile that 1.96 stands for
    usual = measured.limits_of_agreement(wright1, mini1, multiplier=Z95, level=0.95)
    return {
        "mean_difference_l_min": two_sd.mean_difference,
        "sd_difference": two_sd.standard_deviation,
        "loa_low_2sd": two_sd.low,
        "loa_high_2sd": two_sd.high,
        "se_mean_difference": two_sd.standard_error_mean,
        "mean_ci_low": two_sd.mean_low,
        "mean_ci_high": two_sd.mean_high,
        "repeatability_coef_wright_2sd_zero_mean": measured.repeatability_coefficient(wright1, wright2, multiplier=2.0),
        "repeatability_coef_mini_2sd_zero_mean": measured.repeatability_coefficient(mini1, mini2, multiplier=2.0),
        "loa_low_1.96sd": usual.low,
        "loa_high_1.96sd": usual.high,
        "se_loa_sqrt3s2n": usual.standard_error_limit,
    }


EXAMPLES: dict[str, Callable[[Path, str], Figures]] = {
    **dict.fromkeys(("A2_balanced", "A2_prevalent", "A2_symmetric", "A2_asymmetric", "A2_extreme"), paradox),
    "A3_FCE1969": fleiss_cohen_everitt,
    "A4_Cohen1968": cohen_1968,
    "A5_skin4": skin,
    "A6_emptycol": empty_column,
    "A7_abstractors": abstractors,
    "A8_Fleiss1971": fleiss_1971,
    "A9_Fleiss10x5": fleiss_10x5,
    "A10_Kripp": krippendorff_2011,
    "A11_Gwet5obs": gwet_5_observers,
    "A12_ICC": shrout_fleiss,
    "A13_BA1986": bland_altman,
}


# what the program does not give: errors under chance and older ones, kappa of one category, alpha of ratios, other
# intraclass coefficients than ICC(2,1) and their F intervals (ours are resampled), single reads from means of two
NOT_GIVEN = re.compile(
    "under_H0|Cohen1960|n_for_kappa|^kappa_category_|^alpha_ratio$|^icc_(?!2_1$)|^[BWJE]MS$|^sd_difference_of_means_corrected$"
)


@pytest.mark.parametrize("example", EXAMPLES)
def test_worked_example(example, worked_examples, check):
    check(example, EXAMPLES[example](worked_examples, example))


def test_every_row_of_the_section_is_checked(worked_examples, expected_rows):
    rows = {(e, q) for e, by_quantity in expected_rows.items() for q, r in by_quantity.items() if r["section"] == "A"}
    checked = {(e, q) for e, figures in EXAMPLES.items() for q in figures(worked_examples, e)}
    assert len(rows) == 157
    assert {quantity for _, quantity in rows - checked if not NOT_GIVEN.search(quantity)} == set()


def test_yardstick_figures_are_as_published(worked_examples):
    """Each published figure we show, as it was read from the paper's abstract."""
    with (worked_examples / "ctg_agreement_published.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    published = {
        (row["reference"], row["item"], row["statistic"], row["value"], row["ci95_low"], row["ci95_high"])
        for row in rows
    }
    numbers = {
        (ref, item, stat, *(None if x == "" else float(x) for x in figures))
        for ref, item, stat, *figures in published
        if "-" not in figures[0]
    }
    for figure in PUBLISHED_AGREEMENT:
        assert (figure.reference, figure.part, figure.statistic, figure.value, figure.low, figure.high) in numbers, (
            figure
        )
