"""Time to event, proportions and ROC areas against published worked examples (sections C and D; sources there).

Freireich 1963, Kaplan & Meier 1958, Newcombe 1998 (two papers), Hanley & McNeil 1982, DeLong 1988,
Altman & Bland 1994. Data and figures are read from the folder of worked examples.
"""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from audit import survival as surv
from audit.measures import proportions as prop
from audit.measures import roc

pytestmark = pytest.mark.reference
Figures = dict[str, float]


def _rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def remission(folder: Path) -> Figures:
    rows = _rows(folder, "km_6mp_1963.csv")
    group = {
        name: tuple([float(r[column]) for r in rows if r["group"] == name] for column in ("weeks", "event"))
        for name in ("6-MP", "placebo")
    }
    assert [len(times) for times, _ in group.values()] == [21, 21]
    curve = surv.survival_curve(*group["6-MP"], level=0.95)
    by_log = surv.survival_curve(*group["6-MP"], level=0.95, interval="log")
    test = surv.log_rank([group["6-MP"], group["placebo"]])
    figures: Figures = {}
    for week in (6, 7, 10, 13, 16, 22, 23):
        figures[f"S_{week}"] = surv.value_at(curve.time, curve.survival, week)
        figures[f"greenwood_se_{week}"] = surv.value_at(curve.time, curve.standard_error, week)
        figures[f"ci95_loglog_low_{week}"] = surv.value_at(curve.time, curve.low, week)
        figures[f"ci95_loglog_high_{week}"] = surv.value_at(curve.time, curve.high, week)
    median = surv.median_time(curve).value
    placebo = surv.median_time(surv.survival_curve(*group["placebo"], level=0.95)).value
    assert None not in (median, placebo, test.chi_square, test.p)
    return figures | {
        "ci95_log_low_6": surv.value_at(by_log.time, by_log.low, 6),
        "ci95_log_low_23": surv.value_at(by_log.time, by_log.low, 23),
        "median_6MP_weeks": median,
        "median_placebo_weeks": placebo,
        "logrank_chi2_1df": test.chi_square,
        "logrank_p": test.p,
        "observed_6MP": test.observed[0],
        "expected_6MP": test.expected[0],
        "expected_placebo": test.expected[1],
        "rmst_to_23_weeks_6MP": surv.restricted_mean_time(curve, 23.0),
    }


def kaplan_meier(folder: Path) -> Figures:
    rows = _rows(folder, "km_1958_small.csv")
    curve = surv.survival_curve([float(r["time"]) for r in rows], [int(r["event"]) for r in rows], level=0.95)
    return {f"S_{t}": surv.value_at(curve.time, curve.survival, t) for t in (0.8, 3.1, 5.4, 9.2)}


def one_share(folder: Path) -> Figures:
    data = json.loads((folder / "proportion_intervals.json").read_text(encoding="utf-8"))["single"]
    figures: Figures = {"0/20_rule_of_three_upper": prop.rule_of_three(20)}
    methods = {
        "wilson": prop.wilson_interval,
        "clopper_pearson": prop.exact_interval,
        "mid_p": prop.mid_p_interval,
    }
    for row in data:
        for name, method in methods.items():
            low, high = method(row["x"], row["n"], 0.95)
            figures |= {f"{row['x']}/{row['n']}_{name}_low": low, f"{row['x']}/{row['n']}_{name}_high": high}
        corrected = prop.wilson_interval_corrected(row["x"], row["n"], 0.95)
        np.testing.assert_allclose(corrected, row["wilson_cc"], rtol=0, atol=6e-5)
    return figures


def difference(folder: Path) -> Figures:
    figures: Figures = {}
    for row in json.loads((folder / "proportion_intervals.json").read_text(encoding="utf-8"))["difference"]:
        first, second = (row["x1"], row["n1"]), (row["x2"], row["n2"])
        low, high = prop.difference_interval(first, second, 0.95)
        name = f"{first[0]}/{first[1]}_vs_{second[0]}/{second[1]}_newcombe"
        figures |= {f"{name}_low": low, f"{name}_high": high}
    return figures


