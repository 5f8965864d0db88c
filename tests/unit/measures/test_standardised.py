"""Indirect standardisation against libraries: statsmodels' logistic regression, scipy's distributions."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from audit.measures.standardised import NotFitted, count_limits, logistic_probabilities, standardised

pytestmark = pytest.mark.slow


def drawn(seed, n=800):
    rng = np.random.default_rng(seed)
    columns = rng.integers(0, 2, (n, 3)).astype(float)
    events = rng.random(n) < 1 / (1 + np.exp(2.0 - columns @ [1.0, 0.5, -0.8]))
    return columns, events


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_probabilities_are_those_of_statsmodels(seed):
    columns, events = drawn(seed)
    fitted = sm.Logit(events.astype(float), sm.add_constant(columns)).fit(disp=False, tol=1e-12, maxiter=100)
    found = logistic_probabilities(columns, events)
    np.testing.assert_allclose(found, fitted.predict(), atol=1e-9)
    assert found.sum() == pytest.approx(events.sum())


def test_one_column_gives_the_share_of_each_side():
    """With one yes-or-no column the maximum is each side's own share (any textbook; by hand)."""
    column = np.repeat([0.0, 1.0], [40, 60])
    events = np.r_[np.arange(40) < 10, np.arange(60) < 30]
    found = logistic_probabilities(column[:, None], events)
    np.testing.assert_allclose(found, np.repeat([0.25, 0.5], [40, 60]))
    group = standardised(events[:50], found[:50])
    assert (group.observed, group.births) == (20, 50)
    assert group.expected == pytest.approx(40 * 0.25 + 10 * 0.5)
    assert group.ratio == pytest.approx(20 / 15)


def test_a_column_that_says_nothing_leaves_each_side_its_share():
    """Both sides of the second column hold the same events: the shares are those of the first (by hand)."""
    column = np.tile(np.repeat([0.0, 1.0], [40, 60]), 2)
    events = np.tile(np.r_[np.arange(40) < 4, np.arange(60) < 54], 2)
    found = logistic_probabilities(np.column_stack([column, np.repeat([0.0, 1.0], 100)]), events)
    np.testing.assert_allclose(found, np.where(column == 1, 0.9, 0.1))


@pytest.mark.parametrize("events", [[False] * 6, [True] * 6, [False] * 3 + [True] * 3])
def test_what_has_no_maximum_is_said(events):
    with pytest.raises(NotFitted):
        logistic_probabilities(np.repeat([0.0, 1.0], 3)[:, None], np.array(events))


def test_two_columns_that_say_the_same_are_said():
    columns, events = drawn(4)
    with pytest.raises(NotFitted):
        logistic_probabilities(np.column_stack([columns, columns[:, 0]]), events)


@pytest.mark.parametrize("tail", [0.025, 0.001])
def test_limits_of_a_count_are_exact(tail):
    """The Poisson-binomial distribution of scipy, and the binomial where all births are alike."""
    p = np.random.default_rng(5).uniform(0.02, 0.6, 60)
    found = count_limits(p, tail=tail)
    assert found == tuple(int(stats.poisson_binom(p).ppf(share)) for share in (tail, 1 - tail))
    alike = count_limits(np.full(90, 0.2), tail=tail)
    assert alike == tuple(int(stats.binom(90, 0.2).ppf(share)) for share in (tail, 1 - tail))
    assert count_limits(np.empty(0), tail=tail) == (0, 0)


def test_what_cannot_be_is_refused():
    with pytest.raises(ValueError, match="0 to 1"):
        count_limits(np.array([1.1]), tail=0.025)
    with pytest.raises(ValueError, match="tail"):
        count_limits(np.array([0.1]), tail=0.5)
    with pytest.raises(ValueError, match="finite"):
        logistic_probabilities(np.array([[np.nan]]), np.array([True]))
    with pytest.raises(ValueError, match="events for"):
        standardised(np.array([True]), np.array([0.1, 0.2]))
    assert standardised(np.array([], bool), np.array([])).ratio is None
