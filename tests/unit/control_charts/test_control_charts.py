"""Charts of monthly measures: what is shown, suppressed, and called a signal; and the shape of the document."""

import itertools
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from msgspec.structs import replace

from audit.control_charts.funnel import funnel_limits
from audit.control_charts.limits import ChartLimits, g_chart
from audit.control_charts.measure import CHARTS, Phase, trend_measure
from audit.control_charts.rules import RULE_TEXT, signals
from audit.control_charts.run_chart import run_chart, run_limits
from audit.control_charts.run_length import average_run_length
from audit.settings import load_settings

STEADY = settings(max_examples=60)
OPTIONS = load_settings().trends
MONTHS = [f"{year}-{month:02d}" for year in (2024, 2025, 2026) for month in range(1, 13)]


def measure(chart, count, *, options=OPTIONS, **columns):
    made = trend_measure("share", chart, "fraction", MONTHS[:count], options=options, **columns)
    json.dumps(made, allow_nan=False)
    return made


def test_the_measure_has_the_fields_of_the_contract():
    made = measure("p", 12, numerators=[6] * 12, denominators=[30] * 12)
    assert {"name", "chart", "unit", "points", "phases"} <= set(made)
    fields = {"period", "value", "numerator", "denominator", "centre", "low", "high", "signal"}
    assert all(fields <= set(point) for point in made["points"])


def test_limits_of_a_share_follow_the_denominator():
    """Centre 0.2; 3 sqrt(0.2 x 0.8 / 25) = 0.24, cut at 0, and / 100 = 0.12 (NIST/SEMATECH 6.3.3.2)."""
    made = measure("p", 20, numerators=[5] * 10 + [20] * 10, denominators=[25] * 10 + [100] * 10)
    first, last = made["points"][0], made["points"][-1]
    assert (first["centre"], first["low"], first["high"]) == pytest.approx((0.2, 0.0, 0.44))
    assert (last["low"], last["high"]) == pytest.approx((0.08, 0.32))
    assert (last["numerator"], last["denominator"]) == (20, 100)


def test_a_share_on_few_births_is_not_shown_and_moves_nothing():
    totals = [40] * 12 + [4, 0]
    made = measure("p", 14, numerators=[10] * 12 + [4, 0], denominators=totals)
    few, none = made["points"][-2:]
    assert (few["value"], few["signal"], few["centre"]) == (None, None, None)
    assert few["reason"] == "Not shown: 4 in the denominator, fewer than 5."
    assert (few["numerator"], few["denominator"]) == (4, 4)
    assert none["value"] is None
    assert made["points"][0]["centre"] == pytest.approx(0.25)
    assert made["phases"][0]["baseline_points"] == OPTIONS.baseline_points_min


def test_a_phase_gets_limits_of_its_own_once_it_has_its_points():
    """Its first eight months keep the limits they were judged by, those of the phase before; the ninth has its own."""
    values = [10, 12] * 8 + [20, 22] * 4
    made = measure("xmr", 24, values=values, phases=[Phase("2025-05", "new rota")])
    assert [phase["label"] for phase in made["phases"]] == ["baseline", "new rota"]
    assert {point["centre"] for point in made["points"]} == {11.0}
    assert all(RULE_TEXT["N1"] in point["signal"] for point in made["points"][16:])
    later = measure("xmr", 26, values=[*values, 20, 22], phases=[Phase("2025-05", "new rota")])
    assert [point["centre"] for point in later["points"][24:]] == [21.0, 21.0]
    assert [point["signal"] for point in later["points"][24:]] == [None, None]
    assert later["points"][:24] == made["points"]


