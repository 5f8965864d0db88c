"""A frame becomes the rows of a specification as Altair's own way makes them, only sooner."""

import math
import sys
from concurrent.futures import ThreadPoolExecutor

import altair as alt
import numpy as np
import pandas as pd
import pytest

from audit.charts.unchecked import plain_rows, unchecked
from tests.chart_specs import spec_of

FRAMES = {
    "numbers and gaps": pd.DataFrame({"bpm": [140.0, np.nan, math.inf], "n": [1, 2, 3]}),
    "words and truth": pd.DataFrame({"text": ["a", None, "c"], "late": [True, False, True]}),
    "missing whole numbers": pd.DataFrame({"n": pd.array([1, None], dtype="Int64")}),
    "no rows": pd.DataFrame({"bpm": pd.Series([], dtype=float)}),
    "lists": pd.DataFrame({"dash": [[2, 2], [1, 0]]}),
    "words of a category": pd.DataFrame({"kind": pd.Categorical(["late", "early"])}),
}


@pytest.mark.parametrize("name", FRAMES)
def test_rows_are_those_of_the_library(name: str) -> None:
    assert plain_rows(FRAMES[name]) == alt.to_values(FRAMES[name])


def test_a_specification_holds_the_rows() -> None:
    chart = alt.Chart(FRAMES["numbers and gaps"]).mark_point().encode(x=alt.X("n:Q"), y=alt.Y("bpm:Q"))
    (rows,) = spec_of(chart, checked=True)["datasets"].values()
    assert rows == [{"bpm": 140.0, "n": 1}, {"bpm": None, "n": 2}, {"bpm": None, "n": 3}]


def test_threads_that_draw_at_once_leave_the_library_as_it_was() -> None:
    """Two sessions, or a session and what is worked out beforehand: one put back what the other had just registered."""
    chart = alt.Chart(FRAMES["numbers and gaps"]).mark_point().encode(x="n:Q")
    before, quickly = alt.data_transformers.active, sys.getswitchinterval()

    def drawn(name: str) -> None:
        with unchecked():
            alt.data_transformers.register(name, plain_rows)
            with alt.data_transformers.enable(name):
                chart.to_dict()

    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(4) as threads:
            assert list(threads.map(drawn, ["one", "other"] * 20)) == [None] * 40
    finally:
        sys.setswitchinterval(quickly)
    assert alt.data_transformers.active == before
