"""The pictures of disagreement: counted by hand, and against specific agreement worked out by another road."""

import pandas as pd
import pytest

from audit.agreement.readers import WindowDisagreement
from audit.charts import disagreement as charts
from audit.questions import disagreement
from tests.chart_specs import spec_of


def window(number, score, **answers):
    return WindowDisagreement((f"K{number}", "A", 0.0, 1800.0), len(answers), score, answers)


APART = [
    window(1, 1.0, R1="normal", R2="pathological"),
    window(2, 1 / 3, R1="normal", R2="normal", R3="suspicious"),
    window(3, 0.0, R1="normal", R2="normal"),
]
ORDER = ["normal", "suspicious", "pathological"]


def test_every_two_readers_of_a_window_count_both_ways():
    assert disagreement.order_of(APART, "figo-2015") == ORDER
    rows = {(row["one"], row["other"]): row for row in disagreement.beside(APART, ORDER)}
    # by hand: normal beside normal twice 2 ways, beside suspicious twice, beside pathological once
    assert {key[1]: row["pairs"] for key, row in rows.items() if key[0] == "normal"} == {
        "normal": 4, "suspicious": 2, "pathological": 1
    }  # fmt: skip
    assert rows["pathological", "normal"]["share"] == 1.0
    assert all(rows[one, other]["pairs"] == rows[other, one]["pairs"] for one, other in rows)


def test_the_diagonal_is_the_specific_agreement_of_two_readers():
    # Cicchetti & Feinstein, J Clin Epidemiol 1990;43:551-8 (from memory): two readers, 40 and 35 agreed, 25 not:
    # positive agreement 2 x 40 / (2 x 40 + 25), negative 2 x 35 / (2 x 35 + 25)
    reads = [("yes", "yes")] * 40 + [("no", "no")] * 35 + [("yes", "no")] * 10 + [("no", "yes")] * 15
    apart = [window(k, 0.0, R1=one, R2=other) for k, (one, other) in enumerate(reads)]
    rows = {(row["one"], row["other"]): row["share"] for row in disagreement.beside(apart, ["no", "yes"])}
    assert rows["yes", "yes"] == pytest.approx(80 / 105)
    assert rows["no", "no"] == pytest.approx(70 / 95)


def test_only_windows_that_readers_differ_on_are_drawn_each_answer_with_its_letter():
    rows = disagreement.window_by_window(APART)
    assert [(row["place"], row["reader"]) for row in rows] == [(1, "R1"), (1, "R2"), (2, "R1"), (2, "R2"), (2, "R3")]
    spec = spec_of(charts.window_by_window(pd.DataFrame(rows), ORDER), checked=True)
    drawn = [row for found in spec["datasets"].values() for row in found]
    assert {(row["answer"], row["letter"]) for row in drawn} == {
        ("normal", "N"), ("suspicious", "S"), ("pathological", "P")
    }  # fmt: skip


def test_answers_without_a_colour_of_their_own_are_drawn_too():
    apart = [window(1, 1.0, R1="present", R2="absent")]
    order = disagreement.order_of(apart, "figo-2015")
    rows = pd.DataFrame(disagreement.window_by_window(apart))
    assert spec_of(charts.window_by_window(rows, order), checked=True)
    assert spec_of(charts.beside(pd.DataFrame(disagreement.beside(apart, order)), order), checked=True)
