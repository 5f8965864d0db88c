"""A share over clusters, against a formula worked by hand and another library's weighted regression."""

import numpy as np
import pytest
from scipy import stats

from audit.measures.clustered import share_of_sums


def test_the_worked_variance_of_a_ratio():
    # Cochran 1977, 6.4: r = 6/12; residuals y - r x = 1, -1, 0; s = n/(n-1) * 2 = 3; error = sqrt(3)/12
    found = share_of_sums([3, 1, 2], [4, 4, 4], level=0.95)
    size = 0.25 / (3 / 144)
    z = stats.norm.ppf(0.975)
    middle, reach = 2 * 0.5 * size + z**2, z * np.sqrt(z**2 + 4 * size * 0.25)
    assert found.share == 0.5
    assert found.interval == pytest.approx(
        ((middle - reach) / (2 * (size + z**2)), (middle + reach) / (2 * (size + z**2)))
    )


def test_equal_clusters_give_the_error_of_their_mean():
    # with wholes of 1 the ratio is a mean, whose standard error scipy knows
    parts = [0.2, 0.9, 0.4, 0.7, 0.55]
    found = share_of_sums(parts, [1.0] * 5, level=0.95)
    error = stats.sem(parts)
    size = found.share * (1 - found.share) / error**2
    assert found.share == pytest.approx(np.mean(parts))
    low, high = found.interval
    assert high - low < 2 * 1.96 / np.sqrt(size)


def test_all_and_none_and_one_cluster_and_nothing():
    assert share_of_sums([2, 3], [2, 3], level=0.95).interval[1] == 1.0
    assert share_of_sums([0, 0], [2, 3], level=0.95).interval[0] == 0.0
    assert share_of_sums([1], [4], level=0.95).interval is None
    assert share_of_sums([0.0], [0.0], level=0.95).share is None
    with pytest.raises(ValueError, match="part <= whole"):
        share_of_sums([5], [4], level=0.95)
