"""Agreement from counts of pairs: worked examples split between units, and a window of three reads by hand."""

from collections import Counter

import pytest

from audit.agreement import pooled
from audit.agreement.pooled import BESIDE, COMPUTED, NOMINAL, ORDERED, Pair
from audit.agreement.reads import ReadsTable
from audit.settings import load_settings

OPTIONS = load_settings().agreement
MILD, MIDDLE = "normal", "suspicious"


def figures(*units):
    found = pooled.figures(sum(units, Counter()), standard="figo-2015", options=OPTIONS)
    named = {(row["name"], row["category"]): row for row in found["measures"]}
    return {name: row["estimate"] for (name, _), row in named.items()} | {"computed": found["computed"]}, found


def pairs(reads, counts):
    return Counter({
        Pair(family, reads, *answers): n for family in (NOMINAL, ORDERED) for answers, n in counts.items()
    })  # fmt: skip


def test_alpha_of_ten_binary_windows_split_between_two_units():
    """Krippendorff, Computing Krippendorff's Alpha-Reliability, 2011, part A (from memory): o = 10, 4, 4, 2; 0.095."""
    first = pairs(2, {(MILD, MILD): 3, (MILD, MIDDLE): 1, (MIDDLE, MIDDLE): 1})
    second = pairs(2, {(MILD, MILD): 2, (MILD, MIDDLE): 3})
    found, whole = figures(first, second)
    assert found["krippendorff_alpha_nominal"] == pytest.approx(1 - 19 * 4 / (14 * 6))
    # with two categories neither order nor distance adds anything
    assert found["krippendorff_alpha_ordinal"] == pytest.approx(0.095, abs=5e-4)
    assert found["krippendorff_alpha_interval"] == pytest.approx(0.095, abs=5e-4)
    assert whole["windows"] == 10
    assert {row["n"] for row in whole["measures"]} == {10}
    assert all(row["low"] is None and row["high"] is None for row in whole["measures"])


def test_kappa_of_the_computed_reading_split_between_two_units():
    """By hand: 20, 5, 10, 15: agreement 35/50, by chance 25/50 x 30/50 + 25/50 x 20/50 = 0.5, so kappa 0.4."""
    first = Counter({Pair(COMPUTED, 0, MILD, MILD): 20, Pair(COMPUTED, 0, MIDDLE, MILD): 3})
    second = Counter({
        Pair(COMPUTED, 0, MILD, MIDDLE): 5, Pair(COMPUTED, 0, MIDDLE, MILD): 7, Pair(COMPUTED, 0, MIDDLE, MIDDLE): 15,
    })  # fmt: skip
    found = figures(first, second)[0]["computed"]
    assert found["windows"] == 50
    assert found["agreement"] == pytest.approx(0.7)
    assert found["kappa"] == pytest.approx(0.4)


def test_a_window_of_three_reads_and_one_of_a_single_read_by_hand():
    """Pairs agree 1 in 3; shares 2/3 and 1/3, 0 and 1, so by chance (1/3)^2 + (2/3)^2 = 5/9: kappa -1/2."""
    reads = ReadsTable(
        case_id=["a", "a", "a", "b"], fetus=["A"] * 4, start_s=[0.0] * 4, end_s=[1800.0] * 4,
        reader=["R1", "R2", "R3", "R1"], occasion=[1] * 4, value=[MILD, MILD, MIDDLE, MIDDLE],
    )  # fmt: skip
    computed = {("a", "A", 0.0, 1800.0): MIDDLE, ("b", "A", 0.0, 1800.0): MIDDLE}
    counts = pooled.pair_counts(reads, computed, standard="figo-2015", options=OPTIONS)
    of_people = {
        (Pair(NOMINAL, 3, MILD, MILD), 1),
        (Pair(NOMINAL, 3, MILD, MIDDLE), 2),
        (Pair(NOMINAL, 1, MIDDLE, None), 1),
    }
    assert {(pair, n) for pair, n in counts.items() if pair.family == NOMINAL} == of_people
    severe = ReadsTable(["a"] * 2, ["A"] * 2, [0.0] * 2, [9.0] * 2, ["R1", "R2"], [1] * 2, ["pathological"] * 2)
    most = Counter({Pair(family, 2, "pathological", "pathological"): 1 for family in (NOMINAL, ORDERED)})
    assert pooled.pair_counts(severe, {}, standard="figo-2015", options=OPTIONS) == most
    found, whole = figures(counts)
    assert whole["windows"] == 2
    assert found["proportion_of_agreement"] == pytest.approx(1 / 3)
    # of the pairs with a mild or a middle read one agrees in three, and none in two; each window's shares count alike
    by_category = {(row["name"], row["category"]): row["estimate"] for row in whole["measures"]}
    assert by_category["jaccard_agreement", MILD] == pytest.approx(1 / 3)
    assert by_category["jaccard_agreement", MIDDLE] == 0
    assert by_category["category_share", MILD] == pytest.approx(1 / 3)
    assert found["fleiss_kappa"] == pytest.approx(-0.5)
    # the window of one read has too few readers for a consensus
    assert {(pair, n) for pair, n in counts.items() if pair.family == COMPUTED} == {
        (Pair(COMPUTED, 0, MILD, MIDDLE), 1)
    }


