"""Consensus, leanings, disagreement, months and the effect of disclosure, on tables small enough to count by hand."""

import numpy as np
import pytest
from msgspec.structs import replace

from audit.agreement.consensus import consensus_codes, consensus_values
from audit.agreement.readers import disagreements, disclosure_shift, leanings, monthly_agreement
from audit.agreement.reads import ReadsTable, arrange
from audit.agreement.scales import scale_for
from audit.agreement.yardstick import landis_koch_band
from audit.settings import load_settings

OPTIONS = replace(load_settings().agreement, draws=200)
NAMES = {0: "normal", 1: "suspicious", 2: "pathological", 3: "not assessable"}


def table(rows, occasion=1):
    """One case per row of codes, readers a, b, c, ...; None = no read."""
    cells = [(f"case{i:02d}", "abcdef"[r], NAMES.get(v)) for i, row in enumerate(rows) for r, v in enumerate(row)]
    n = len(cells)
    case, reader, value = zip(*cells, strict=True)
    return ReadsTable(case, ["A"] * n, [0.0] * n, [1800.0] * n, reader, [occasion] * n, value)


def kinds(*answers):
    """One window, read once by each of as many readers."""
    n = len(answers)
    return ReadsTable(["c"] * n, ["A"] * n, [0] * n, [9] * n, list("abc")[:n], [1] * n, answers)


def grid(rows):
    reads = table(rows)
    return arrange(reads, scale_for("category", "figo-2015", reads.value))


@pytest.mark.parametrize(
    ("row", "rule", "ties", "expected"),
    [
        ([0, 0, 1], "majority", "more_severe", 0),
        ([0, 1, -1], "majority", "more_severe", 1),
        ([0, 1, -1], "majority", "less_severe", 0),
        ([0, 1, -1], "majority", "none", -1),
        ([0, 0, 2, 2, 1], "majority", "more_severe", 2),
        ([0, 0, 2, 2, 1], "median", "more_severe", 1),
        ([0, 0, 2, 2], "median", "more_severe", 2),
        ([0, 0, 2, 2], "median", "less_severe", 0),
        ([0, 2, 2], "median", "less_severe", 2),
        ([3, 3, 0], "majority", "more_severe", 3),
        ([3, 0, -1], "majority", "more_severe", 0),
        ([3, 3, -1], "majority", "more_severe", 3),
        ([0, -1, -1], "majority", "more_severe", -1),
        ([-1, -1, -1], "median", "more_severe", -1),
    ],
)
def test_consensus(row, rule, ties, expected):
    found = consensus_codes(np.array([row]), 3, rule=rule, ties=ties, readers_min=2)
    assert found.tolist() == [expected]


def test_numbers_take_the_median_and_answers_without_order_no_tie():
    numbers = ReadsTable(["c"] * 3, ["A"] * 3, [0] * 3, [9] * 3, ["a", "b", "c"], [1] * 3, [130, 140, 160])
    found = arrange(numbers, scale_for("baseline_bpm", "figo-2015", numbers.value))
    rules = {"rule": "majority", "ties": "more_severe", "readers_min": 2}
    assert consensus_values(found, **rules).tolist() == [140.0]
    kinds = ReadsTable(["c"] * 2, ["A"] * 2, [0] * 2, [9] * 2, ["a", "b"], [1] * 2, ["late", "variable"])
    nominal = arrange(kinds, scale_for("decelerations", "figo-2015", kinds.value))
    assert np.isnan(consensus_values(nominal, **rules)).all()


def test_a_reader_is_measured_against_the_others_alone():
    """Reader c calls every window one step higher; a and b always agree with each other."""
    rows = [(0, 0, 1), (1, 1, 2)] * 5
    found = {leaning.reader: leaning for leaning in leanings(grid(rows), OPTIONS)}
    c = found["c"]
    assert (c.windows, c.more_severe, c.less_severe) == (10, 10, 0)
    assert c.shares == {"normal": 0.0, "suspicious": 0.5, "pathological": 0.5}
    assert c.consensus_shares == {"normal": 0.5, "suspicious": 0.5, "pathological": 0.0}
    # the others of a are b and c, who tie; the more severe answer decides
    assert (found["a"].more_severe, found["a"].less_severe) == (0, 10)


def test_reads_like_the_others_are_neither_more_nor_less_severe():
    rows = [(0, 0, 0), (1, 1, 1), (2, 2, 2)]
    assert [(row.windows, row.more_severe, row.less_severe) for row in leanings(grid(rows), OPTIONS)] == [(3, 0, 0)] * 3


def test_not_assessable_is_neither_more_nor_less_severe_than_a_category():
    (c,) = (row for row in leanings(grid([(0, 0, 3), (2, 2, 3), (1, 1, 2), (3, 3, 0)]), OPTIONS) if row.reader == "c")
    assert (c.windows, c.more_severe, c.less_severe) == (4, 1, 0)
    assert c.shares["not assessable"] == 0.5


