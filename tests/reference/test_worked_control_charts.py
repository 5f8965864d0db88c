"""Control charts, run charts and funnels against published worked examples (section B; sources beside each row there).

NIST/SEMATECH e-Handbook, Montgomery, Nelson 1984, Western Electric 1956, Champ & Woodall 1987, Perla 2011,
Benneyan 2001, Spiegelhalter 2005. Data and figures are read from the folder of worked examples.
"""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from audit.control_charts import limits
from audit.control_charts.funnel import funnel_limits
from audit.control_charts.limits import ChartLimits
from audit.control_charts.rules import RULE_TEXT, signals
from audit.control_charts.run_chart import run_chart, run_limits
from audit.control_charts.run_length import average_run_length

Figures = dict[str, float]
PRINTED_D2 = 1.128


def _series(folder: Path, name: str) -> dict:
    return json.loads((folder / "spc_series.json").read_text(encoding="utf-8"))[name]


def _outside(chart: ChartLimits) -> list[int]:
    """Points outside the limits, counted from 1."""
    return (np.flatnonzero(chart.beyond) + 1).tolist()


def flow_rate(folder: Path) -> Figures:
    values = np.array(_series(folder, "B1_flowrate")["values"])
    exact, mean_range = limits.xmr_chart(values), limits.mean_moving_range(values)
    centre, as_printed = exact.centre[0], limits.D2 / PRINTED_D2
    return {
        "centre": centre,
        "mr_bar": mean_range,
        "ucl_x": centre + (exact.high[0] - centre) * as_printed,
        "lcl_x": centre + (exact.low[0] - centre) * as_printed,
        "ucl_x_exact_d2": exact.high[0],
    }


def diameters(folder: Path) -> Figures:
    values = np.array(_series(folder, "B2_diameters")["values"])
    chart, mean_range = limits.xmr_chart(values), limits.mean_moving_range(values)
    assert _outside(chart) == []
    return {
        "centre": chart.centre[0],
        "mr_bar": mean_range,
        "ucl_x": chart.high[0],
        "lcl_x": chart.low[0],
    }


def shares(folder: Path) -> Figures:
    data = _series(folder, "B5_p")
    events, totals = np.array(data["counts"]), np.array(data["n"])
    chart = limits.p_chart(events, totals)
    assert _outside(chart) == data["signals_beyond_limits_1based"]
    kept = ~chart.beyond
    revised = limits.p_chart(events, totals, kept)
    assert [i for i in _outside(revised) if kept[i - 1]] == data["after_removing_15_23"]["signals_1based"]
    return {
        "centre": chart.centre[0],
        "ucl": chart.high[0],
        "lcl": chart.low[0],
        "revised_centre": revised.centre[0],
        "revised_ucl": revised.high[0],
        "revised_lcl": revised.low[0],
    }


def births_between(folder: Path) -> Figures:
    gaps = np.array(_series(folder, "B10_g")["cases_between_events"])
    three, exact = limits.g_chart(gaps, probability_limits=False), limits.g_chart(gaps)
    assert _outside(three) == []
    return {
        "centre_mean": three.centre[0],
        "ucl_3sd": three.high[0],
        "lcl_3sd_clipped": three.low[0],
        "geometric_median_exact": exact.centre[0],
        "geometric_ucl_p0.99865": exact.high[0],
        "geometric_lcl_p0.00135": exact.low[0],
    }


def _chart_of(z: list[float]) -> ChartLimits:
    x = np.array(z)
    line = np.zeros(len(x))
    return ChartLimits(x, line, line - 3.0, line + 3.0, x, x)


def rules(folder: Path) -> Figures:
    """First point at which each rule fires; sequences and rules beyond those named must stay silent."""
    data = json.loads((folder / "control_chart_rule_sequences.json").read_text(encoding="utf-8"))
    same = {"W1": "N1", "W2": "N5", "W3": "N6"}
    figures: Figures = {}
    assert len(data["sequences"]) == 18
    for name, sequence in data["sequences"].items():
        fired = signals(_chart_of(sequence["z"]), list(RULE_TEXT))
        first = {rule: i for i in range(len(fired), 0, -1) for rule in fired[i - 1]}
        first |= {western: first[nelson] for western, nelson in same.items() if nelson in first}
        assert first == sequence["fires"], name
        figures |= {f"{name}:{rule}:first_signal_index_1based": at for rule, at in first.items()}
    return figures