@pytest.mark.parametrize("chart", CHARTS)
@pytest.mark.parametrize("phases", [(), (Phase("2025-01", "new rota"),)])
def test_a_verdict_does_not_change_when_months_are_added(chart, phases):
    """Limits of a stable first phase are kept for monitoring (NIST/SEMATECH e-Handbook 6.3.1): from the month in which
    they are set on, neither they nor what they said of a month may depend on the months after it."""
    rng = np.random.default_rng(3)
    for level in (0.2, 0.5):
        events = rng.binomial(30, np.where(np.arange(36) < 18, level, level + 0.3))
        values = events.astype(float) if chart != "g" else rng.geometric(np.where(np.arange(36) < 18, 0.03, 0.3)) * 1.0
        columns = {"numerators": events.tolist(), "denominators": [30] * 36} if chart == "p" else {"values": values}
        told = [measure(chart, n, **{k: v[:n] for k, v in columns.items()}, phases=phases) for n in range(1, 37)]
        for fewer, more in itertools.pairwise(told):
            n = len(fewer["points"])
            assert [p["signal"] for p in more["points"][:n]] == [p["signal"] for p in fewer["points"]]
            if n > OPTIONS.baseline_points_min:
                assert more["points"][:n] == fewer["points"]
        assert any(point["signal"] for point in told[-1]["points"])
        # set once from the first points and once more, on the longer baseline, for the months after it
        assert told[-1]["points"][0]["judged"] is False
        assert told[-1]["points"][OPTIONS.baseline_points_min]["judged"] is True


def test_limits_are_set_once_more_on_the_longer_baseline():
    values = [10, 12] * 4 + [14, 16] * 14
    centres = [point["centre"] for point in measure("xmr", 36, values=values)["points"]]
    assert centres[:24] == [11.0] * 24
    assert centres[24:] == [pytest.approx(np.mean(values[:24]))] * 12


def test_a_baseline_that_lies_outside_its_own_limits_is_called_unsteady():
    steady = measure("p", 12, numerators=[5] * 12, denominators=[50] * 12)
    assert steady["phases"][0]["note"] == "Provisional limits: 8 points are fewer than 20."
    jumped = measure("p", 12, numerators=[1] * 4 + [30] + [1] * 7, denominators=[50] * 12)
    assert "1 of the 8 points that the limits rest on lie outside them" in jumped["phases"][0]["note"]


def test_a_share_carries_the_caution_that_its_counts_hang_together():
    """Spiegelhalter, Stat Med 2005;24:1185-202: counts that are not independent are overdispersed, so limits from the
    binomial distribution alone are too narrow."""
    assert "wider than those drawn" in measure("p", 12, numerators=[15] * 12, denominators=[30] * 12)["note"]
    own = measure("p", 12, numerators=[15] * 12, denominators=[30] * 12, clustered="Episodes of one labour.")
    assert own["note"] == "Episodes of one labour."


def test_a_value_beyond_the_scale_is_a_point_above_every_other():
    """Half never reached is worse than any number of minutes: it counts for runs, and has no figure."""
    inf = float("inf")
    made = measure("run", 15, values=[10.0, 12.0] * 4 + [inf] * 7, beyond_words="Fewer than half.", lowest=0.0)
    last = made["points"][-1]
    assert (last["value"], last["beyond_scale"], last["reason"]) == (None, True, "Fewer than half.")
    assert [i for i, point in enumerate(made["points"]) if point["signal"]] == [12, 13, 14]
    most = measure("run", 10, values=[10.0] * 2 + [inf] * 8, beyond_words="Fewer than half.")
    assert most["points"][-1]["centre"] is None
    with pytest.raises(ValueError, match="beyond the scale"):
        measure("xmr", 9, values=[10.0] * 8 + [inf])


def test_a_phase_too_short_for_limits_goes_on_under_the_old_ones():
    made = measure("xmr", 14, values=[10, 12] * 6 + [30, 31], phases=[("2025-01", "new form")])
    assert made["points"][-1]["centre"] == pytest.approx(11.0)
    assert made["points"][-1]["signal"] == RULE_TEXT["N1"]
    assert "limits of the phase before go on" in made["phases"][1]["note"]


