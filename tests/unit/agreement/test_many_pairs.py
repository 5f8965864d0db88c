"""Many readers: only pairs with a common window are worked out, in blocks, and nothing depends on the blocks."""

import dataclasses
import tracemalloc
from itertools import combinations

import numpy as np
import pytest
from msgspec.structs import replace

from audit.agreement import pairs
from audit.agreement.consensus import consensus_values, others_consensus
from audit.agreement.document import agreement_document
from audit.agreement.many_readers import brennan_prediger, category_totals, fleiss_kappa, window_features
from audit.agreement.measured import alpha_interval, number_features
from audit.agreement.pairs import pair_agreements, pairs_in_common
from audit.agreement.reads import ReadGrid, ReadsTable
from audit.agreement.resampling import expanded_tail
from audit.agreement.scales import Scale
from audit.questions.agreement import MOST_PAIRS, first_pairs, pairs_apart
from audit.settings import load_settings

OPTIONS = load_settings().agreement
NAMES = ("normal", "suspicious", "pathological")


def in_groups(readers: int, size: int, cases: int, answer) -> ReadsTable:
    """Readers in groups of one size; every group reads cases of its own, each reader all of them."""
    rows = [
        (f"c{reader // size:03d}-{case}", "A", 0.0, 1800.0, f"r{reader:03d}", 1, answer(reader, case))
        for reader in range(readers)
        for case in range(cases)
    ]
    return ReadsTable(*zip(*rows, strict=True))


def document(table: ReadsTable, item: str = "category", draws: int = 100):
    return agreement_document(
        table, item=item, standard="figo-2015", period=None, options=replace(OPTIONS, draws=draws)
    )


def test_pairs_with_a_window_that_both_answered():
    """Readers 0 and 1 share the first window, 1 and 3 the second, 2 reads alone and 4 nothing."""
    answered = np.array([[1, 1, 0, 0, 0], [0, 1, 0, 1, 0], [0, 0, 1, 0, 0]], dtype=bool)
    assert pairs_in_common(answered) == ([(0, 1), (1, 3)], 2)
    assert pairs_in_common(np.ones((2, 4), dtype=bool)) == (list(combinations(range(4), 2)), 6)
    assert pairs_in_common(np.zeros((0, 0), dtype=bool)) == ([], 0)


def test_of_too_many_pairs_those_with_the_most_common_windows_are_worked_out_and_the_rest_counted():
    """Readers 0 and 3 share three windows, 1 and 2 two, the other pairs one."""
    answered = np.array([[1, 1, 1, 1], [1, 0, 0, 1], [1, 0, 0, 1], [0, 1, 1, 0]], dtype=bool)
    assert pairs_in_common(answered, most=2) == ([(0, 3), (1, 2)], 6)
    assert pairs_in_common(answered, most=3) == ([(0, 1), (0, 3), (1, 2)], 6)
    says = pairs_apart({"pairs_without_common_window": 0, "pairs_left_out": 4})
    assert says == "4 more met, but only the 2016 with the most common windows are worked out."


@pytest.mark.parametrize("item", ["category", "baseline_bpm"])
def test_readers_without_a_common_window_get_no_row_and_are_counted(item):
    """Six readers in three groups of two: 3 of the 15 pairs have read the same windows."""
    table = in_groups(6, 2, 5, lambda reader, case: NAMES[case % 3] if item == "category" else 130.0 + reader + case)
    made = document(table, item)
    assert [(row["reader_a"], row["reader_b"], row["windows"]) for row in made["pairs"]] == [
        ("r000", "r001", 5), ("r002", "r003", 5), ("r004", "r005", 5)
    ]  # fmt: skip
    assert (made["pairs_without_common_window"], made["pairs_left_out"]) == (12, 0)
    assert len(made["limits_of_agreement"]) == (3 if item == "baseline_bpm" else 0)
    assert pairs_apart(made) == "12 pairs of readers read no window in common and have no row."
    assert pairs_apart({"pairs_without_common_window": 0, "pairs_left_out": 0}) is None


@pytest.mark.parametrize("block_bytes", [1, pairs._BLOCK_BYTES])
def test_a_pair_is_the_same_in_any_block_and_equals_a_plain_recount(monkeypatch, block_bytes):
    """Each draw counted anew in the plain way: cases drawn with repeats, a table, (po - pe) / (1 - pe); Cohen 1960."""
    monkeypatch.setattr(pairs, "_BLOCK_BYTES", block_bytes)
    rng, cases, draws = np.random.default_rng(4), 12, 60
    case_index = np.repeat(np.arange(cases), 3)
    truth = rng.integers(0, 3, len(case_index))
    codes = np.where(rng.random((4, len(truth))) < 0.3, rng.integers(-1, 3, (4, len(truth))), truth)
    options = replace(OPTIONS, draws=draws)
    columns = [(codes[a], codes[b]) for a, b in combinations(range(4), 2)]
    scale = Scale("category", "ordinal", NAMES)
    found = list(pair_agreements(columns, scale, case_index, cases, options, with_not_assessable=False))
    assert len(found) == 6
    drawn = np.random.default_rng(options.seed).integers(0, cases, size=(draws, cases))
    tail = expanded_tail(options.interval_level, cases)
    for (first, second), pair in zip(columns, found, strict=True):

        def kappa(windows, first=first, second=second):
            one, two = first[windows], second[windows]
            both = (one >= 0) & (two >= 0)
            table = np.zeros((3, 3))
            np.add.at(table, (one[both], two[both]), 1 / both.sum())
            chance = float(table.sum(axis=1) @ table.sum(axis=0))
            return (np.trace(table) - chance) / (1 - chance)

        repeats = [kappa(np.concatenate([np.flatnonzero(case_index == case) for case in draw])) for draw in drawn]
        low, high = np.quantile(repeats, [tail, 1 - tail])
        assert pair.kappa.value == pytest.approx(kappa(np.arange(len(case_index))), abs=1e-12)
        assert (pair.kappa.low, pair.kappa.high) == pytest.approx((low, high), abs=1e-12)


