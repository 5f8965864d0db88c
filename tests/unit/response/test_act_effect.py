"""The half hour after an act against that before, by hand.

Regression to the mean: Barnett et al., Int J Epidemiol 2005;34:215-20.
"""

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from audit.response.act_effect import LabourMinutes, _mean, changes, effects, pools


def labour(name, ranks, area=0.0, contractions=0.4):
    ranks = np.array(ranks)
    return LabourMinutes(name, ranks, np.full(len(ranks), float(area)), np.full(len(ranks), float(contractions)))


def test_after_less_before_and_the_minute_itself_on_neither_side():
    one = labour("a", [2] * 10 + [1] * 30 + [2] + [0] * 15 + [1] * 15)
    one.area_bpm_s[:40] = [90.0] * 10 + [10.0] * 30
    one.contractions[41:] = 0.3
    assert changes(one)[40] == pytest.approx([0.5 - 1.0, -300.0, 3.0 - 4.0])


def test_too_little_seen_or_too_near_the_ends_is_not_judged():
    assert np.isnan(changes(labour("a", [1] * 60))).all()  # a minute short
    assert np.isnan(changes(labour("a", [-1] * 11 + [1] * 50))[30]).all()  # 19 of 30 minutes
    assert np.isfinite(changes(labour("a", [-1] * 10 + [1] * 51))[30]).all()
    unusable = labour("a", [1] * 61, contractions=np.nan)
    assert np.isfinite(changes(unusable)[30]).tolist() == [True, True, False]


@pytest.mark.parametrize(("acts", "moments"), [([], 140), ([100], 79), ([10], 129), ([190], 130), ([100, 101], 78)])
def test_a_random_moment_is_half_an_hour_from_every_act_and_has_half_an_hour_on_either_side(acts, moments):
    """By hand: of minutes 30 to 169, without those from 30 before an act to 30 after it."""
    found = pools([labour("a", [1] * 200), labour("b", [0] * 60)], [(0, minute) for minute in acts])
    assert {rank: len(listed) for rank, listed in found.items()} == {0: 0, 1: moments, 2: 0}


def test_of_what_is_known_a_mean_is_made():
    assert _mean(np.array([[1.0, np.nan, 2.0], [np.nan, np.nan, 4.0]])).tolist() == pytest.approx(
        [1, np.nan, 3], nan_ok=True
    )


def test_an_act_that_does_nothing_does_as_well_as_a_random_moment():
    """Labours that are bad for a while and get better by themselves: the change is large, and so is that by chance."""
    rng = np.random.default_rng(3)
    labours, acts = [], []
    for k in range(80):
        ranks = np.zeros(240, int)
        start = int(rng.integers(60, 120))
        ranks[start : start + 30] = 1
        labours.append(labour(f"c{k}", ranks))
        if k % 2:
            acts.append((k, start + int(rng.integers(0, 30))))
    found = effects(labours, acts, pools(labours, acts), draws=200, seed=1)["concern_share"]
    assert (found.acts, found.labours) == (40, 40)
    assert found.low < found.random < found.high
    assert found.random_low < found.change < found.random_high


def test_an_act_that_helps_goes_beyond_what_comes_by_itself():
    labours = [labour(f"c{k}", [1] * 200) for k in range(10)]
    labours += [labour(f"d{k}", [1] * 100 + [0] * 100) for k in range(10)]
    acts = [(k, 99) for k in range(10, 20)]
    found = effects(labours, acts, pools(labours, acts), draws=50, seed=1)["concern_share"]
    assert found.change == pytest.approx(-1.0)
    assert found.random_low > -0.6


def test_twins_are_one_labour_and_their_act_is_one():
    """By hand: of twins +1 and 0, mean 0.5; another labour -1; two labours, mean -0.25."""
    twins = [labour("t", [0] * 31 + [1] * 30), labour("t", [0] * 61)]
    labours = [*twins, labour("a", [1] * 31 + [0] * 30)]
    acts = [(0, 30), (1, 30), (2, 30)]
    found = effects(labours, acts, pools(labours, acts), draws=5, seed=1)["concern_share"]
    assert (found.acts, found.labours) == (2, 2)
    assert found.change == pytest.approx((0.5 - 1.0) / 2)


def test_no_act_is_nothing_and_one_labour_has_no_interval():
    labours = [labour("a", [1] * 200)]
    nothing = effects(labours, [], pools(labours, []), draws=5, seed=1)["area_bpm_s"]
    assert (nothing.acts, nothing.labours, nothing.change) == (0, 0, None)
    found = effects(labours, [(0, 100)], pools(labours, [(0, 100)]), draws=5, seed=1)["concern_share"]
    assert (found.change, found.low) == (0.0, None)


