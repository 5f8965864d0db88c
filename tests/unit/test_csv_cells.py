"""Tables as CSV: no cell is a formula, unknown is empty, numbers stay numbers."""

import csv
import io
from decimal import Decimal

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.csv_cells import csv_text, safe_cell


# Source: OWASP, 'CSV injection': = + - @ tab and carriage return start a formula
@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\tx", "\rx", " =1+1"])
def test_text_that_starts_like_a_formula_gets_an_apostrophe(text):
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize(
    ("value", "cell"),
    [(-1.5, -1.5), (3, 3), (True, True), (None, None), (float("nan"), None), (pd.NaT, None), (np.float64(2.5), 2.5),
     (np.int64(-7), -7), (["a", "=b"], "a; =b"), (["=b"], "'=b"), (np.array(["x", "y"]), "x; y"), ("plain", "plain")],
)  # fmt: skip
def test_other_values_pass(value, cell):
    assert safe_cell(value) == cell


# what begins a formula, what ends a cell or a row, and letters
@given(st.text(alphabet=" =+-@\t\r\n,;'\"x1é\u00a0\uff1d", max_size=8))
def test_whatever_the_text_no_cell_begins_like_a_formula(text):
    written = next(iter(csv.reader(io.StringIO(csv_text(["a"], [["x"], [text]]), newline=""))), None)
    assert written == ["a"]
    assert not str(safe_cell(text)).lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))


def test_rows_become_text_with_safe_headings():
    found = csv_text(["=a", "b"], [["=1+1", Decimal("-1.50")], [None, float("nan")]])
    assert found == "'=a,b\r\n'=1+1,-1.50\r\n,\r\n"
