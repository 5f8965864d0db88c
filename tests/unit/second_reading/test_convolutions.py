"""Convolutions against a general-purpose library, and what is counted of them."""

import numpy as np
import pytest
from scipy.signal import correlate

from audit.second_reading.convolutions import (
    LENGTH,
    SPACINGS_S,
    TRIPLES,
    Kernels,
    answers,
    drawn_kernels,
    shares_above,
    thresholds,
)


def kernel(triple: int, spacing: int, percent: int = 50) -> Kernels:
    return Kernels(np.array([triple]), np.array([spacing]), np.array([percent]))


@pytest.mark.parametrize(("triple", "spacing"), [(0, 1), (40, 8), (83, 96)])
def test_an_answer_is_the_correlation_with_the_spread_kernel(triple: int, spacing: int) -> None:
    away = np.random.default_rng(1).normal(0, 10, 2000)
    weights = np.full(LENGTH, -1.0)
    weights[TRIPLES[triple]] = 2.0
    spread = np.zeros((LENGTH - 1) * spacing + 1)
    spread[::spacing] = weights
    # Oracle: scipy.signal.correlate; beyond the ends the rate lies on the baseline
    expected = correlate(np.pad(away, spread.size // 2), spread, mode="valid")
    np.testing.assert_allclose(answers(away, kernel(triple, spacing))[0], expected, atol=2e-3)


def test_kernels_have_three_weights_of_two_and_six_of_minus_one() -> None:
    # Dempster, Schmidt & Webb 2021: 84 kernels of length 9, which add up to nothing
    assert len({tuple(row) for row in TRIPLES.tolist()}) == 84
    flat = answers(np.full(3000, 25.0), kernel(10, 4))[0]
    np.testing.assert_allclose(flat[100:-100], 0.0, atol=1e-4)


def test_equal_seeds_draw_equal_kernels() -> None:
    one, two, other = drawn_kernels(50, 1), drawn_kernels(50, 1), drawn_kernels(50, 2)
    assert (one.triple == two.triple).all()
    assert (one.spacing_s == two.spacing_s).all()
    assert not (one.triple == other.triple).all()
    assert set(one.spacing_s.tolist()) <= set(SPACINGS_S)


def test_only_seen_seconds_are_counted() -> None:
    away = np.random.default_rng(2).normal(0, 10, 1200)
    whole = shares_above(away, kernel(5, 2), np.array([3.0]), [(0, 1200)])[0, 0]
    above = answers(away, kernel(5, 2))[0] > 3.0
    assert whole == pytest.approx(above.mean())
    lost = away.copy()
    lost[600:] = np.nan
    half, nothing = shares_above(lost, kernel(5, 2), np.array([3.0]), [(0, 1200), (700, 1200)])[:, 0]
    assert half == pytest.approx((answers(lost, kernel(5, 2))[0] > 3.0)[:600].mean())
    assert np.isnan(nothing)


def test_nothing_seen_at_all_gives_no_share() -> None:
    assert np.isnan(shares_above(np.full(100, np.nan), kernel(0, 1), np.zeros(1), [(0, 100)])).all()
    assert np.isnan(shares_above(np.zeros(0), kernel(0, 1), np.zeros(1), [(0, 10)])).all()


def test_a_threshold_is_the_kernels_percentile() -> None:
    samples = np.arange(101, dtype=np.float32)[None, ::-1]
    assert thresholds(samples, kernel(0, 1, 10)).tolist() == [10.0]
    assert thresholds(np.zeros((1, 0), dtype=np.float32), kernel(0, 1)).tolist() == [0.0]
