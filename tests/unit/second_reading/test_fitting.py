"""Fitting, reading from the file, evidence and differences, on windows whose severity was drawn."""

import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.errors import AuditError
from audit.second_reading import fitted_file
from audit.second_reading.card import read_card
from audit.second_reading.convolutions import drawn_kernels
from audit.second_reading.described import Described
from audit.second_reading.differences import differing_numbers
from audit.second_reading.fitting import FOLDS, fit, folds_of
from audit.second_reading.model import FittedReading, FittedWindows
from audit.settings import settings_for

NAMES = ("rate_under_100_root_fraction", "variability_percentile_50_bpm", "lost_fraction")
KERNELS = drawn_kernels(4, 1)


def drawn(count: int = 240, seed: int = 5) -> tuple[Described, FittedWindows, np.ndarray]:
    """Windows of which two numbers say the severity, and nine experts who see it with slips."""
    generator = np.random.default_rng(seed)
    severity = generator.uniform(0, 2, count)
    blocks = [np.column_stack([severity + generator.normal(0, 0.3, count), -severity + generator.normal(0, 0.3, count),
                               generator.normal(size=count)]) for _ in range(2)]  # fmt: skip
    shapes = severity[:, None] + generator.normal(0, 1.0, (count, 4))
    said = np.clip(np.rint(severity[:, None] + generator.normal(0, 0.4, (count, 9))), 0, 2)
    votes = np.stack([(said == k).sum(axis=1) for k in range(3)], axis=1)
    windows = FittedWindows(
        tuple(f"{1000 + k // 3}" for k in range(count)), np.arange(count) * 60.0, np.arange(count) * 60.0 + 1800,
        votes, np.rint(severity).astype(np.int64),
    )  # fmt: skip
    return Described(NAMES, blocks[0], blocks[1], shapes), windows, severity


@pytest.fixture(scope="module")
def fitted() -> FittedReading:
    found, windows, _ = drawn()
    return fit(found, windows, KERNELS, np.zeros(4))[0]


def test_it_finds_the_order_on_windows_it_has_not_seen(fitted: FittedReading) -> None:
    found, _, severity = drawn(seed=6)
    alike = fitted.likeness(found)
    assert np.corrcoef(fitted.scores(alike), severity)[0, 1] > 0.9
    assert (fitted.classes(alike) == np.rint(severity)).mean() > 0.75
    np.testing.assert_allclose(fitted.probabilities(alike).sum(axis=1), 1.0)


def test_cross_validated_windows_are_read_without_their_recording() -> None:
    found, windows, _ = drawn()
    fold = folds_of(windows.recording)
    for name in set(windows.recording):
        assert len({int(f) for f, r in zip(fold, windows.recording, strict=True) if r == name}) == 1
    assert set(fold.tolist()) == set(range(FOLDS))
    # a target that nothing explains cannot be foretold for a recording that is left out
    votes = np.zeros_like(windows.votes)
    coin = np.random.default_rng(3).integers(0, 3, 80)
    votes[np.arange(240), np.repeat(coin, 3)] = 9
    _, apart = fit(found, replace(windows, votes=votes), KERNELS, np.zeros(4))
    assert abs(np.corrcoef(apart.score, np.repeat(coin, 3))[0, 1]) < 0.35


@pytest.mark.slow
def test_the_calibration_is_right_on_windows_left_out() -> None:
    found, windows, _ = drawn(900)
    _, apart = fit(found, windows, KERNELS, np.zeros(4))
    shares = windows.votes / 9
    for k in range(3):
        order = np.argsort(apart.probabilities[:, k])
        for part in np.array_split(order, 5):
            assert apart.probabilities[part, k].mean() == pytest.approx(shares[part, k].mean(), abs=0.08)


@pytest.mark.parametrize("count", [18, 27])
def test_too_few_windows_or_recordings_are_refused(count: int) -> None:
    found, windows, _ = drawn(count)
    with pytest.raises(ValueError, match=f"{count} windows"):
        fit(found, windows, KERNELS, np.zeros(4))


