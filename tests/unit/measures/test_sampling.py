"""Random samples and shares weighted back from them, by hand and by counting every sample.

Weights: Horvitz & Thompson, JASA 1952;47:663-85. Exact limits: Buonaccorsi, Am Stat 1987;41:215-8 (from memory).
"""

from math import comb, sqrt

import pytest

from audit.measures.sampling import Drawn, random_sample, share_of_all, share_of_finite


def test_a_sample_is_the_same_again_and_a_larger_one_begins_with_it():
    cases = [f"c{k}" for k in range(200)]
    small, large = (random_sample(cases, size, 1) for size in (20, 40))
    assert large["cases"][:20] == small["cases"] == random_sample(cases[::-1] * 2, 20, 1)["cases"]
    assert (small["size"], small["of"], small["probability"]) == (20, 200, 0.1)
    assert random_sample(cases, 20, 2)["cases"] != small["cases"]
    assert random_sample(cases, 500, 1)["probability"] == 1.0
    assert random_sample([], 5, 1)["probability"] is None


def test_weighted_back_a_share_is_that_of_the_month_on_average():
    # over many draws the Horvitz-Thompson total is unbiased: 50 of 200 cases have the trait
    cases = [f"c{k}" for k in range(200)]
    totals = []
    for seed in range(400):
        drawn = random_sample(cases, 30, seed)
        totals.append(sum(int(case[1:]) < 50 for case in drawn["cases"]) / drawn["probability"])
    # the standard error of the mean of 400 totals is about 0.73
    assert sum(totals) / len(totals) == pytest.approx(50, abs=3)


def test_each_verdict_counts_what_it_stands_for():
    # 4 of 6 taken for certain and 1 of 10 drawn from 114: (4 x 1 + 1 x 11.4) / 120
    share, (low, high) = share_of_all([Drawn(6, 6, 4), Drawn(114, 10, 1)], 0.95)
    assert share == pytest.approx(15.4 / 120)
    own = share_of_finite(1, 10, 114, 0.95)  # what was looked at whole adds nothing
    assert (low, high) == pytest.approx(((4 + 114 * own[0]) / 120, (4 + 114 * own[1]) / 120))
    assert share_of_all([Drawn(6, 6, 4)], 0.95) == (4 / 6, (4 / 6, 4 / 6))
    assert share_of_all([Drawn(6, 6, 0)], 0.95) == (0.0, (0.0, 0.0))


def test_draws_are_joined_by_the_squares_of_their_limits():
    # two alike: each weighs a half, so the reach of both is that of one by the root of two
    low, high = share_of_finite(3, 10, 50, 0.95)
    share, joined = share_of_all([Drawn(50, 10, 3)] * 2, 0.95)
    assert share == pytest.approx(0.3)
    assert joined == pytest.approx((0.3 - (0.3 - low) / sqrt(2), 0.3 + (high - 0.3) / sqrt(2)))


def test_limits_of_a_few_cases_by_hand():
    # none of 3 from 10: with 6 of 10 that happens in 4 of 120 samples, with 7 in 1 of 120, rarer than 2.5 %
    assert share_of_finite(0, 3, 10, 0.95) == (0.0, 0.6)
    assert share_of_finite(3, 3, 10, 0.95) == (0.4, 1.0)
    assert share_of_finite(2, 10, 10, 0.95) == (0.2, 0.2)


@pytest.mark.parametrize("with_trait", range(0, 21, 4))
def test_limits_hold_the_truth_in_95_of_100_samples_or_more(with_trait):
    held = 0
    for events in range(6):
        samples = comb(with_trait, events) * comb(20 - with_trait, 5 - events)
        if samples:
            low, high = share_of_finite(events, 5, 20, 0.95)
            held += samples * (low <= with_trait / 20 <= high)
    assert held / comb(20, 5) >= 0.95


@pytest.mark.parametrize("drawn", [[], [Drawn(5, 0, 0)], [Drawn(5, 6, 1)], [Drawn(5, 2, 3)]])
def test_what_cannot_be_weighted_back_is_refused(drawn):
    with pytest.raises(ValueError, match="expected draws"):
        share_of_all(drawn, 0.95)