def test_too_few_months_show_points_without_limits():
    made = measure("p", 5, numerators=[1, 2, 1, 2, 1], denominators=[20] * 5)
    assert [point["value"] for point in made["points"]] == pytest.approx([0.05, 0.1, 0.05, 0.1, 0.05])
    assert made["points"][0]["centre"] is None
    assert made["phases"][0]["note"] == "No limits of its own: 5 points are fewer than 8."


def test_nothing_varies_so_there_are_no_limits():
    made = measure("xmr", 10, values=[7.0] * 10)
    assert (made["points"][0]["centre"], made["points"][0]["low"], made["points"][0]["high"]) == (7.0, None, None)
    assert made["phases"][0]["note"].startswith("No limits")
    never = measure("p", 10, numerators=[0] * 10, denominators=[50] * 10)
    assert never["points"][0]["high"] is None


def test_a_lower_limit_that_cannot_occur_is_left_out():
    values = [5.0, 30.0] * 6
    assert measure("xmr", 12, values=values)["points"][0]["low"] < 0
    assert measure("xmr", 12, values=values, lowest=0.0)["points"][0]["low"] is None


def test_an_interval_of_a_median_is_shown_beside_it_and_used_for_nothing():
    values = [20.0, 22.0] * 5
    made = measure("xmr", 10, values=values, values_low=[15.0] * 9 + [None], values_high=[30.0] * 9 + [None])
    plain = measure("xmr", 10, values=values)
    assert (made["points"][0]["value_low"], made["points"][0]["value_high"]) == (15.0, 30.0)
    assert made["points"][9]["value_low"] is None
    assert [p["high"] for p in made["points"]] == [p["high"] for p in plain["points"]]
    share = measure("p", 10, numerators=[5] * 10, denominators=[20] * 10)["points"][0]
    assert share["value_low"] < 0.25 < share["value_high"]


def test_a_month_without_data_breaks_neither_the_chart_nor_a_run():
    """Nine points above the centre of the baseline with a hole among them: the ninth one completes the run."""
    values = [10.0, 14.0] * 6 + [13.0] * 5 + [None] + [13.0] * 5
    made = measure("xmr", 23, values=values, options=replace(OPTIONS, baseline_points=12, baseline_points_min=12))
    assert made["points"][17]["reason"] == "No data."
    fired = [i for i, point in enumerate(made["points"]) if point["signal"]]
    # the baseline ends on 14, above its centre of 12, so the ninth in a row is the point at position 20
    assert fired[0] == 20
    assert made["points"][20]["signal"] == RULE_TEXT["N2"]


def test_rare_events_on_a_share_chart_are_called_rough():
    made = measure("p", 24, numerators=[0, 1] * 12, denominators=[40] * 24)
    assert "births between events" in made["note"]
    # 49 of 50: 49 events are no few, it is the single one without that is
    common = measure("p", 12, numerators=[49] * 12, denominators=[50] * 12)["note"]
    assert common.startswith("About 1.0 without the event are expected per point, fewer than 5")
    assert "births between events" not in common


def test_a_run_chart_has_signals_without_limits():
    made = measure("run", 14, values=[9, 11] * 4 + [12, 12, 13, 12, 14, 12])
    assert made["points"][0]["low"] is None
    assert "shift" in made["points"][-1]["signal"]
    assert made["phases"][0]["useful_points"] == 14


@pytest.mark.parametrize("chart", CHARTS)
def test_no_points_at_all_is_a_note(chart):
    columns = {"numerators": [], "denominators": []} if chart == "p" else {"values": []}
    made = measure(chart, 0, **columns)
    assert (made["points"], made["phases"], made["note"]) == ([], [], "No points to show.")
    unknown = {name: [None] * 9 for name in columns}
    assert all(point["value"] is None and point["reason"] for point in measure(chart, 9, **unknown)["points"])


