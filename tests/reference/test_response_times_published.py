"""Response-time statistics against published figures and a general-purpose library; birth intervals against standards.

Sources: Freireich et al, Blood 1963;21:699-716 (remission on 6-MP and placebo, as in textbooks of survival analysis;
treated median 23 and placebo median 8 weeks, log-rank chi-square 16.79); lifelines for curves and competing ends on
invented waits; NICE NG192 for 30 and 75 minutes from decision to birth (from memory).
"""

import lifelines
import numpy as np
import pandas as pd
import pytest

from audit import response_statistics as statistics
from audit.response.birth_intervals import birth_interval
from audit.response.types import CareEvent

pytestmark = pytest.mark.reference


def waits_of(minutes, ended_by, shift, status=None) -> pd.DataFrame:
    count = len(minutes)
    return pd.DataFrame(
        {
            "case_id": [f"c{k}" for k in range(count)],
            "fetus": "A",
            "period": "2031-03",
            "shift": shift,
            "stage": "first",
            "standard": "figo-2015",
            "trigger": "pathological",
            "target_minutes": 15.0,
            "status": status if status is not None else "none_recorded",
            "wait_minutes": np.asarray(minutes, float),
            "ended_by": ended_by,
        }
    )


@pytest.fixture(scope="module")
def remission(worked_examples) -> pd.DataFrame:
    """Weeks to relapse as if they were minutes to a response; the treated as the night, the placebo as the day."""
    table = pd.read_csv(worked_examples / "km_6mp_1963.csv")
    ended_by = np.where(table["event"] == 1, "response", "end_of_tracing")
    return waits_of(table["weeks"], ended_by, np.where(table["group"] == "6-MP", "night", "day"))


def test_medians_are_the_published_ones(remission):
    medians = statistics.summary(remission, "shift").set_index("group")["median_minutes"]
    assert (medians["night"], medians["day"]) == (23.0, 8.0)


def test_the_log_rank_statistic_is_the_published_one(remission):
    found = statistics.comparison(remission, "shift")
    assert found.chi_square == pytest.approx(16.79, abs=0.005)
    assert found.degrees_of_freedom == 1


def test_the_waiting_curve_is_the_published_one(remission):
    curve = statistics.waiting_curves(remission, "shift")
    treated = curve[curve["group"] == "night"].set_index("minutes")
    # weeks 6, 7, 10, 13, 16, 22, 23 as printed to three decimals; at risk 21, 17, 15, 12, 11, 7, 6
    printed = {6: 0.857, 7: 0.807, 10: 0.753, 13: 0.690, 16: 0.627, 22: 0.538, 23: 0.448}
    for week, share in printed.items():
        assert treated.loc[float(week), "waiting_fraction"] == pytest.approx(share, abs=5e-4)
    assert treated.loc[[6.0, 7.0, 10.0, 13.0, 16.0, 22.0, 23.0], "at_risk"].tolist() == [21, 17, 15, 12, 11, 7, 6]


@pytest.fixture(scope="module")
def invented() -> pd.DataFrame:
    rng = np.random.default_rng(7)
    count = 400
    ends = rng.choice(["response", "resolved", "birth", "end_of_tracing"], count, p=[0.6, 0.15, 0.15, 0.1])
    # continuous, so without ties: a library that breaks ties by chance gives the same figures
    return waits_of(rng.gamma(2.0, 9.0, count), ends, rng.choice(["day", "night"], count))


def test_waiting_curves_equal_lifelines(invented):
    curves = statistics.waiting_curves(invented, "shift")
    for shift in ("day", "night"):
        rows = invented[invented["shift"] == shift]
        oracle = lifelines.KaplanMeierFitter().fit(rows["wait_minutes"], rows["ended_by"] == "response")
        mine = curves[curves["group"] == shift]
        np.testing.assert_allclose(
            mine["waiting_fraction"], oracle.survival_function_at_times(mine["minutes"]).to_numpy(), atol=1e-9
        )


def test_competing_ends_equal_lifelines(invented):
    ends = statistics.ends_over_time(invented, "shift")
    for shift in ("day", "night"):
        rows = invented[invented["shift"] == shift]
        cause = rows["ended_by"].map(statistics.CODES)
        for name, code in (("response", 1), ("resolved", 2), ("birth", 3)):
            oracle = lifelines.AalenJohansenFitter(calculate_variance=False)
            oracle.fit(rows["wait_minutes"], cause, event_of_interest=code)
            mine = ends[(ends["group"] == shift) & (ends["ended_by"] == name)]
            theirs = oracle.cumulative_density_.iloc[:, 0]
            np.testing.assert_allclose(mine["fraction"].iloc[-1], theirs.iloc[-1], atol=1e-9)
            at = theirs.index.searchsorted(mine["minutes"], side="right") - 1
            np.testing.assert_allclose(mine["fraction"], theirs.to_numpy()[at], atol=1e-9)


def test_treating_competing_ends_as_censored_would_overstate_the_answers(invented):
    """The known inequality: one minus Kaplan-Meier is at least the cumulative incidence."""
    curve = statistics.waiting_curves(invented, "standard")
    ends = statistics.ends_over_time(invented, "standard")
    answered = ends[ends["ended_by"] == "response"]["fraction"].iloc[-1]
    assert 1 - curve["waiting_fraction"].iloc[-1] > answered


# Source: NICE NG192 (from memory), 'within 30 minutes': 30:00 is within, 30:01 is not; 75 minutes for category 2.
@pytest.mark.parametrize(
    ("seconds", "detail", "within"),
    [
        (1800, "category 1", True),
        (1801, "category 1", False),
        (4500, "category 2", True),
        (4501, "category 2", False),
    ],
)
def test_decision_to_birth_against_the_published_minutes(seconds, detail, within):
    found = birth_interval([CareEvent(0.0, "decision_for_birth", detail)], birth_s=float(seconds))
    assert found.within_standard is within
