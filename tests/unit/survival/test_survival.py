"""Time to event against lifelines and scipy on random data with ties and censoring, and on data counted by hand."""

import warnings

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lifelines import AalenJohansenFitter, KaplanMeierFitter
from lifelines.statistics import multivariate_logrank_test
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from audit import survival as surv

pytestmark = pytest.mark.slow

STEADY = settings(max_examples=30)
CLOSE = {"rtol": 0, "atol": 1e-6}
tied = st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=2, max_size=40)


def _quiet(function, *arguments, **named):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return function(*arguments, **named)


@STEADY
@given(tied)
def test_curve_and_interval_equal_lifelines(data):
    times, events = (np.array(column) for column in zip(*data, strict=True))
    ours = surv.survival_curve(times, events, level=0.95)
    theirs = _quiet(KaplanMeierFitter().fit, times, events)
    np.testing.assert_array_equal(ours.time, theirs.timeline)
    np.testing.assert_allclose(ours.survival, theirs.survival_function_.to_numpy()[:, 0], **CLOSE)
    inside = (ours.survival > 0) & (ours.survival < 1)
    bounds = theirs.confidence_interval_.to_numpy()
    np.testing.assert_allclose(ours.low[inside], bounds[inside, 0], **CLOSE)
    np.testing.assert_allclose(ours.high[inside], bounds[inside, 1], **CLOSE)


@STEADY
@given(tied)
def test_curve_equals_scipy(data):
    times, events = (np.array(column, float) for column in zip(*data, strict=True))
    assume(events.any())
    sample = stats.CensoredData(uncensored=times[events > 0], right=times[events == 0])
    theirs = stats.ecdf(sample).sf
    ours = surv.survival_curve(times, events, level=0.95)
    np.testing.assert_allclose(surv_at(ours, theirs.quantiles), theirs.probabilities, **CLOSE)


def surv_at(curve, times):
    return [surv.value_at(curve.time, curve.survival, t) for t in times]


@STEADY
@given(tied, tied, tied)
def test_log_rank_equals_lifelines_and_scipy(a, b, c):
    groups = [tuple(np.array(column, float) for column in zip(*data, strict=True)) for data in (a, b, c)]
    for chosen in (groups[:2], groups):
        ours = surv.log_rank(chosen)
        assume(ours.chi_square is not None)
        times, events = (np.concatenate([g[i] for g in chosen]) for i in range(2))
        label = np.repeat(np.arange(len(chosen)), [len(g[0]) for g in chosen])
        theirs = _quiet(multivariate_logrank_test, times, label, events)
        np.testing.assert_allclose(ours.chi_square, theirs.test_statistic, rtol=1e-6, atol=1e-6)
        np.testing.assert_allclose(ours.p, theirs.p_value, **CLOSE)
        assert ours.observed.sum() == pytest.approx(ours.expected.sum())
    samples = [stats.CensoredData(uncensored=t[e > 0], right=t[e == 0]) for t, e in groups[:2]]
    assume(all(e.any() for _, e in groups[:2]))
    two = surv.log_rank(groups[:2]).chi_square
    np.testing.assert_allclose(two, stats.logrank(*samples).statistic ** 2, rtol=1e-6, atol=1e-6)


@settings(STEADY, max_examples=12)
@given(st.integers(0, 10_000), st.integers(3, 60))
def test_cumulative_incidence_and_its_variance_equal_lifelines(seed, n):
    """Without ties, because lifelines moves tied times apart at random."""
    rng = np.random.default_rng(seed)
    times, causes = rng.random(n), rng.integers(0, 3, n)
    ours = surv.cumulative_incidence(times, causes, level=0.95)
    for row, cause in enumerate(ours.causes):
        theirs = _quiet(AalenJohansenFitter(calculate_variance=True).fit, times, causes, event_of_interest=cause)
        np.testing.assert_allclose(ours.incidence[row], theirs.cumulative_density_.to_numpy()[:, 0], **CLOSE)
        np.testing.assert_allclose(ours.standard_error[row] ** 2, theirs.variance_.to_numpy(), **CLOSE)
        inside = (ours.incidence[row] > 1e-9) & (ours.incidence[row] < 1 - 1e-9)
        bounds = theirs.confidence_interval_.to_numpy()[inside]
        np.testing.assert_allclose(ours.low[row][inside], bounds[:, 0], **CLOSE)
        np.testing.assert_allclose(ours.high[row][inside], bounds[:, 1], **CLOSE)


