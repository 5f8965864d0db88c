"""The learned second reading: it finds an order that is there, says how sure it is, and comes back from its file."""

from pathlib import Path

import numpy as np
import pytest
from msgspec import structs
from scipy.optimize import check_grad

from audit.analysis.second_reading import LearnedReading, _loss, fit_learned, learned_from
from audit.analysis.second_reading_features import NAMES, window_features
from audit.errors import AuditError
from audit.settings import settings_for
from tests.reading_builder import late_at, reading


def invented(count: int = 300, *, noise: float = 0.5) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Features of which only the first two matter, and the shares of nine experts."""
    generator = np.random.default_rng(5)
    features = generator.normal(size=(count, len(NAMES)))
    score = 2.0 * features[:, 0] - features[:, 1]
    votes = score[:, None] + generator.normal(scale=noise, size=(count, 9))
    shares = np.stack([(votes < -1).mean(1), ((votes >= -1) & (votes < 1.5)).mean(1), (votes >= 1.5).mean(1)], axis=1)
    return features, shares, [f"r{k % 100}" for k in range(count)]


def read_back(folder: Path) -> LearnedReading:
    """The model of `second.json` as a unit's settings name it."""
    (folder / "unit_settings.toml").write_text('[second_reading]\nfile = "second.json"\n')
    named = settings_for(folder / "unit.duckdb").second_reading
    assert named.model is not None
    return learned_from(named.model, named.file)


@pytest.fixture(scope="module")
def fitted() -> LearnedReading:
    return fit_learned(*invented(), penalty=1.0)


def test_it_finds_the_order_on_windows_it_has_not_seen(fitted: LearnedReading) -> None:
    generator = np.random.default_rng(6)
    features = generator.normal(size=(500, len(NAMES)))
    score = 2.0 * features[:, 0] - features[:, 1]
    truth = (score >= -1).astype(int) + (score >= 1.5)
    assert (fitted.classes(features) == truth).mean() > 0.85


def test_probabilities_add_up_and_the_split_window_is_unsure(fitted: LearnedReading) -> None:
    features = np.zeros((3, len(NAMES)))
    features[:, 0] = [-3.0, -0.5, 3.0]
    chance = fitted.probabilities(features)
    np.testing.assert_allclose(chance.sum(axis=1), 1.0)
    assert chance[0, 0] > 0.9
    assert chance[2, 2] > 0.9
    assert chance[1].max() < 0.75


def test_an_unknown_number_stands_at_the_middle(fitted: LearnedReading) -> None:
    known = np.array([fitted.middle])
    unknown = known.copy()
    unknown[0, 5] = np.nan
    np.testing.assert_array_equal(fitted.probabilities(unknown), fitted.probabilities(known))


def test_the_slope_of_the_fit_is_its_own_difference() -> None:
    generator = np.random.default_rng(7)
    basis, shares = generator.normal(size=(40, 3)), generator.dirichlet(np.ones(3), 40)
    point = np.array([0.3, -0.2, 0.1, -0.4, 0.2])
    error = check_grad(
        lambda p: _loss(p, basis, shares, 2.0)[0], lambda p: _loss(p, basis, shares, 2.0)[1], point, epsilon=1e-7
    )
    assert error < 1e-4


def test_it_comes_back_from_its_file(fitted: LearnedReading, tmp_path: Path) -> None:
    fitted.write(tmp_path / "second.json")
    assert read_back(tmp_path) == fitted
    assert (fitted.windows, fitted.recordings) == (300, 100)


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"format": 3}'])
def test_another_file_is_refused(tmp_path: Path, text: str) -> None:
    (tmp_path / "second.json").write_text(text)
    with pytest.raises(AuditError, match=r"second\.json"):
        read_back(tmp_path)


def test_a_model_of_other_features_is_refused(fitted: LearnedReading, tmp_path: Path) -> None:
    other = structs.replace(fitted, features=["something"])
    other.write(tmp_path / "second.json")
    with pytest.raises(AuditError, match="fit it again"):
        read_back(tmp_path)


def test_too_few_windows_are_refused() -> None:
    features, shares, names = invented(19)
    with pytest.raises(ValueError, match="19 windows"):
        fit_learned(features, shares, names, penalty=1.0)


@pytest.mark.parametrize("lost", [[], [(1800.0, 3600.0)]])
def test_features_of_a_window_have_their_names_order(fitted: LearnedReading, lost: list[tuple[float, float]]) -> None:
    made = reading(60, decelerations=[late_at(2400.0)], unseen=lost)
    values = dict(zip(NAMES, window_features(made, 1800.0, 3600.0, second_stage=True), strict=True))
    assert values["second_stage"] == 1.0
    assert values["decelerations_per_10_min"] == pytest.approx(1 / 3)
    assert values["seen_fraction"] == (0.0 if lost else 1.0)
    assert values["fraction_in_deceleration"] == pytest.approx(70 / 1800)
    category, chance = fitted.read_window(made, 1800.0, 3600.0, second_stage=True)
    assert category in ("normal", "suspicious", "pathological")
    assert sum(chance) == pytest.approx(1.0)
