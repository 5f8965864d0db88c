"""Small numbers: what is hidden, and that nothing shown gives it away."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.measures.grouped_values import in_groups
from audit.measures.linked_sums import _nearest, hide_with_sums, told
from audit.measures.suppression import (
    hide_parts,
    hides_share,
    is_small,
    months_add_up,
    sum_is_told,
    told_together,
)


@pytest.mark.parametrize(("count", "small"), [(0, False), (1, True), (4, True), (5, False), (None, False)])
def test_counts_from_1_to_4_are_small(count: int | None, small: bool) -> None:
    assert is_small(count, 5) is small


@pytest.mark.parametrize(
    ("counts", "shown"),
    [
        ([10, 20, 30], [10, 20, 30]),
        ([10, 0, 30], [10, 0, 30]),
        # a lone small part would be the total less the rest, so the next smallest goes too
        ([3, 20, 30], [None, None, 30]),
        ([3, 0, 30], [None, 0, None]),
        # two small parts that together are still small: their sum would be known
        ([1, 1, 30, 9], [None, None, 30, None]),
        ([4, 4, 30], [None, None, 30]),
    ],
)
def test_what_would_give_a_small_part_away_is_hidden_too(counts: list[int], shown: list[int | None]) -> None:
    assert hide_parts(counts, least=5) == shown


@given(st.lists(st.integers(0, 40), min_size=2, max_size=8), st.integers(2, 10))
def test_no_small_part_is_shown_or_can_be_worked_out(counts: list[int], least: int) -> None:
    shown = hide_parts(counts, least=least)
    hidden = [count for count, seen in zip(counts, shown, strict=True) if seen is None]
    assert all(seen is None or not is_small(seen, least) for seen in shown)
    if hidden and sum(counts) >= least:
        assert len(hidden) > 1
        assert not is_small(sum(hidden), least)


@pytest.mark.parametrize(
    ("numerator", "denominator", "hidden"),
    [(5, 10, False), (4, 20, True), (16, 20, True), (0, 20, False), (20, 20, False), (0, 4, True), (None, 3, False)],
)
def test_a_share_is_hidden_with_its_numerator_the_rest_or_its_denominator(
    numerator: int | None, denominator: int, hidden: bool
) -> None:
    assert hides_share(numerator, denominator, least=5) is hidden


def crossed(rows: list[list[int]]) -> list[list[int | None]]:
    """A table whose sums of rows and columns are known."""
    counts = {(r, c): count for r, row in enumerate(rows) for c, count in enumerate(row)}
    sums = [{key: 1 for key in counts if key[way] == k} for way in (0, 1) for k in {key[way] for key in counts}]
    small = [key for key, count in counts.items() if is_small(count, 5)]
    gone = hide_with_sums(counts, sums, hidden=small, least=5)
    return [[None if (r, c) in gone else count for c, count in enumerate(row)] for r, row in enumerate(rows)]


def test_no_total_of_a_row_or_column_tells_a_small_cell() -> None:
    """By hand: 1 alone would be told by its row, so 9 goes; both then by their columns, so 8 and 7 of the other row."""
    assert crossed([[1, 10, 9], [8, 20, 7]]) == [[None, 10, None], [None, 20, None]]
    assert crossed([[6, 11, 0], [9, 5, 7]]) == [[6, 11, 0], [9, 5, 7]]


def test_two_of_each_sum_may_still_be_told_by_all_sums_together() -> None:
    """By hand: a + b, b + c and a + c are known, so a = (first - second + third) / 2: one of the shown goes too."""
    counts = {"a": 3, "b": 4, "c": 4, "d": 9, "e": 20}
    sums = [{"a": 1, "b": 1, "d": 1}, {"b": 1, "c": 1}, {"a": 1, "c": 1, "e": 1}]
    assert hide_with_sums(counts, sums, hidden=["a", "b", "c"], least=5) >= {"a", "b", "c", "d"}


def test_what_is_hidden_last_goes_where_no_other_would_do() -> None:
    """By hand: beside a only b is left, which is a sum of all months and so the last to go; and then nothing is."""
    counts, sums = {"a": 3, "b": 9, "c": 7}, [{"a": 1, "b": 1}, {"b": 1, "c": 1}]
    assert _nearest(counts, sums, {"a"}, "a", last=["b", "c"]) == {"c"}
    assert _nearest(counts, sums[:1], {"a"}, "a", last=["b"]) == {"b"}
    assert _nearest(counts, sums[:1], {"a", "b"}, "a", last=["b"]) == set()


def test_a_count_that_can_be_one_more_or_less_is_not_told() -> None:
    """By hand: of a + b = 1 with none below 0, a is 0 or 1; of 2 a + b = 1 it is 0."""
    counts, both = {"a": 1, "b": 0}, {"a", "b"}
    assert told(counts, [{"a": 1, "b": 1}], both, ["a"]) == []
    assert told({"a": 0, "b": 1}, [{"a": 2, "b": 1}], both, ["a"]) == ["a"]
    assert told(counts, [{"a": 1}], {"a"}, ["a"]) == ["a"]
    many = {k: int(k == 0) for k in range(31)}  # each may be the one that is not 0, and few of the drawn aims find it
    assert told(many, [dict.fromkeys(many, 1)], set(many), list(many)) == []


def test_months_are_told_together_as_soon_as_two_hidden_ones_add_up_and_never_otherwise_later() -> None:
    counts = [(1, 30), (20, 20), (3, 40), (2, 25), (9, 9), (4, 4)]
    small = [True, False, True, True, False, True]
    told = told_together(counts, small, least=5)
    assert told == [[1], [0, 2, 3], [4]]
    for end in range(len(counts)):
        assert all(stretch in told for stretch in told_together(counts[:end], small[:end], least=5))


def test_values_go_out_as_means_of_groups_of_enough() -> None:
    """By hand: 1, 2, 6 are of labours a, a, b: the first that are of two; 7 and 20 of b and c; 30 has none left."""
    values, of = [6.0, 1.0, 30.0, 2.0, 20.0, 7.0], ["b", "a", "d", "a", "c", "b"]
    assert in_groups(values, of, least=2) == [3.0, 3.0, 19.0, 3.0, 19.0, 19.0]
    assert in_groups(values, of, least=1) == values
    assert in_groups(values, of, least=5) is None
    assert in_groups([], [], least=5) == []


@given(st.lists(st.tuples(st.floats(0, 1e4), st.integers(0, 9)), min_size=1, max_size=40), st.integers(2, 6))
def test_no_group_is_of_few_and_the_sum_stays(rows: list[tuple[float, int]], least: int) -> None:
    values, of = [value for value, _ in rows], [labour for _, labour in rows]
    found = in_groups(values, of, least=least)
    if found is None:
        assert len(set(of)) < least
        return
    assert sum(found) == pytest.approx(sum(values), rel=1e-9)
    for mean in set(found):
        own = [k for k, value in enumerate(found) if value == mean]
        assert len({of[k] for k in own}) >= least
        assert min(values[k] for k in own) <= mean <= max(values[k] for k in own)
    assert [v for _, v in sorted(zip(values, found, strict=True))] == sorted(found)


def test_a_sum_over_months_is_told_of_stretches_alone() -> None:
    """By hand: 1 and 30 are hidden and wait for another month; alone a month is settled by its own counts."""
    counts, small = [(1, 30), (9, 9)], [True, False]
    assert [sum_is_told(counts, small, asked, least=5) for asked in ([0], [1], [0, 1])] == [True, True, False]
    assert told_together([(9, 9), (9, 9)], [True, True], least=5) == [[0, 1]]  # a hidden one is never told alone


def test_all_months_add_up_where_none_or_two_are_hidden_behind_enough() -> None:
    assert months_add_up([(1, 9)], [True], least=5)  # one month is no sum
    assert months_add_up([(6,), (7,)], [False, False], least=5)
    assert not months_add_up([(1,), (7,)], [True, False], least=5)
    assert months_add_up([(3,), (4,)], [True, True], least=5)
    assert not months_add_up([(1,), (2,)], [True, True], least=5)