def test_memory_of_four_hundred_readers_grows_with_the_pairs_that_met():
    """79,800 pairs, 20 of which met. One float per pair, cell and window would be 2.6 GB; here under 16 MB."""
    readers, met, cases = 400, 20, 5
    windows = met * cases + readers - 2 * met
    codes = np.full((windows, readers), -1)
    for pair in range(met):
        codes[pair * cases : (pair + 1) * cases, 2 * pair : 2 * pair + 2] = [[0, 0], [1, 1], [1, 2], [2, 2], [0, 1]]
    codes[np.arange(met * cases, windows), np.arange(2 * met, readers)] = 1
    options, scale = replace(OPTIONS, draws=100), Scale("category", "ordinal", NAMES)
    tracemalloc.start()
    try:
        together, _ = pairs_in_common(codes >= 0)
        columns = ((codes[:, a], codes[:, b]) for a, b in together)
        found = list(pair_agreements(columns, scale, np.arange(windows), windows, options, with_not_assessable=False))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert together == [(2 * pair, 2 * pair + 1) for pair in range(met)]
    assert {pair.windows for pair in found} == {5}
    assert [pair.agreement.value for pair in found] == pytest.approx([3 / 5] * met)
    assert peak < 16 * 2**20


def test_page_and_terminal_show_the_pairs_with_the_most_windows_and_say_how_many_more():
    rows = [{"reader_a": "a", "reader_b": f"b{k:03d}", "windows": k % 7} for k in range(MOST_PAIRS)]
    assert first_pairs(rows) == (rows, None)
    shown, more = first_pairs([*rows, {"reader_a": "z", "reader_b": "y", "windows": 9}])
    assert (len(shown), shown[0]["windows"], shown[-1]["windows"]) == (MOST_PAIRS, 9, 0)
    assert [row["reader_b"] for row in shown[1:3]] == ["b006", "b013"]  # six windows each, then by name
    assert more is not None
    assert "; 1 more are in the document of `agreement --json`" in more


@pytest.mark.parametrize(
    ("rule", "ties"), [("majority", "more_severe"), ("majority", "none"), ("median", "less_severe")]
)
def test_the_others_consensus_is_that_of_a_grid_without_the_reader(rule, ties):
    rng = np.random.default_rng(8)
    values = rng.integers(0, 4, (60, 5)).astype(float)  # 3 = not assessable
    values[rng.random(values.shape) < 0.3] = np.nan
    windows, readers = tuple((f"c{k}", "A", 0.0, 1800.0) for k in range(60)), tuple("abcde")
    grid = ReadGrid(Scale("category", "ordinal", NAMES), windows, readers, tuple("c"), np.arange(60), values)
    for reader, (read, joint) in enumerate(others_consensus(grid, rule=rule, ties=ties, readers_min=2)):
        others = dataclasses.replace(grid, values=np.delete(values, reader, axis=1))
        expected = consensus_values(others, rule=rule, ties=ties, readers_min=2)
        assert read.tolist() == np.flatnonzero(np.isfinite(values[:, reader])).tolist()
        assert np.where(joint < 0, np.nan, joint).tolist() == pytest.approx(expected[read].tolist(), nan_ok=True)


def test_sums_of_numbers_equal_a_count_pair_by_pair():
    """Shrout and Fleiss 1979 and Krippendorff 2011 define the figures by pairs of reads of one window."""
    rng = np.random.default_rng(9)
    values = rng.integers(110, 160, (40, 6)).astype(float)
    values[rng.random(values.shape) < 0.4] = np.nan
    rows = [row[np.isfinite(row)] for row in values]
    pairs_of = [[abs(a - b) for a, b in combinations(row, 2)] for row in rows]
    sums = number_features(values).toarray()
    assert sums[:, 0] == pytest.approx([sum(d**2 for d in row) for row in pairs_of], abs=1e-6)
    assert sums[:, 1].tolist() == [len(row) for row in pairs_of]
    assert sums[:, 7] == pytest.approx([sum(row) for row in pairs_of], abs=1e-6)
    assert sums[:, 8:14].tolist() == np.isfinite(values).tolist()
    assert number_features(np.full((2, 3), np.nan)).toarray().tolist() == [[0.0] * 17] * 2
    far = alpha_interval(number_features(values + 1e8).sum(axis=0))  # no figure depends on where numbers begin
    assert float(far) == pytest.approx(float(alpha_interval(number_features(values).sum(axis=0))), abs=1e-9)


def test_a_window_that_nobody_read_and_a_scale_of_one_category_give_no_figure():
    read = [[2, 0], [1, 1], [0, 1]]
    with_empty, without = (category_totals(window_features(rows).sum(axis=0), 2) for rows in ([*read, [0, 0]], read))
    assert float(fleiss_kappa(with_empty)) == pytest.approx(float(fleiss_kappa(without)))
    assert np.isnan(brennan_prediger(category_totals(window_features([[2], [3]]).sum(axis=0), 1)))


def test_an_answer_off_the_scale_is_no_answer_of_a_pair():
    """The first window is refused by one; of the other two one agrees."""
    first, second = np.array([3, 0, 1]), np.array([0, 0, 2])
    for columns in ((first, second), (second, first)):
        (pair,) = pair_agreements([columns], Scale("category", "ordinal", NAMES), np.arange(3), 3, OPTIONS,
                                  with_not_assessable=False)  # fmt: skip
        assert (pair.windows, pair.agreement.value) == (2, 0.5)