def test_a_cell_counts_the_labours_behind_it():
    """By hand: three mild reads of one window are three pairs of one labour. Of the window where one of three reads is
    'not assessable', the pair of the other two is among three reads in one family and among two in the other."""
    reads = ReadsTable(
        case_id=["a"] * 3 + ["b"] * 3, fetus=["A"] * 6, start_s=[0.0] * 6, end_s=[1800.0] * 6,
        reader=["R1", "R2", "R3"] * 2, occasion=[1] * 6, value=[MILD] * 5 + ["not assessable"],
    )  # fmt: skip
    counts = pooled.pair_counts(reads, {}, standard="figo-2015", options=OPTIONS)
    behind = pooled.labours_behind(reads, {}, standard="figo-2015", options=OPTIONS)
    both, one = Pair(NOMINAL, 3, MILD, MILD), Pair(ORDERED, 3, MILD, MILD)
    assert (counts[both], behind[both], counts[one], behind[one]) == (4, 2, 3, 1)
    # the difference of the two is one labour's, and counted
    assert behind[Pair(f"{BESIDE} 1", 3, MILD, MILD)] == 1
    assert not any(BESIDE in pair.family for pair in counts)


def test_one_category_gives_agreement_and_nothing_beyond_chance():
    found = figures(pairs(2, {(MILD, MILD): 9}))[0]
    assert found["proportion_of_agreement"] == 1.0
    assert {found[name] for name in ("fleiss_kappa", "gwet_ac1", "brennan_prediger", "gwet_ac2", pooled.ALPHA)} == {
        None
    }


def test_not_assessable_is_a_category_once_a_reader_chose_it():
    """(po - 1/k) / (1 - 1/k), Brennan and Prediger 1981 (from memory): one pair of two agrees, of four categories and,
    where the computed reading alone was refused, of three."""
    refused = "not assessable"
    found, whole = figures(Counter({Pair(NOMINAL, 2, MILD, MILD): 1, Pair(NOMINAL, 2, MILD, refused): 1}))
    assert found["brennan_prediger"] == pytest.approx((1 / 2 - 1 / 4) / (3 / 4))
    assert len({row["category"] for row in whole["measures"] if row["category"]}) == 4
    of_ours = Counter({Pair(COMPUTED, 0, MILD, refused): 1})
    found, _ = figures(pairs(2, {(MILD, MILD): 1, (MILD, MIDDLE): 1}), of_ours)
    assert found["brennan_prediger"] == pytest.approx((1 / 2 - 1 / 3) / (2 / 3))


def test_weighted_kappas_of_the_computed_reading_are_told_by_their_names():
    """Cohen, Psychol Bull 1968;70:213-20, by hand: three agree, one is two steps apart."""
    told = [(MILD, MILD), (MIDDLE, MIDDLE), ("pathological", "pathological"), (MILD, "pathological")]
    found = figures(Counter(Pair(COMPUTED, 0, *answers) for answers in told))[0]["computed"]
    assert found["weighted_kappa_linear"] == pytest.approx(1 / 2)
    assert found["weighted_kappa_quadratic"] == pytest.approx(5 / 13)


def test_nothing_read_has_no_figure():
    assert pooled.pair_counts(ReadsTable(*[[]] * 7), {}, standard="figo-2015", options=OPTIONS) == {}
    found = pooled.figures({}, standard="figo-2015", options=OPTIONS)
    assert all(row["estimate"] is None for row in found["measures"])
    assert found["computed"]["kappa"] is None
