"""The path of levels against the plain search over all steps, and the probabilities that it is searched by."""

import numpy as np
import pytest

from audit.tracing.levels import INDEPENDENT_SHARE, _cheapest_path, _tables


@pytest.mark.parametrize("n_blocks", [1, 2, 3, 4, 5, 8, 9, 40])
def test_the_search_from_both_ends_finds_the_highest_total(n_blocks):
    rng = np.random.default_rng(n_blocks)
    ramp, jump_cost = np.arange(12) * 0.8, 2.5
    cost = np.minimum(np.abs(ramp[:, None] - ramp[None, :]), jump_cost)
    for _ in range(20):
        score = rng.standard_normal((n_blocks, 12)) * 3
        total = score[0]
        for block in range(1, n_blocks):
            total = (total[None, :] - cost).max(axis=1) + score[block]
        path = _cheapest_path(score, ramp, jump_cost)
        found = score[np.arange(n_blocks), path].sum() - cost[path[1:], path[:-1]].sum()
        assert found == pytest.approx(total.max())


def test_what_a_level_makes_of_the_rates_is_a_probability():
    # Of a level with the whole reach of a deceleration below it, 150 bpm, the rates from 50 bpm on add up to one; each
    # bin of 1 bpm holds 0.00001 more, so that no rate is impossible.
    levels, likelihood = _tables()
    by_rate = np.exp(likelihood[:, levels == 150.0] / INDEPENDENT_SHARE) - 1e-5
    assert by_rate.sum() == pytest.approx(1.0, abs=1e-3)
    near, far = by_rate[[99, 100]], by_rate[[49, 150]]  # bin 0 is 50.5 bpm
    assert near[0] > near[1]  # just below a level is likelier than just above it: decelerations take more of a labour
    assert far[0] > 10 * far[1]