def run_lengths(_folder: Path) -> Figures:
    sets = {
        "arl_W1_only": ["N1"],
        "arl_W1_W2": ["N1", "N5"],
        "arl_W1_W3": ["N1", "N6"],
        "arl_W1_W4": ["N1", "W4"],
        "arl_all_four": ["N1", "N5", "N6", "W4"],
        "arl_W1_plus_nine_in_a_row": ["N1", "N2"],
    }
    return {name: average_run_length(chosen) or 0.0 for name, chosen in sets.items()}


def runs(_folder: Path) -> Figures:
    figures: Figures = {}
    for n in (10, 14, 16, 24, 30, 40, 50, 60):
        found = run_limits(n)
        assert found is not None
        figures[f"lower_limit_n{n}"], figures[f"upper_limit_n{n}"] = found
    return figures


def funnel(_folder: Path) -> Figures:
    figures: Figures = {}
    for target, n in ((0.074, 100), (0.074, 1000), (0.2, 50)):
        for level, tail in (("95", 0.025), ("99.8", 0.001)):
            found = funnel_limits(target, n, tail=tail)
            assert found.low is not None
            assert found.high is not None
            figures[f"target{target}_n{n}_low_{level}"] = found.low
            figures[f"target{target}_n{n}_high_{level}"] = found.high
    return figures


EXAMPLES: dict[str, Callable[[Path], Figures]] = {
    "B0_constants": lambda _folder: {"d2_n2": limits.D2},
    "B1_flowrate": flow_rate,
    "B2_diameters": diameters,
    "B5_p": shares,
    "B10_g": births_between,
    "B11_rules": rules,
    "B12_arl": run_lengths,
    "B13_runs": runs,
    "B14_funnel": funnel,
}

# moving averages, counts, rates and times between events: no measure of ours is drawn so
NO_SUCH_CHART = ("B3_ewma", "B4_wafer_c", "B6_circuit_c", "B7_pc_u", "B8_cloth_u_varying", "B9_t")
NOT_CHECKED = {
    **{("B0_constants", name): "no chart of ours uses it" for name in ("D4_n2", "E2_n2", "median_mr_divisor")},
    ("B1_flowrate", "ucl_mr_D4_3.267"): "the moving range itself is not drawn",
    ("B2_diameters", "ucl_mr"): "the moving range itself is not drawn",
    ("B1_flowrate", "sample_sd_not_used_for_limits"): "no chart of ours uses it, as the row itself says",
    ("B10_g", "median_0.693_rule"): "a rule of thumb; the chart uses the exact geometric median",
}


@pytest.mark.parametrize("example", EXAMPLES)
def test_worked_example(example, worked_examples, check):
    check(example, EXAMPLES[example](worked_examples))


def test_every_row_of_the_section_is_checked_or_listed(worked_examples, expected_rows):
    rows = {(e, q) for e, by_quantity in expected_rows.items() for q, r in by_quantity.items() if r["section"] == "B"}
    checked = {(e, q) for e, figures in EXAMPLES.items() for q in figures(worked_examples)}
    assert len(rows) == 107
    rows = {(example, quantity) for example, quantity in rows if example not in NO_SUCH_CHART}
    assert rows - checked == set(NOT_CHECKED)


def test_run_limits_over_the_whole_table(worked_examples):
    with (worked_examples / "run_chart_runs_limits.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found = run_limits(int(row["useful_points"]))
            assert found == (int(row["exact_lower"]), int(row["exact_upper"])), row["useful_points"]


def test_run_chart_sequences(worked_examples):
    data = json.loads((worked_examples / "run_chart_sequences.json").read_text(encoding="utf-8"))
    assert len(data["sequences"]) == 7
    for name, sequence in data["sequences"].items():
        found, expected = run_chart(sequence["values"], sequence["median"]), sequence["expected"]
        ours = {
            "useful_points": found.useful_points,
            "runs": found.runs,
            "shift_first_index": found.shift_at[0] + 1 if found.shift_at else None,
            "trend_first_index": found.trend_at[0] + 1 if found.trend_at else None,
            "runs_signal": found.runs_signal,
            "limits": [found.runs_low, found.runs_high],
        }
        assert ours == {quantity: expected[quantity] for quantity in ours}, name


def test_funnel_over_the_whole_table(worked_examples):
    with (worked_examples / "funnel_limits.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 14
    for row in rows:
        target, n = float(row["target"]), int(row["n"])
        for level, tail in (("95", 0.025), ("99.8", 0.001)):
            exact = funnel_limits(target, n, tail=tail)
            printed = [float(row[f"exact_{end}_{level}"]) for end in ("low", "high")]
            np.testing.assert_allclose([exact.low, exact.high], printed, rtol=0, atol=6e-7)
