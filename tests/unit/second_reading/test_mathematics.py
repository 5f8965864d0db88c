"""The second reading's mathematics against general-purpose libraries, and against worked sums."""

import numpy as np
import pytest
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import StandardScaler

from audit.second_reading.calibration import Calibration, calibrated, middle_class
from audit.second_reading.gaussian_process import CLIP, likeness, scaling_of, solve

pytestmark = pytest.mark.slow


def test_likeness_is_the_radial_basis_function_of_a_general_purpose_library() -> None:
    generator = np.random.default_rng(1)
    left, right = generator.normal(size=(7, 12)), generator.normal(size=(5, 12))
    # Oracle: scikit-learn's RBF; the mean over the numbers makes the length scale the width times their root
    expected = RBF(length_scale=1.3 * 12**0.5)(left, right)
    np.testing.assert_allclose(likeness(left, right, 1.3), expected, rtol=1e-12)


def test_the_mean_is_that_of_a_gaussian_process_of_a_general_purpose_library() -> None:
    generator = np.random.default_rng(2)
    points, others = generator.normal(size=(40, 6)), generator.normal(size=(9, 6))
    target, noise = generator.normal(size=40), generator.uniform(0.1, 0.6, 40)
    # Oracle: scikit-learn's GaussianProcessRegressor with a noise of its own for each point
    oracle = GaussianProcessRegressor(RBF(1.5 * 6**0.5), alpha=noise, optimizer=None).fit(points, target)
    weights = solve(likeness(points, points, 1.5), target, noise)
    np.testing.assert_allclose(likeness(others, points, 1.5) @ weights, oracle.predict(others), rtol=1e-8, atol=1e-10)


def test_scaling_is_that_of_a_general_purpose_library_and_an_unknown_number_stands_at_the_middle() -> None:
    generator = np.random.default_rng(3)
    numbers = generator.normal(5.0, 2.0, size=(200, 3))
    numbers[::7, 1] = np.nan
    numbers[:, 2] = 4.0
    found = scaling_of(numbers)(numbers)
    # Oracle: scikit-learn's StandardScaler, which leaves unknown values out
    expected = np.clip(np.nan_to_num(StandardScaler().fit_transform(numbers)), -CLIP, CLIP)
    np.testing.assert_allclose(found, expected, atol=1e-12)
    assert (found[::7, 1] == 0.0).all()
    assert (found[:, 2] == 0.0).all()


def test_with_two_classes_the_calibration_is_a_logistic_regression() -> None:
    generator = np.random.default_rng(4)
    score = generator.normal(size=400)
    pathological = generator.random(400) < 1.0 / (1.0 + np.exp(-(2.0 * score - 0.5)))
    shares = np.column_stack([~pathological, np.zeros(400), pathological]).astype(float)
    found = calibrated(score, shares, np.ones(400))
    # Oracle: scikit-learn's LogisticRegression without a penalty; with no suspicious vote both cuts come together
    oracle = LogisticRegression(C=np.inf).fit(score[:, None], pathological)
    assert found.slope == pytest.approx(oracle.coef_[0, 0], rel=0.01)
    assert found.low == pytest.approx(-oracle.intercept_[0], abs=0.02)
    assert found.high == pytest.approx(-oracle.intercept_[0], abs=0.02)


def test_the_calibration_finds_the_cuts_that_votes_were_drawn_with() -> None:
    generator = np.random.default_rng(5)
    score = generator.uniform(-1, 3, 4000)
    truth = Calibration(2.0, 1.0, 3.0).probabilities(score)
    votes = np.array([generator.multinomial(9, p) for p in truth]).astype(float)
    found = calibrated(score, votes / 9, np.full(4000, 9.0))
    assert (found.slope, found.low, found.high) == pytest.approx((2.0, 1.0, 3.0), abs=0.1)
    np.testing.assert_allclose(found.probabilities(score).sum(axis=1), 1.0)


def test_windows_with_more_votes_count_more() -> None:
    score = np.array([0.0, 0.0, 2.0, 2.0])
    shares = np.array([[1, 0, 0], [0, 0, 1], [0, 1, 0], [0, 0, 1]], dtype=float)
    normal = calibrated(score, shares, np.array([9.0, 1, 5, 5])).probabilities(np.zeros(1))[0, 0]
    pathological = calibrated(score, shares, np.array([1.0, 9, 5, 5])).probabilities(np.zeros(1))[0, 0]
    assert normal > pathological


@pytest.mark.parametrize(
    ("shares", "expected"),
    [((0.5, 0.3, 0.2), 0), ((0.49, 0.02, 0.49), 1), ((0.1, 0.39, 0.51), 2), ((0.1, 0.4, 0.5), 1), ((0.0, 0.0, 1.0), 2)],
)
def test_the_class_is_the_middle_experts(shares: tuple[float, ...], expected: int) -> None:
    assert middle_class(np.array([shares])).tolist() == [expected]