def test_where_all_labours_changed_alike_the_interval_is_not_nothing():
    """No change in 6 labours: up to 1 - 0.025^(1/6) = 0.459 of all may change, by 1 at most (exact limit of Clopper and
    Pearson 1934 for 0 of 6); an area has no bound, so no interval."""
    labours = [labour(name, [1] * 200) for name in "abcdef"]
    acts = [(k, 100) for k in range(6)]
    found = effects(labours, acts, pools(labours, acts), draws=5, seed=1)
    share = found["concern_share"]
    upper = proportion_confint(0, 6, alpha=0.05, method="beta")[1]
    assert upper == pytest.approx(1 - 0.025 ** (1 / 6))
    assert (share.change, share.low, share.high) == (0.0, pytest.approx(-upper), pytest.approx(upper))
    assert (found["area_bpm_s"].change, found["area_bpm_s"].low) == (0.0, None)


def test_labours_count_alike_however_many_acts_they_had():
    """The first labour changes by -1 and 0, the second by 0: (-0.5 + 0) / 2, and t = 12.706 of one degree, by hand."""
    labours = [labour("a", [1] * 100 + [0] * 100), labour("b", [1] * 200)]
    acts = [(0, 99), (0, 50), (1, 100)]
    found = effects(labours, acts, pools(labours, acts), draws=5, seed=1)["concern_share"]
    assert (found.acts, found.labours, found.change) == (3, 2, pytest.approx(-0.25))
    assert found.low == pytest.approx(-0.25 - 12.706 * 0.25, abs=1e-3)
    assert found.high == pytest.approx(-0.25 + 12.706 * 0.25, abs=1e-3)


def test_random_moments_are_weighed_as_the_acts_are():
    """Three acts of one labour drew moments that changed by -1, the act of another one by 0: (-1 + 0) / 2, by hand."""
    labours = [labour("a", [1] * 200), labour("b", [2] * 200)]
    acts = [(0, 40), (0, 90), (0, 140), (1, 100)]
    by_chance = {0: np.zeros((0, 3)), 1: np.full((4, 3), -1.0), 2: np.zeros((4, 3))}
    found = effects(labours, acts, by_chance, draws=5, seed=1)["concern_share"]
    assert (found.random, found.random_low, found.random_high) == (-0.5, -0.5, -0.5)


def test_an_act_without_a_usable_toco_tells_of_the_rest():
    labours = [labour("a", [1] * 31 + [0] * 30, contractions=np.nan)]
    found = effects(labours, [(0, 30)], pools(labours, []), draws=5, seed=1)
    assert (found["concern_share"].acts, found["concern_share"].change) == (1, -1.0)
    assert (found["contractions_per_10_min"].acts, found["contractions_per_10_min"].change) == (0, None)
    assert found["concern_share"].random == -1.0  # its own minute is the only moment there is


def test_where_all_labours_improved_alike_none_can_have_improved_more():
    """By hand: a change of -1 in 6 labours is the most there is; up to 0.459 of all may change by 2 more."""
    labours = [labour(name, [1] * 31 + [0] * 30) for name in "abcdef"]
    found = effects(labours, [(k, 30) for k in range(6)], pools(labours, []), draws=5, seed=1)["concern_share"]
    assert (found.low, found.high) == (pytest.approx(-1.0), pytest.approx(-1.0 + 2 * (1 - 0.025 ** (1 / 6))))


def test_where_a_category_has_no_other_moments_nothing_is_said_of_chance():
    labours = [labour("a", [1] * 200), labour("b", [2] * 200)]
    found = effects(labours, [(0, 100), (1, 100)], {1: np.zeros((4, 3)), 2: np.zeros((0, 3))}, draws=5, seed=1)
    assert (found["concern_share"].acts, found["concern_share"].random) == (2, None)


@pytest.mark.parametrize(("usable", "known"), [(15, True), (14, False)])
def test_contractions_are_compared_where_half_of_either_side_was_usable(usable, known):
    for before in (True, False):
        one = labour("a", [1] * 61)
        one.contractions[slice(0, 30 - usable) if before else slice(31 + usable, None)] = np.nan
        change = changes(one)[30]
        assert np.isfinite(change[2]) == known
        assert not known or change[2] == pytest.approx(0.0)
