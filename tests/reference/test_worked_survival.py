"""Time to event, proportions and ROC areas against published worked examples (sections C and D; sources there).

Freireich 1963, Kaplan & Meier 1958, Newcombe 1998, Hanley & McNeil 1982 (ratings), DeLong 1988,
Altman & Bland 1994. Data and figures are read from the folder of worked examples.
"""

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from audit import survival as surv
from audit.measures import proportions as prop
from audit.measures import roc

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
    test = surv.log_rank([group["6-MP"], group["placebo"]])
    figures: Figures = {}
    for week in (6, 7, 10, 13, 16, 22, 23):
        figures[f"S_{week}"] = surv.value_at(curve.time, curve.survival, week)
        figures[f"greenwood_se_{week}"] = surv.value_at(curve.time, curve.standard_error, week)
        figures[f"ci95_loglog_low_{week}"] = surv.value_at(curve.time, curve.low, week)
        figures[f"ci95_loglog_high_{week}"] = surv.value_at(curve.time, curve.high, week)
    assert None not in (test.chi_square, test.p)
    return figures | {
        "logrank_chi2_1df": test.chi_square,
        "logrank_p": test.p,
        "observed_6MP": test.observed[0],
        "expected_6MP": test.expected[0],
        "expected_placebo": test.expected[1],
    }


def kaplan_meier(folder: Path) -> Figures:
    rows = _rows(folder, "km_1958_small.csv")
    curve = surv.survival_curve([float(r["time"]) for r in rows], [int(r["event"]) for r in rows], level=0.95)
    return {f"S_{t}": surv.value_at(curve.time, curve.survival, t) for t in (0.8, 3.1, 5.4, 9.2)}


def one_share(folder: Path) -> Figures:
    data = json.loads((folder / "proportion_intervals.json").read_text(encoding="utf-8"))["single"]
    figures: Figures = {}
    for row in data:
        low, high = prop.wilson_interval(row["x"], row["n"], 0.95)
        figures |= {f"{row['x']}/{row['n']}_wilson_low": low, f"{row['x']}/{row['n']}_wilson_high": high}
    return figures


def ct_images(folder: Path) -> Figures:
    rows = _rows(folder, "roc_hanley1982.csv")
    ratings = np.array([int(r["rating"]) for r in rows])
    normal, abnormal = (np.repeat(ratings, [int(r[kind]) for r in rows]) for kind in ("normal", "abnormal"))
    scores, outcome = np.concatenate([normal, abnormal]), np.repeat([False, True], [len(normal), len(abnormal)])
    found = roc.roc_area(scores, outcome, level=0.95)
    assert None not in (found.standard_error, found.low, found.high)
    return {
        "auc": found.area,
        "delong_se": found.standard_error,
        "delong_ci_low": found.low,
        "delong_ci_high": found.high,
    }


def two_scores(folder: Path) -> Figures:
    data = json.loads((folder / "diagnostic_2x2_and_paired_roc.json").read_text(encoding="utf-8"))
    data = data["paired_roc_constructed"]
    found = [roc.roc_area(data[score], data["y"], level=0.95) for score in ("score1", "score2")]
    assert found[0].standard_error is not None
    assert found[1].standard_error is not None
    return {
        "auc1": found[0].area,
        "auc2": found[1].area,
        "var_auc1": found[0].standard_error ** 2,
        "var_auc2": found[1].standard_error ** 2,
    }


def liver_scan(folder: Path) -> Figures:
    data = json.loads((folder / "diagnostic_2x2_and_paired_roc.json").read_text(encoding="utf-8"))["liver_scan"]
    tp, fp, fn, tn = (data[key] for key in ("TP", "FP", "FN", "TN"))
    figures: Figures = {}
    counts = {"sensitivity": (tp, tp + fn), "specificity": (tn, tn + fp), "ppv": (tp, tp + fp), "npv": (tn, tn + fn)}
    for name, (events, total) in counts.items():
        low, high = prop.wilson_interval(events, total, 0.95)
        figures |= {f"{name}_wilson95_low": low, f"{name}_wilson95_high": high}
    return figures


EXAMPLES: dict[str, Callable[[Path], Figures]] = {
    "C1_6MP": remission,
    "C2_KM1958": kaplan_meier,
    "C3_prop": one_share,
    "D1_HM1982": ct_images,
    "D2_paired_constructed": two_scores,
    "D3_liver": liver_scan,
}
# what the program does not give: medians and means of a curve of its own, other intervals than Wilson's, differences,
# the accuracy of a yes/no criterion (a share is arithmetic; its interval is checked)
NOT_GIVEN = re.compile(
    "median_|rmst_|ci95_log_low|rule_of_three|clopper|mid_p|C4_diff|hanley_mcneil|(sens|spec)_at_rating"
    "|D2_paired_constructed (difference|cov|se_difference|z|p_two_sided)$|lr_(positive|negative)"
    "|D3_liver (sensitivity|specificity|ppv|npv)$"
)
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
    left = {f"{example} {quantity}" for example, quantity in rows - checked}
    assert {row for row in left if not NOT_GIVEN.search(row)} == set()
    sections = {r["section"] for by_quantity in expected_rows.values() for r in by_quantity.values()}
    assert sections == {"C", "D", *OTHER_SECTIONS}
    assert len(rows) == 126
