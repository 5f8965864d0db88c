"""Response-time statistics against published figures and a general-purpose library; birth intervals against standards.

Sources: Freireich et al, Blood 1963;21:699-716 (remission on 6-MP and placebo, as in textbooks of survival analysis;
treated median 23 and placebo median 8 weeks, log-rank chi-square 16.79); lifelines for curves and competing ends on
invented waits; NICE NG192 for 30 and 75 minutes from decision to birth (from memory).
"""

import csv

import lifelines
import numpy as np
import pytest

from audit.questions import waits
from audit.response.birth_intervals import birth_interval
from audit.response.types import CareEvent

LONGEST_MIN = 1e4  # nothing is cut off


def wait(minutes, ended_by, shift):
    return {"wait_minutes": float(minutes), "ended_by": str(ended_by), "shift": str(shift), "target_minutes": 15.0,
            "standard": "figo-2015", "status": "none_recorded"}  # fmt: skip


@pytest.fixture(scope="module")
def remission(worked_examples):
    """Weeks to relapse as if they were minutes to a response; the treated as the night, the placebo as the day."""
    with (worked_examples / "km_6mp_1963.csv").open(encoding="utf-8", newline="") as file:
        return [
            wait(
                row["weeks"],
                "response" if row["event"] == "1" else "end_of_tracing",
                "night" if row["group"] == "6-MP" else "day",
            )
            for row in csv.DictReader(file)
        ]


def test_half_answered_are_the_published_medians(remission):
    found = {group.name: group.half_answered_min for group in waits.wait_groups(remission, "shift")}
    assert found == {"night": 23.0, "day": 8.0}


def test_the_log_rank_statistic_is_the_published_one(remission):
    assert "chi-square 16.79 on 1 df, p below 0.001" in waits.difference(remission, "shift")


def test_the_uninterrupted_curve_is_the_published_one(remission):
    points = waits.uninterrupted_rows(remission, "shift", longest_min=LONGEST_MIN)
    treated = {point["minutes"]: point for point in points if point["group"] == "night"}
    # weeks 6, 7, 10, 13, 16, 22, 23 as printed to three decimals; at risk 21, 17, 15, 12, 11, 7, 6
    printed = {6: 0.857, 7: 0.807, 10: 0.753, 13: 0.690, 16: 0.627, 22: 0.538, 23: 0.448}
    for week, share in printed.items():
        assert 1 - treated[float(week)]["share"] == pytest.approx(share, abs=5e-4)
    assert [treated[float(week)]["waiting"] for week in printed] == [21, 17, 15, 12, 11, 7, 6]


@pytest.fixture(scope="module")
def invented():
    rng = np.random.default_rng(7)
    count = 400
    ends = rng.choice(["response", "resolved", "birth", "end_of_tracing"], count, p=[0.6, 0.15, 0.15, 0.1])
    # continuous, so without ties: a library that breaks ties by chance gives the same figures
    return [
        wait(*row) for row in zip(rng.gamma(2.0, 9.0, count), ends, rng.choice(["day", "night"], count), strict=True)
    ]


def of_shift(rows, shift):
    own = [row for row in rows if row["shift"] == shift]
    return np.array([row["wait_minutes"] for row in own]), np.array([row["ended_by"] for row in own])


@pytest.mark.parametrize("shift", ["day", "night"])
def test_uninterrupted_curves_and_their_intervals_equal_lifelines(invented, shift):
    minutes, ended_by = of_shift(invented, shift)
    oracle = lifelines.KaplanMeierFitter().fit(minutes, ended_by == "response")
    points = waits.uninterrupted_rows(invented, "shift", longest_min=LONGEST_MIN)
    mine = [point for point in points if point["group"] == shift and point["minutes"] < LONGEST_MIN]
    at = [point["minutes"] for point in mine]
    theirs = oracle.survival_function_at_times(at).to_numpy()
    np.testing.assert_allclose([1 - point["share"] for point in mine], theirs, atol=1e-9)
    bounds = oracle.confidence_interval_.loc[at].to_numpy()
    inside = (theirs > 0) & (theirs < 1)
    assert inside.sum() > 100
    # the lower bound of those still waiting is the upper bound of those answered
    for name, column in (("high", 0), ("low", 1)):
        found = np.array([np.nan if point[name] is None else point[name] for point in mine])
        np.testing.assert_allclose(1 - found[inside], bounds[inside, column], atol=1e-9)


@pytest.mark.parametrize("shift", ["day", "night"])
@pytest.mark.parametrize(("end", "code"), [("answered", 1), ("resolved first", 2), ("born first", 3)])
def test_competing_ends_equal_lifelines(invented, shift, end, code):
    minutes, ended_by = of_shift(invented, shift)
    oracle = lifelines.AalenJohansenFitter(calculate_variance=False)
    oracle.fit(minutes, [waits.CODES[name] for name in ended_by], event_of_interest=code)
    theirs = oracle.cumulative_density_.iloc[:, 0]
    points = waits.curve_rows(waits.wait_groups(invented, "shift"), longest_min=LONGEST_MIN)
    mine = [point for point in points if (point["group"], point["end"]) == (shift, end)]
    assert len(mine) > 100
    at = theirs.index.searchsorted([point["minutes"] for point in mine], side="right") - 1
    np.testing.assert_allclose([point["share"] for point in mine], theirs.to_numpy()[at], atol=1e-9)


def test_treating_competing_ends_as_censored_would_overstate_the_answers(invented):
    """The known inequality: one minus Kaplan-Meier is at least the cumulative incidence."""
    gone_on = waits.uninterrupted_rows(invented, "standard", longest_min=LONGEST_MIN)
    as_it_was = waits.answers(waits.curve_rows(waits.wait_groups(invented, "standard"), longest_min=LONGEST_MIN))
    assert gone_on[-1]["share"] > as_it_was[-1]["share"]


# Source: NICE NG192 (from memory), 'within 30 minutes': 30:00 is within, 30:01 is not; 75 minutes for category 2.
@pytest.mark.parametrize(
    ("seconds", "urgency", "within"),
    [
        (1800, 1, True),
        (1801, 1, False),
        (4500, 2, True),
        (4501, 2, False),
    ],
)
def test_decision_to_birth_against_the_published_minutes(seconds, urgency, within):
    found = birth_interval([CareEvent(0.0, "decision_for_birth", urgency)], birth_s=float(seconds))
    assert found.within_standard is within