@STEADY
@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 3)), min_size=1, max_size=40))
def test_incidences_and_what_is_left_add_up_to_one(data):
    times, causes = zip(*data, strict=True)
    found = surv.cumulative_incidence(times, causes, level=0.95)
    np.testing.assert_allclose(found.incidence.sum(axis=0) + found.free, 1.0, **CLOSE)
    assert (np.diff(found.incidence, axis=1) >= -1e-12).all()
    alone = surv.survival_curve(times, np.array(causes) > 0, level=0.95)
    np.testing.assert_allclose(found.free, alone.survival, **CLOSE)


def test_cumulative_incidence_by_hand():
    """Six episodes: response at 1 and 4, birth at 2, lost at 3, response at 5, birth at 6.

    1: 1/6. 2: birth 5/6 x 1/5 = 1/6, left 4/6. 4: 3 at risk, 4/6 x 1/3 = 2/9. 5: 4/9 x 1/2 = 2/9. 6: 2/9.
    """
    found = surv.cumulative_incidence([1, 4, 2, 3, 5, 6], [1, 1, 2, 0, 1, 2], level=0.95)
    assert found.causes == (1, 2)
    np.testing.assert_allclose(found.incidence[0], np.array([0, 3, 3, 3, 7, 11, 11]) / 18, **CLOSE)
    np.testing.assert_allclose(found.incidence[1], np.array([0, 0, 3, 3, 3, 3, 7]) / 18, **CLOSE)
    # calling births censored instead would overstate the responses
    assert 1 - surv.survival_curve([1, 4, 2, 3, 5, 6], [1, 1, 0, 0, 1, 0], level=0.95).survival[-1] > 11 / 18


def test_share_within_target_keeps_the_kinds_apart():
    """Exactly at the target is in time; born before it is neither in time nor late; lost before it is unknown."""
    found = surv.share_within_target([10, 30, 31, 29, 30, 45, 12], [1, 1, 1, 2, 0, 2, 0], 30, level=0.95)
    assert (found.within, found.late, found.other_end, found.unknown) == (2, 3, 1, 1)
    # 10: 1/7 of 7; lost at 12; born at 29, one of 5; at 30 one of the 4 left: 1/7 + 6/7 x 4/5 x 1/4
    assert found.share == pytest.approx(1 / 7 + 6 / 35)
    assert found.interval is not None
    assert found.interval[0] < found.share < found.interval[1]


@pytest.mark.parametrize("seed", range(4))
def test_share_within_target_equals_lifelines(seed):
    """The cumulative incidence at the target, births and resolutions competing: lifelines AalenJohansenFitter."""
    rng = np.random.default_rng(seed)
    times = np.sort(rng.choice(np.arange(1, 400), 40, replace=False)) / 10.0
    causes = rng.choice([0, 1, 1, 2, 3], 40)
    fitted = AalenJohansenFitter(calculate_variance=True, seed=0).fit(times, causes, event_of_interest=1)
    for target in (5.0, 15.0, 30.0):
        found = surv.share_within_target(times, causes, target, level=0.95)
        assert found.share == pytest.approx(float(fitted.predict(target)), abs=1e-9)
    without = np.where(causes == 0, 2, causes)
    found = surv.share_within_target(times, without, 15.0, level=0.95)
    within = int(((times <= 15) & (without == 1)).sum())
    assert found.share == pytest.approx(within / 40)
    assert found.interval == pytest.approx(proportion_confint(within, 40, method="wilson"))


def test_nobody_followed_to_the_target_is_a_sentence():
    found = surv.share_within_target([5, 6], [0, 0], 30, level=0.95)
    assert (found.share, found.interval) == (None, None)
    assert found.note
    assert surv.share_within_target([], [], 30, level=0.95).share is None


def test_six_born_before_the_target_are_no_better_than_six_unanswered_ones():
    """Of ten concerns four are answered in time and six are born first: 4 of 10 had an answer, not 4 of 4."""
    found = surv.share_within_target([5.0] * 4 + [8.0] * 6, [1] * 4 + [2] * 6, 15, level=0.95)
    assert found.share == pytest.approx(0.4)


def test_groups_never_at_risk_together_are_not_tested():
    found = surv.log_rank([([1, 2], [1, 1]), ([], [])])
    assert (found.chi_square, found.p) == (None, None)
    assert found.note


@pytest.mark.parametrize(("times", "events"), [([1, 2], [1]), ([-1.0], [1]), ([np.nan], [1]), ([[1.0]], [[1]])])
def test_impossible_times_are_refused(times, events):
    with pytest.raises(ValueError, match="expected"):
        surv.survival_curve(times, events, level=0.95)