def ct_images(folder: Path) -> Figures:
    rows = _rows(folder, "roc_hanley1982.csv")
    ratings = np.array([int(r["rating"]) for r in rows])
    normal, abnormal = (np.repeat(ratings, [int(r[kind]) for r in rows]) for kind in ("normal", "abnormal"))
    scores, outcome = np.concatenate([normal, abnormal]), np.repeat([False, True], [len(normal), len(abnormal)])
    found = roc.roc_area(scores, outcome, level=0.95)
    assert None not in (found.standard_error, found.low, found.high)
    q1, q2 = roc.hanley_mcneil_q(scores, outcome)
    area = found.area
    short = area / (2 - area), 2 * area**2 / (1 + area)
    figures: Figures = {
        "auc": area,
        "hanley_mcneil_se_from_ratings": roc.hanley_mcneil_error(area, 51, 58, q1, q2),
        "hanley_mcneil_se_exponential_approx": roc.hanley_mcneil_error(area, 51, 58, *short),
        "delong_se": found.standard_error,
        "delong_ci_low": found.low,
        "delong_ci_high": found.high,
    }
    for cut in (2, 3, 4, 5):
        cells = [(side >= cut).sum() for side in (abnormal, normal)]
        accuracy = prop.criterion_accuracy(cells[0], cells[1], 51 - cells[0], 58 - cells[1], 0.95)
        figures |= {f"sens_at_rating>={cut}": accuracy.sensitivity, f"spec_at_rating>={cut}": accuracy.specificity}
    return figures


def paired_areas(folder: Path) -> Figures:
    data = json.loads((folder / "diagnostic_2x2_and_paired_roc.json").read_text(encoding="utf-8"))
    data = data["paired_roc_constructed"]
    found = roc.roc_area_difference(data["score1"], data["score2"], data["y"])
    assert None not in (found.z, found.p_two_sided)
    return {
        "auc1": roc.roc_area(data["score1"], data["y"], level=0.95).area,
        "auc2": roc.roc_area(data["score2"], data["y"], level=0.95).area,
        "difference": found.difference,
        "var_auc1": found.variance_first,
        "var_auc2": found.variance_second,
        "cov": found.covariance,
        "se_difference": found.standard_error,
        "z": found.z,
        "p_two_sided": found.p_two_sided,
    }


def liver_scan(folder: Path) -> Figures:
    data = json.loads((folder / "diagnostic_2x2_and_paired_roc.json").read_text(encoding="utf-8"))["liver_scan"]
    found = prop.criterion_accuracy(data["TP"], data["FP"], data["FN"], data["TN"], 0.95)
    tp, fp, fn, tn = (data[key] for key in ("TP", "FP", "FN", "TN"))
    figures: Figures = {"lr_positive": found.likelihood_ratio_positive, "lr_negative": found.likelihood_ratio_negative}
    shares = {
        "sensitivity": (found.sensitivity, found.sensitivity_interval, tp, tp + fn),
        "specificity": (found.specificity, found.specificity_interval, tn, tn + fp),
        "ppv": (found.positive_predictive_value, found.positive_predictive_value_interval, tp, tp + fp),
        "npv": (found.negative_predictive_value, found.negative_predictive_value_interval, tn, tn + fn),
    }
    for name, (share, wilson, events, total) in shares.items():
        low, high = prop.exact_interval(events, total, 0.95)
        figures |= {name: share, f"{name}_wilson95_low": wilson[0], f"{name}_wilson95_high": wilson[1]}
        figures |= {f"{name}_clopper95_low": low, f"{name}_clopper95_high": high}
    for name, (low, high) in (
        ("lr_positive", found.likelihood_ratio_positive_interval),
        ("lr_negative", found.likelihood_ratio_negative_interval),
    ):
        figures |= {f"{name}_log95_low": low, f"{name}_log95_high": high}
    return figures


EXAMPLES: dict[str, Callable[[Path], Figures]] = {
    "C1_6MP": remission,
    "C2_KM1958": kaplan_meier,
    "C3_prop": one_share,
    "C4_diff": difference,
    "D1_HM1982": ct_images,
    "D2_paired_constructed": paired_areas,
    "D3_liver": liver_scan,
}
OTHER_SECTIONS = {
    "A": "agreement, in test_worked_agreement.py",
    "B": "charts, in test_worked_control_charts.py",
    "F": "sums over the signal, where the tracing and its burden are tested",
}


@pytest.mark.parametrize("example", EXAMPLES)
def test_worked_example(example, worked_examples, check):
    check(example, EXAMPLES[example](worked_examples))


def test_every_row_of_the_sections_is_checked(worked_examples, expected_rows):
    rows = {
        (e, q) for e, by_quantity in expected_rows.items() for q, r in by_quantity.items() if r["section"] in ("C", "D")
    }
    checked = {(e, q) for e, figures in EXAMPLES.items() for q in figures(worked_examples)}
    assert rows - checked == set()
    sections = {r["section"] for by_quantity in expected_rows.values() for r in by_quantity.values()}
    assert sections == {"C", "D", *OTHER_SECTIONS}
    assert len(rows) == 126
