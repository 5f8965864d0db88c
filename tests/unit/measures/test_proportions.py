"""Shares and ROC areas against statsmodels, scipy and scikit-learn, and where there is nothing to count."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats
from sklearn.metrics import roc_auc_score
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from audit.measures import proportions as prop
from audit.measures import roc

pytestmark = pytest.mark.slow

STEADY = settings(max_examples=60)
share = st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
CLOSE = {"rtol": 0, "atol": 1e-6}


@STEADY
@given(share)
def test_the_interval_of_a_share_equals_statsmodels_and_scipy(counts):
    x, n = counts
    np.testing.assert_allclose(prop.wilson_interval(x, n, 0.95), proportion_confint(x, n, method="wilson"), **CLOSE)
    theirs = stats.binomtest(x, n).proportion_ci(method="wilson")
    np.testing.assert_allclose(prop.wilson_interval(x, n, 0.95), (theirs.low, theirs.high), **CLOSE)


@STEADY
@given(st.lists(st.tuples(st.integers(0, 8), st.booleans()), min_size=4, max_size=40))
def test_the_area_equals_scikit_learn(data):
    scores, outcome = (np.array(column) for column in zip(*data, strict=True))
    assume(outcome.any() and not outcome.all())
    found = roc.roc_area(scores, outcome, level=0.95)
    assert found.area == pytest.approx(roc_auc_score(outcome, scores), abs=1e-9)
    assert roc.roc_area(-scores, outcome, level=0.95).area == pytest.approx(1 - found.area, abs=1e-9)


def test_complete_separation_has_an_area_without_an_interval():
    found = roc.roc_area([1, 2, 3, 4], [0, 0, 1, 1], level=0.95)
    assert (found.area, found.low) == (1.0, None)
    assert roc.roc_area([1, 2, 3], [0, 0, 1], level=0.95).standard_error is None


@pytest.mark.parametrize(
    ("scores", "outcome"), [([1, 2], [1, 1]), ([1, 2], [0, 0]), ([1, np.nan], [0, 1]), ([1], [0, 1]), ([], [])]
)
def test_an_area_that_cannot_be_given_is_refused(scores, outcome):
    with pytest.raises(ValueError, match="expected"):
        roc.roc_area(scores, outcome, level=0.95)


@pytest.mark.parametrize(("events", "total"), [(0, 0), (3, 2), (-1, 5)])
def test_impossible_counts_are_refused(events, total):
    with pytest.raises(ValueError, match="expected"):
        prop.wilson_interval(events, total, 0.95)


def test_the_difference_of_two_shares_is_that_of_the_paper():
    # Newcombe, Stat Med 1998;17:873-90, table II, contrast (a): 56/70 less 48/80, method 10: 0.0524 to 0.3339
    around = prop.wilson_interval(56, 70, 0.95), prop.wilson_interval(48, 80, 0.95)
    found = prop.difference_interval(56 / 70, around[0], 48 / 80, around[1])
    np.testing.assert_allclose(found, (0.0524, 0.3339), rtol=0, atol=5e-5)


@STEADY
@given(share, share)
def test_the_difference_of_two_shares_equals_statsmodels(a, b):
    around = prop.wilson_interval(*a, 0.95), prop.wilson_interval(*b, 0.95)
    found = prop.difference_interval(a[0] / a[1], around[0], b[0] / b[1], around[1])
    theirs = confint_proportions_2indep(*a, *b, method="newcomb", compare="diff", alpha=0.05)
    np.testing.assert_allclose(found, theirs, **CLOSE)
