"""Readers in the same chairs, held against what a general-purpose library makes of the same panels."""

from itertools import combinations

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score, precision_score, recall_score

from audit.agreement.reads import MISSING
from audit.setting_types import changed
from audit.validate.compare import NOT_ASSESSABLE, ExpertTable, consensus_of
from audit.validate.equal_footing import by_stage, on_equal_footing
from audit.validate.footing_words import footing_json, footing_lines
from tests.reading_builder import SETTINGS

pytestmark = pytest.mark.slow

VALIDATE = changed(SETTINGS.validate, draws=300)


def drawn(windows: int = 200, experts: int = 5, noise: float = 0.6) -> tuple[np.ndarray, ExpertTable]:
    """Experts and a reading who all see one severity, each with a slip of their own."""
    generator = np.random.default_rng(11)
    severity = generator.uniform(0, 2, windows)
    seen = severity[:, None] + generator.normal(scale=noise, size=(windows, experts + 1))
    codes = np.clip(np.rint(seen), 0, 2).astype(np.int64)
    names = tuple(f"r{k // 2}" for k in range(windows))
    steps = tuple(("eval_step1", "eval_step3")[k % 2] for k in range(windows))
    return codes[:, -1], ExpertTable(names, steps, tuple(str(k) for k in range(experts)), codes[:, :-1])


@pytest.mark.parametrize("panel", [None, 3])
def test_kappas_are_those_of_a_general_purpose_library_on_the_same_windows(panel: int | None) -> None:
    codes, experts = drawn()
    found = on_equal_footing(codes, experts, VALIDATE, panel=panel)
    assert found is not None
    for k, name in enumerate(experts.experts):
        theirs, ours = [], []
        for members in combinations([j for j in range(5) if j != k], panel or 4):
            judged = consensus_of(experts.codes[:, list(members)], VALIDATE)
            at = judged != MISSING
            # Oracle: scikit-learn's cohen_kappa_score with linear weights
            theirs.append(cohen_kappa_score(experts.codes[at, k], judged[at], weights="linear"))
            ours.append(cohen_kappa_score(codes[at], judged[at], weights="linear"))
        assert found.chairs[name].expert.value == pytest.approx(np.mean(theirs), abs=1e-12)
        assert found.chairs[name].reading.value == pytest.approx(np.mean(ours), abs=1e-12)


def test_recall_and_precision_are_those_of_a_general_purpose_library() -> None:
    codes, experts = drawn()
    found = on_equal_footing(codes, experts, VALIDATE)
    assert found is not None
    said, true = [], []
    for k in range(5):
        judged = consensus_of(np.delete(experts.codes, k, axis=1), VALIDATE)
        at = judged != MISSING
        said.append(codes[at])
        true.append(judged[at])
    # Oracle: scikit-learn's recall_score and precision_score, the panels laid end to end
    recall = recall_score(np.concatenate(true), np.concatenate(said), average=None)
    precision = precision_score(np.concatenate(true), np.concatenate(said), average=None)
    for k, shares in enumerate(found.reading_classes):
        assert shares.recall.value == pytest.approx(recall[k], abs=1e-12)
        assert shares.precision.value == pytest.approx(precision[k], abs=1e-12)


def test_a_reading_that_copies_an_expert_is_no_better_and_no_worse_in_that_chair() -> None:
    _, experts = drawn()
    found = on_equal_footing(experts.codes[:, 2].copy(), experts, VALIDATE)
    assert found is not None
    assert found.chairs["2"].difference.value == 0.0
    assert found.chairs["2"].windows > 0


def test_paired_intervals_are_narrower_than_two_apart() -> None:
    codes, experts = drawn(400, noise=0.4)
    found = on_equal_footing(codes, experts, VALIDATE)
    assert found is not None

    def width(value) -> float:
        return value.high - value.low

    assert width(found.over_mean) < width(found.reading) + width(found.experts)
    assert found.over_mean.value == pytest.approx(found.reading.value - found.experts.value)


def test_what_one_of_them_did_not_class_is_left_out_for_both() -> None:
    codes, experts = drawn()
    refused = codes.copy()
    refused[:50] = NOT_ASSESSABLE
    whole, part = on_equal_footing(codes, experts, VALIDATE), on_equal_footing(refused, experts, VALIDATE)
    later = np.arange(codes.size) >= 50
    alone = on_equal_footing(codes[later], experts.chosen(later), VALIDATE)
    assert whole is not None
    assert part is not None
    assert alone is not None
    assert part.windows == alone.windows < whole.windows
    assert part.experts.value == alone.experts.value


def test_stages_are_told_apart_and_one_without_windows_is_not_named() -> None:
    codes, experts = drawn()
    found = by_stage(codes, experts, VALIDATE, {"first": ("eval_step1",), "second": ("eval_step3",), "none": ("x",)})
    assert set(found) == {"first", "second"}


def test_too_few_experts_for_panels_give_nothing() -> None:
    codes, experts = drawn(experts=3)
    assert on_equal_footing(codes, experts, VALIDATE) is None
    codes, experts = drawn(experts=5)
    assert on_equal_footing(codes, experts, VALIDATE, panel=5) is None


def test_document_and_text_say_the_same() -> None:
    codes, experts = drawn()
    found = on_equal_footing(codes, experts, VALIDATE)
    assert found is not None
    document = footing_json(found)
    assert document["best_expert"]["expert"] == found.best_name
    assert [row["category"] for row in document["classes"]] == ["normal", "suspicious", "pathological"]
    text = "\n".join(footing_lines(found))
    assert f"{document['kappa_linear']['estimate']:.2f} ({document['kappa_linear']['low']:.2f}" in text
    assert len(footing_lines(found, short=True)) < len(footing_lines(found))
