"""Edges of the agreement figures, each counted by hand."""

import numpy as np
import pytest
from msgspec.structs import replace

from audit.agreement.consensus import consensus_codes
from audit.agreement.document import agreement_document, few_windows
from audit.agreement.reads import ReadsTable
from audit.agreement.scales import agreement_weights, scale_for
from audit.settings import load_settings


@pytest.mark.parametrize(
    ("row", "rule", "ties", "expected"),
    [
        ([0, 0, 2], "median", "more_severe", 0),
        ([0, 2, 2], "median", "less_severe", 2),
        ([0, 1, 2, 2], "median", "less_severe", 1),
        ([0, 1, 2, 2], "median", "more_severe", 2),
        ([0, 1, 2, 2], "median", "none", -1),
        ([0, 2], "majority", "more_severe", 2),
        ([0, 2], "majority", "less_severe", 0),
        ([0, 2], "majority", "none", -1),
        ([0, 3, 3], "majority", "more_severe", 3),  # two of three: not assessable
        ([0, 3, 3, 1], "majority", "less_severe", 0),  # half of them is not more than half
        ([3, 3], "majority", "more_severe", 3),
    ],
)
def test_the_consensus_of_a_window_counted_by_hand(row, rule, ties, expected):
    """Codes 0 to 2 from mild to severe, 3 = not assessable; the middle answer is that of any textbook's median."""
    assert consensus_codes(np.array([row]), 3, rule=rule, ties=ties, readers_min=2).tolist() == [expected]


def test_as_many_readers_as_asked_are_enough_and_one_fewer_is_not():
    rows = np.array([[1, 1, -1], [1, -1, -1]])
    assert consensus_codes(rows, 3, rule="majority", ties="none", readers_min=2).tolist() == [1, -1]
    assert consensus_codes(rows, 3, rule="majority", ties="none", readers_min=3).tolist() == [-1, -1]
    assert consensus_codes(rows, 3, rule="majority", ties="none", readers_min=1).tolist() == [1, 1]


@pytest.mark.parametrize(
    ("item", "answers", "kind", "categories"),
    [
        ("would_act", ["yes"], "ordinal", ("no", "yes")),
        ("would_act", ["yes", "no", "not assessable"], "ordinal", ("no", "yes")),
        ("would_act", ["yes", "perhaps"], "nominal", ("perhaps", "yes")),
        ("decelerations", ["late", "none"], "nominal", ("late", "none")),
    ],
)
def test_answers_have_an_order_only_where_all_of_them_are_in_it(item, answers, kind, categories):
    found = scale_for(item, "figo-2015", answers)
    assert (found.kind, found.categories) == (kind, categories)


def test_weights_of_four_categories_are_those_printed():
    """Cicchetti and Allison 1971: 1, 2/3, 1/3, 0; Fleiss and Cohen 1973: 1, 8/9, 5/9, 0 (both from memory)."""
    assert agreement_weights("linear", 4)[0] == pytest.approx([1, 2 / 3, 1 / 3, 0])
    assert agreement_weights("quadratic", 4)[0] == pytest.approx([1, 8 / 9, 5 / 9, 0])
    assert agreement_weights("identity", 4)[0].tolist() == [1, 0, 0, 0]
    for name in ("linear", "quadratic", "identity"):
        assert agreement_weights(name, 1).tolist() == [[1.0]]


@pytest.mark.parametrize(
    ("row", "ties", "expected"),
    [
        ([0, 0, 1, 1, 2], "more_severe", 1),
        ([0, 0, 1, 1, 2], "less_severe", 0),
        ([0, 1, 1, 2, 2], "more_severe", 2),
        ([0, 1, 1, 2, 2], "less_severe", 1),
        ([0, 0, 1, 2, 2], "more_severe", 2),
        ([0, 0, 1, 2, 2], "none", -1),
    ],
)
def test_of_the_most_frequent_answers_the_rule_for_ties_takes_one(row, ties, expected):
    assert consensus_codes(np.array([row]), 3, rule="majority", ties=ties, readers_min=2).tolist() == [expected]


@pytest.mark.parametrize(
    ("item", "answers"),
    [("category", ("normal", "suspicious", "not assessable")), ("baseline_bpm", (140.0, 130.0, None))],
)
def test_windows_that_two_read_are_counted(item, answers):
    """Read by one, by two and by three: two common windows; an answer that is none is no read of a number."""
    first, second, third = answers
    read = [("K1", "a", first), *[("K2", r, second) for r in "ab"], *[("K3", r, second) for r in "abc"]]
    read += [("K4", "a", first), ("K4", "b", third)]
    case, reader, value = zip(*[row for row in read if row[2] is not None], strict=True)
    n = len(case)
    table = ReadsTable(case, ["A"] * n, [0.0] * n, [1800.0] * n, reader, [1] * n, value)
    options = replace(load_settings().agreement, draws=20)
    made = agreement_document(table, item=item, standard="figo-2015", period=None, options=options)
    common = 3 if item == "category" else 2
    assert (made["windows"], made["windows_read_by_two"]) == (4, common)
    assert made["few_windows"].startswith(f"Only {common} windows were read by both")


def test_as_many_common_windows_as_asked_are_not_few():
    options = load_settings().agreement
    assert few_windows(options.windows_few, options) is None
    assert few_windows(options.windows_few - 1, options) is not None
