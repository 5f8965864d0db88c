"""The path of levels against the plain search over all steps."""

import numpy as np
import pytest

from audit.tracing.levels import _cheapest_path


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
