"""Two periods of a measure beside each other, and the questions that charts stand under."""

import numpy as np
import pytest

from audit.questions import periods_compared, trend_groups
from audit.questions.action_effects import MOVABLE

LEVEL = 0.95


def measure(counts, *, phases=(), single_births=False, beyond=()):
    points = [
        {
            "period": f"2031-{month:02d}",
            "value": part / of,
            "numerator": part,
            "denominator": of,
            "beyond_scale": month in beyond,
        }
        for month, (part, of) in enumerate(counts, start=1)
    ]
    starts = [{"from": "2031-01"}, *({"from": period} for period in phases)]
    name = "answered_within_target"
    return {"name": name, "unit": "share", "points": points, "phases": starts, "single_births": single_births}


def test_shares_of_two_periods_have_the_printed_difference():
    # Newcombe, Stat Med 1998;17:873-90, table II, contrast (a), method 10: 56/70 less 48/80 is 0.0524 to 0.3339; the
    # months of a period are alike, so that months as clusters add nothing
    months = [(16, 27), (16, 27), (16, 26), (19, 23), (19, 24), (18, 23)]
    halves = ("2031-01", "2031-03"), ("2031-04", "2031-06")
    found = periods_compared.compared([measure(months)], *halves, level=LEVEL)[0]
    assert (found["before"], found["after"]) == (pytest.approx(48 / 80), pytest.approx(56 / 70))
    np.testing.assert_allclose([found["low"], found["high"]], [0.0524, 0.3339], rtol=0, atol=5e-5)


def test_what_cannot_be_compared_says_why():
    few = measure([(1, 2)] * 4)
    single = measure([(1, 2)] * 8, single_births=True)
    beyond = measure([(1, 2)] * 8, beyond=(6,))
    halves = ("2031-01", "2031-04"), ("2031-05", "2031-08")
    rows = periods_compared.compared([few, single, beyond], *halves, level=LEVEL)
    said = [periods_compared.FEW, periods_compared.SINGLE_BIRTHS, periods_compared.BEYOND]
    assert [row["reason"] for row in rows] == said
    assert all(row["difference"] is None for row in rows)


def test_the_newest_change_of_practice_divides_the_months_to_begin_with():
    changed = measure([(1, 2)] * 9, phases=("2031-04", "2031-07"))
    assert periods_compared.to_begin_with([changed]) == (("2031-01", "2031-06"), ("2031-07", "2031-09"))
    assert periods_compared.to_begin_with([measure([(1, 2)] * 9)]) == (("2031-01", "2031-04"), ("2031-05", "2031-09"))
    # each period needs three months
    assert periods_compared.to_begin_with([measure([(1, 2)] * 5)]) is None


def test_every_measure_stands_under_one_question_and_an_unknown_one_is_not_lost():
    named = [name for names in trend_groups.QUESTIONS.values() for name in names]
    assert len(named) == len(set(named))
    assert set(MOVABLE) <= set(named)
    found = trend_groups.by_question([{"name": "something_new"}, {"name": "births_reviewed"}])
    assert [question for question, _ in found] == ["How much is there to review?", trend_groups.OTHER]


def test_a_signal_seen_in_several_months_is_said_once_with_all_of_them():
    seen = ("beyond a limit", None, "8 on one side", "beyond a limit", "beyond a limit")
    points = [{"period": f"2031-0{month}", "signal": signal} for month, signal in enumerate(seen, start=1)]
    assert trend_groups.signals(points) == [
        "Signal in 2031-01, 2031-04, 2031-05: beyond a limit.",
        "Signal in 2031-03: 8 on one side.",
    ]
    assert trend_groups.signals(points[1:2]) == []
