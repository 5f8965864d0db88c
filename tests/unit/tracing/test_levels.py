"""The path of levels against the plain search over all steps, and the probabilities that it is searched by."""

import numpy as np
import pytest

from audit.tracing.levels import INDEPENDENT_SHARE, LEVELS_BPM, _cheapest_path, _likelihood, block_histogram


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
    by_rate = np.exp(_likelihood()[:, LEVELS_BPM == 150.0] / INDEPENDENT_SHARE) - 1e-5
    assert by_rate.sum() == pytest.approx(1.0, abs=1e-3)
    near, far = by_rate[[99, 100]], by_rate[[49, 150]]  # bin 0 is 50.5 bpm
    assert near[0] > near[1]  # just below a level is likelier than just above it: decelerations take more of a labour
    assert far[0] > 10 * far[1]


def test_the_rates_of_a_minute_are_counted_in_bins_of_one_bpm_and_those_beyond_in_the_outermost():
    rates = np.array([49.0, 50.0, 50.9, 51.0, 140.5, 229.9, 230.0, 230.9, 231.0, 250.0])
    expected, _ = np.histogram(np.clip(rates, 50.5, 230.5), np.arange(50.0, 232.0))
    fhr = np.full(120, np.nan)
    fhr[50:60], fhr[60:62] = rates, 140.0
    first, second = block_histogram(fhr, 60, 2)
    np.testing.assert_array_equal(first, expected)
    assert second.sum() == second[90] == 2
