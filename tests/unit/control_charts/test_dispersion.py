"""Overdispersion of groups: by hand, and by simulation where the spread is known.

Spiegelhalter, Stat Med 2005;24:1185-202 (formulas from memory).
"""

import numpy as np
import pytest
from statsmodels.stats.proportion import proportions_ztest

from audit.control_charts.dispersion import dispersion, widened_limits

pytestmark = pytest.mark.slow


def test_phi_is_the_mean_square_after_the_tails_are_drawn_in():
    """Scores -5 to 5 in steps of one: the tenths lie at -4 and 4, so phi = (2 x 16 + 2 x (16+9+4+1)) / 11 = 92 / 11."""
    found = dispersion(np.arange(-5.0, 6.0))
    assert found.phi == pytest.approx(92 / 11)
    assert found.beyond_chance
    assert dispersion(np.arange(-4.0, 5.0)) is None  # nine groups


def test_chance_alone_is_rarely_called_overdispersed_and_a_true_spread_nearly_always():
    """Twenty units of 400 births at 0.3; the second time each unit's own share has a standard deviation of 0.06,
    which is 2.6 standard errors: phi is then about 1 + 2.6 squared."""
    rng = np.random.default_rng(3)
    error = np.sqrt(0.3 * 0.7 / 400)
    called = {0.0: 0, 0.06: 0}
    for spread in called:
        for _ in range(300):
            own = np.clip(0.3 + spread * rng.standard_normal(20), 0.01, 0.99)
            called[spread] += dispersion((rng.binomial(400, own) / 400 - 0.3) / error).beyond_chance
    assert called[0.0] < 0.05 * 300
    assert called[0.06] > 0.95 * 300


def test_limits_without_overdispersion_are_those_of_the_score_test():
    """A share at the limit has a two-sided p of twice the tail under the score test (statsmodels)."""
    found = widened_limits(0.3, 400, tail=0.025, phi=1.0)
    for share in (found.low, found.high):
        _, p = proportions_ztest(share * 400, 400, value=0.3, prop_var=0.3)
        assert p == pytest.approx(0.05)
    twice = widened_limits(0.3, 400, tail=0.025, phi=4.0)
    assert twice.high - 0.3 == pytest.approx(2 * (found.high - 0.3))


def test_what_cannot_be_is_refused():
    with pytest.raises(ValueError, match="finite"):
        dispersion(np.array([1.0, np.nan]))
    for bad in ({"target": 0.0}, {"tail": 0.5}, {"total": -1}, {"phi": 0.9}):
        with pytest.raises(ValueError, match="outside"):
            widened_limits(**{"target": 0.3, "total": 10, "tail": 0.025, "phi": 1.0} | bad)
    assert widened_limits(0.3, 0, tail=0.025, phi=1.0).low is None
