"""The chance that a page of charts flags something by luck: closed forms, the exact chain, the charts themselves."""

import numpy as np
import pytest
from scipy import stats

from audit.control_charts.luck import COVERED, Luck, chance_of_a_signal, luck_of_page
from audit.control_charts.measure import trend_measure
from audit.control_charts.run_length import average_run_length
from audit.settings import load_settings

OPTIONS = load_settings().trends
LONG = (500, 500)  # limits from so many points are as good as known


def test_one_point_against_known_limits_has_the_chances_of_the_textbook():
    """Beyond three standard deviations 0.0027 (NIST/SEMATECH e-Handbook 6.3.1); the same for exact limits of a
    skewed count; one of 2^5 runs of six on one side of the median, and 2 of 5! orders of five going one way."""
    for kind in ("p", "xmr", "g"):
        chance = chance_of_a_signal(kind, LONG[0] + 1, ("N1",), LONG)[1]
        assert chance == pytest.approx(2 * stats.norm.sf(3), abs=5 * np.sqrt(0.0027 / 4000))
    chance = chance_of_a_signal("run", LONG[0] + 1, (), LONG)[1]
    assert 1 / 32 < chance < 1 / 32 + 1 / 60 + 0.01


@pytest.mark.slow
@pytest.mark.parametrize("rules", [("N1",), ("N1", "N2"), ("N1", "W4"), ("N1", "N5", "N6", "W4")])
def test_many_points_against_known_limits_agree_with_the_exact_chain(rules):
    """Champ & Woodall, Technometrics 1987;29:393-9: after the start the waiting time for a false signal is nearly
    geometric with the mean of the exact Markov chain, 370.4 points for one rule and 91.75 for all four."""
    mean = average_run_length(rules)
    points = 30
    anywhere, _ = chance_of_a_signal("p", LONG[0] + points, rules, LONG, draws=3000)
    expected = 1 - (1 - 1 / mean) ** points
    assert anywhere == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("chart", ["xmr", "run"])
def test_the_chance_is_that_of_the_charts_as_they_are_drawn(chart):
    """A second route: the charts themselves on 300 unchanged series."""
    rng = np.random.default_rng(8)
    periods = [f"20{k // 12:02d}-{k % 12 + 1:02d}" for k in range(16)]
    flagged = 0
    for _ in range(300):
        made = trend_measure("x", chart, "n", periods, options=OPTIONS, values=rng.normal(size=16).tolist())
        flagged += any(point["signal"] for point in made["points"])
    known = chance_of_a_signal(chart, 16, OPTIONS.rules, (OPTIONS.baseline_points_min, OPTIONS.baseline_points))[0]
    assert flagged / 300 == pytest.approx(known, abs=3.5 * np.sqrt(known * (1 - known) / 300))


def test_more_charts_more_luck():
    one, ten = (luck_of_page([("xmr", 12)] * n, OPTIONS.rules, OPTIONS) for n in (1, 10))
    assert ten.anywhere == pytest.approx(1 - (1 - one.anywhere) ** 10)
    assert (ten.charts, one.charts) == (10, 1)
    short = luck_of_page([("run", OPTIONS.baseline_points_min)], OPTIONS.rules, OPTIONS)
    assert short == Luck(0, 0.0, 0.0)


def test_a_rule_whose_chance_is_not_worked_out_is_said_to_be_so():
    assert "N3" not in COVERED
    assert luck_of_page([("xmr", 12)], ("N1", "N3"), OPTIONS).anywhere is None