def test_evidence_is_the_nearest_window_of_other_recordings_with_what_experts_said(fitted: FittedReading) -> None:
    found, windows, _ = drawn()
    alike = fitted.likeness(found)[30]
    nearest = fitted.most_alike(alike, 3)
    assert nearest[0].recording == windows.recording[30]
    assert nearest[0].likeness == pytest.approx(1.0)
    assert nearest[0].votes == tuple(windows.votes[30])
    others = fitted.most_alike(alike, 3, without=windows.recording[30])
    assert windows.recording[30] not in [one.recording for one in others]
    assert len({one.recording for one in others}) == 3
    assert others[0].likeness >= others[1].likeness >= others[2].likeness


def test_it_comes_back_from_its_file_as_it_was(fitted: FittedReading, tmp_path: Path) -> None:
    fitted_file.write(fitted, {"windows": 240}, tmp_path / "second.zip")
    back = fitted_file.read(tmp_path / "second.zip")
    found, _, _ = drawn(seed=7)
    np.testing.assert_array_equal(
        back.probabilities(back.likeness(found)), fitted.probabilities(fitted.likeness(found))
    )
    assert back.windows.recording == fitted.windows.recording
    assert back.card["windows"] == 240
    fitted_file.write(fitted, {"windows": 240}, tmp_path / "again.zip")
    assert (tmp_path / "again.zip").read_bytes() == (tmp_path / "second.zip").read_bytes()


def test_a_file_of_another_kind_or_changed_content_is_refused(fitted: FittedReading, tmp_path: Path) -> None:
    file = tmp_path / "second.zip"
    file.write_bytes(b"no archive")
    with pytest.raises(ValueError, match="not a fitted reading"):
        fitted_file.read(file)
    fitted_file.write(fitted, {}, file)
    with zipfile.ZipFile(file) as archive:
        content = {name: archive.read(name) for name in archive.namelist()}
    changed = bytearray(content["weights.npy"])
    changed[-1] ^= 1
    with zipfile.ZipFile(file, "w") as archive:
        for name, one in {**content, "weights.npy": bytes(changed)}.items():
            archive.writestr(name, one)
    with pytest.raises(ValueError, match="not what was written"):
        fitted_file.read(file)
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("card.json", '{"format": "another"}')
    with pytest.raises(ValueError, match="another version"):
        read_card(file)


def test_nothing_is_unpickled(fitted: FittedReading, tmp_path: Path) -> None:
    file = tmp_path / "second.zip"
    fitted_file.write(fitted, {}, file)
    hostile = tmp_path / "hostile.npy"
    np.save(hostile, np.array([{"a": 1}], dtype=object), allow_pickle=True)
    with zipfile.ZipFile(file, "a") as archive:
        archive.write(hostile, "more.npy")
    with pytest.raises(ValueError, match="allow_pickle"):
        fitted_file.read(file)


def test_the_settings_know_the_files_hash_and_refuse_another_file(fitted: FittedReading, tmp_path: Path) -> None:
    (tmp_path / "unit_settings.toml").write_text('[second_reading]\nfile = "second.zip"\n')
    fitted_file.write(fitted, {}, tmp_path / "second.zip")
    one = settings_for(tmp_path / "unit.duckdb")
    fitted_file.write(fitted, {"another": 1}, tmp_path / "second.zip")
    two = settings_for(tmp_path / "unit.duckdb")
    assert one.analysis_sha256 != two.analysis_sha256
    with pytest.raises(AuditError, match="changed since"):
        fitted_file.kept(tmp_path / "second.zip", one.second_reading.sha256)
    (tmp_path / "second.zip").write_text("{}")
    with pytest.raises(AuditError, match=r"second\.zip: not a fitted reading"):
        settings_for(tmp_path / "unit.duckdb")


def test_windows_described_by_other_numbers_are_refused(fitted: FittedReading) -> None:
    found, _, _ = drawn()
    with pytest.raises(ValueError, match="other numbers"):
        fitted.likeness(replace(found, names=("a", "b", "c")))


def test_a_difference_names_the_numbers_that_speak_for_it(fitted: FittedReading) -> None:
    found, _, _ = drawn()
    found = replace(found, window=np.array([[2.5, -2.5, 0.0]]))
    first, *rest = differing_numbers(fitted, found, 0, rules=0, category=2)
    assert {first.split(":")[0], rest[0].split(":")[0]} == {
        "rate under 100 bpm",
        "median of minutes' variability",
    }
    assert "in windows that experts called normal" in first
    assert not any("lost" in line for line in (first, *rest))
    assert differing_numbers(fitted, found, 0, rules=2, category=2) == []
    assert differing_numbers(fitted, found, 0, rules=-1, category=2) == []