def test_of_two_readers_the_other_is_all_and_of_three_one_other_is_too_few():
    assert [row.windows for row in leanings(grid([(0, 1), (1, 1)]), OPTIONS)] == [2, 2]
    assert [row.windows for row in leanings(grid([(0, 1, 1), (1, 1, None)]), OPTIONS)] == [1, 1, 1]


def test_kinds_have_no_order_to_lean_in():
    """Of the three reads late, late, variable one pair agrees and two do not."""
    one = kinds("late", "late", "variable")
    found = arrange(one, scale_for("decelerations", "figo-2015", one.value))
    assert [w.score for w in disagreements(found)] == pytest.approx([2 / 3])
    assert {(row.more_severe, row.less_severe) for row in leanings(found, OPTIONS)} == {(0, 0)}
    alone = kinds("late", "late")
    same = leanings(arrange(alone, scale_for("decelerations", "figo-2015", alone.value)), OPTIONS)
    assert [row.shares for row in same] == [{"late": 1.0}] * 2
    none = kinds("not assessable", "not assessable")
    refused = arrange(none, scale_for("decelerations", "figo-2015", none.value))
    assert consensus_values(refused, rule="majority", ties="none", readers_min=2).tolist() == [0.0]


def test_a_single_reader_has_no_leaning():
    (only,) = leanings(grid([(0,), (1,)]), OPTIONS)
    assert (only.windows, only.shares, only.agreement.kappa.value) == (0, {}, None)


def test_windows_furthest_apart_come_first():
    found = disagreements(grid([(0, 0, 0), (0, 2, None), (0, 1, 2), (0, 3, None), (1, None, None)]))
    assert [w.window[0] for w in found] == ["case01", "case03", "case02", "case00"]
    # three pairs half a scale, half a scale and a whole scale apart
    assert [w.score for w in found] == pytest.approx([1.0, 1.0, 2 / 3, 0.0])
    assert found[1].answers == {"a": "normal", "b": "not assessable"}
    numbers = kinds(130, 140)
    (apart,) = disagreements(arrange(numbers, scale_for("baseline_bpm", "figo-2015", [])))
    assert (apart.score, apart.answers) == (10.0, {"a": 130.0, "b": 140.0})
    acts = kinds("yes", "no")
    assert disagreements(arrange(acts, scale_for("would_act", "figo-2015", acts.value)))[0].score == 1.0


def test_months_are_counted_apart():
    rows = [(0, 0), (1, 1), (0, 1), (0, 0), (1, 0), (1, 0), (None, None)]
    months = {f"case{i:02d}": "2026-01" if i < 3 else "2026-02" for i in range(5)} | {"case06": "2026-03"}
    found = monthly_agreement(table(rows), months, item="category", standard="figo-2015", options=OPTIONS)
    agreement = {f.period: (f.windows, f.estimate.value) for f in found if f.name == "proportion_of_agreement"}
    assert agreement == {"2026-01": (3, pytest.approx(2 / 3)), "2026-02": (2, pytest.approx(1 / 2))}


def test_disclosure_moves_reads_one_way():
    """Six reads of eight rise once the outcome is known: p = 2 / 2^6 by the sign test."""
    hidden, known = table([(1, 1)] * 4 + [(3, 0)]), table([(2, 2), (2, 2), (2, 2), (1, 1), (0, None)])
    found = disclosure_shift(hidden, known, item="category", standard="figo-2015")
    assert (found.pairs, found.windows, found.same, found.more_severe, found.less_severe) == (8, 4, 2, 6, 0)
    assert found.p_two_sided == pytest.approx(2 / 2**6)
    nothing = disclosure_shift(hidden, table([(None, None)]), item="category", standard="figo-2015")
    counts = (nothing.pairs, nothing.windows, nothing.same, nothing.more_severe, nothing.less_severe)
    assert (counts, nothing.p_two_sided) == ((0,) * 5, None)
    assert nothing.note
    assert found.note is None
    alike = disclosure_shift(hidden, hidden, item="category", standard="figo-2015")
    assert (alike.pairs, alike.p_two_sided, alike.note) == (9, None, "No read changed.")
    both_ways = disclosure_shift(table([(1, 1)]), table([(2, 0)]), item="category", standard="figo-2015")
    assert (both_ways.more_severe, both_ways.less_severe, both_ways.p_two_sided, both_ways.note) == (1, 1, 1.0, None)
    no_order = disclosure_shift(*[kinds("late", "none")] * 2, item="decelerations", standard="figo-2015")
    assert (no_order.pairs, no_order.note) == (0, "Not given: the answers have no order.")


@pytest.mark.parametrize(
    ("kappa", "word"),
    [
        (None, None),
        (float("nan"), None),
        (-0.01, "poor"),
        (0.0, "slight"),
        (0.2, "slight"),
        (0.21, "fair"),
        (0.4, "fair"),
        (0.6, "moderate"),
        (0.8, "substantial"),
        (0.81, "almost perfect"),
        (1.0, "almost perfect"),
    ],
)
def test_bands(kappa, word):
    """Landis & Koch, Biometrics 1977;33:159-74; each band holds its upper end."""
    assert landis_koch_band(kappa) == word
    with pytest.raises(ValueError):
        landis_koch_band(1.01)
