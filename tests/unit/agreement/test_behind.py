"""The windows behind a figure are those that the figure counts, with the answers that it compares; counted by hand."""

import numpy as np
from msgspec.structs import replace

from audit.agreement import behind
from audit.agreement.document import agreement_document
from audit.agreement.reads import ReadsTable, arrange
from audit.agreement.scales import scale_for
from audit.settings import load_settings

OPTIONS = replace(load_settings().agreement, draws=20)
READS = [  # window, reader, occasion, answer
    (1, "a", 1, "normal"), (1, "b", 1, "normal"), (1, "c", 1, "pathological"),
    (2, "a", 1, "suspicious"), (2, "b", 1, "pathological"), (2, "a", 2, "normal"),
    (3, "a", 1, "not assessable"), (3, "b", 1, "normal"), (3, "c", 1, "normal"),
    (4, "c", 1, "normal"), (4, "c", 2, "normal"),
]  # fmt: skip
COMPUTED = {("k1", "A", 0.0, 9.0): "suspicious", ("k4", "A", 0.0, 9.0): "normal"}


def reads():
    window, reader, occasion, value = zip(*READS, strict=True)
    n = len(READS)
    return ReadsTable([f"k{k}" for k in window], ["A"] * n, [0.0] * n, [9.0] * n, reader, occasion, value)


def grid():
    table = reads()
    return arrange(table, scale_for("category", "figo-2015", table.value))


def told(rows):
    return [(row.window[0], row.first, row.second) for row in rows]


def test_each_figure_has_its_windows_those_that_differ_most_first():
    a_and_b = [("k3", "not assessable", "normal"), ("k2", "suspicious", "pathological"), ("k1", "normal", "normal")]
    assert told(behind.of_pair(grid(), "a", "b")) == a_and_b
    assert told(behind.of_repeats(grid(), "a")) == [("k2", "suspicious", "normal")]
    # two readers at least make a consensus: of the others only windows 1 and 3 have one for c
    assert told(behind.of_reader(grid(), "c", OPTIONS)) == [
        ("k1", "pathological", "normal"),
        ("k3", "normal", "normal"),
    ]
    answers = np.array([1.0, np.nan, np.nan, 0.0])
    assert told(behind.of_computed(grid(), answers, OPTIONS)) == [("k1", "normal", "suspicious")]

    # a again, knowing the outcome: 'not assessable' has no place in the order
    again = ["normal", "pathological", "normal"]
    known = ReadsTable(["k1", "k2", "k3"], ["A"] * 3, [0.0] * 3, [9.0] * 3, ["a"] * 3, [1] * 3, again)
    assert told(behind.of_disclosure(grid(), arrange(known, grid().scale))) == [
        ("k2", "suspicious", "pathological"),
        ("k1", "normal", "normal"),
    ]


def test_as_many_windows_stand_behind_a_figure_as_it_counts():
    found = agreement_document(
        reads(), item="category", standard="figo-2015", period=None, options=OPTIONS, computed=COMPUTED
    )
    for pair in found["pairs"]:
        rows = behind.of_pair(grid(), pair["reader_a"], pair["reader_b"])
        assert pair["windows"] == len(rows)
        assert pair["agreement"] == sum(row.first == row.second for row in rows) / len(rows)
    for row in found["repeat_reads"]:
        assert row["windows"] == len(behind.of_repeats(grid(), row["reader"]))