@pytest.mark.parametrize(
    ("chart", "columns", "message"),
    [
        ("z", {"values": [1, 2]}, "chart 'z'"),
        ("p", {"numerators": [1, 2]}, "needs numerators and denominators"),
        ("p", {"numerators": [9, 2], "denominators": [8, 8]}, "larger than its denominator"),
        ("p", {"numerators": [1.5, 2], "denominators": [8, 8]}, "whole numbers"),
        ("xmr", {"values": [1]}, "1 entries for 2 periods"),
    ],
)
def test_a_chart_that_cannot_be_made_says_why(chart, columns, message):
    with pytest.raises(ValueError, match=message):
        measure(chart, 2, **columns)


def test_periods_out_of_order_are_refused():
    with pytest.raises(ValueError, match="order of time"):
        trend_measure("x", "xmr", "min", ["2024-02", "2024-01"], values=[1, 2], options=OPTIONS)


@STEADY
@given(arrays(np.float64, st.integers(0, 30), elements=st.floats(-4, 4).map(lambda x: round(x, 1))))
def test_rules_equal_a_reading_of_their_words(z):
    """A second route: each rule as a loop over the points, straight from its sentence."""
    line = np.zeros(len(z))
    chart = xmr_like(z, line)
    fired = signals(chart, list(RULE_TEXT))
    for i in range(len(z)):
        last = {n: z[i - n + 1 : i + 1] for n in (3, 5, 6, 8, 9, 14, 15) if i - n + 1 >= 0}
        expected = set()
        expected |= {"N1"} if abs(z[i]) > 3 else set()
        expected |= {"N2"} if 9 in last and (all(last[9] > 0) or all(last[9] < 0)) else set()
        expected |= {"W4"} if 8 in last and (all(last[8] > 0) or all(last[8] < 0)) else set()
        expected |= {"N3"} if 6 in last and (all(np.diff(last[6]) > 0) or all(np.diff(last[6]) < 0)) else set()
        if 14 in last:
            steps = np.sign(np.diff(last[14]))
            expected |= {"N4"} if all(steps[1:] == -steps[:-1]) and all(steps) else set()
        for rule, zone, needed, n in (("N5", 2, 2, 3), ("N6", 1, 4, 5)):
            window = z[max(0, i - n + 1) : i + 1]
            for sign in (1, -1):
                if sign * z[i] > zone and (sign * window > zone).sum() >= needed:
                    expected.add(rule)
        expected |= {"N7"} if 15 in last and all(np.abs(last[15]) < 1) else set()
        expected |= {"N8"} if 8 in last and all(np.abs(last[8]) > 1) else set()
        assert set(fired[i]) == expected, (i, z)


def xmr_like(z, line):
    return ChartLimits(z, line, line - 3.0, line + 3.0, z, z)


@pytest.mark.slow
def test_the_rate_of_false_signals_is_that_of_simulated_months():
    """The exact run length of the rules in use against 1,200 simulated charts, to three standard errors."""
    rng = np.random.default_rng(11)
    lengths = []
    for _ in range(1200):
        z = rng.standard_normal(1600)
        fired = signals(xmr_like(z, np.zeros(1600)), ["N1", "N2"])
        lengths.append(next((i + 1 for i, rules in enumerate(fired) if rules), 1600))
    error = np.std(lengths) / np.sqrt(len(lengths))
    assert average_run_length(["N1", "N2"]) == pytest.approx(np.mean(lengths), abs=3 * error)
    assert average_run_length(["N3"]) is None


def test_no_point_no_value_and_unknown_rules():
    with pytest.raises(ValueError, match="no point"):
        g_chart([np.nan])
    with pytest.raises(ValueError, match="rule 'N9'"):
        signals(g_chart([1, 2]), ["N9"])
    with pytest.raises(ValueError, match="no value"):
        run_chart([])
    with pytest.raises(ValueError, match="target"):
        funnel_limits(0.0, 10, tail=0.025)
    assert run_limits(9) is None
    assert funnel_limits(0.1, 0, tail=0.025).low is None
