"""How much is hidden, in words; the numbers are counted by hand."""

import pandas as pd

from audit.questions import hidden

COLUMNS = ["standard", "minutes", "refused_minutes", "last_minutes", "last_refused_minutes", "last_open_minutes"]


def test_a_case_says_what_is_hidden_of_signal_and_of_categories():
    rows = pd.DataFrame([["figo-2015", 120, 30, 30, 17, 0], ["nice-ng229", 120, 12, 30, 3, 4]], columns=COLUMNS)
    burden = pd.DataFrame([{"span": "last_30_min", "span_minutes": 30.0, "seen_minutes": 18.0}])
    assert hidden.of_case(rows, burden) == (
        "Of the heart rate of the last 30 minutes 40% is hidden. Last minutes without a category: FIGO 2015 17 of 30 "
        "(25% of the whole tracing); NICE NG229 3 of 30 (10% of the whole tracing), and 4 with something that cannot "
        "be said."
    )


def test_a_tracing_that_was_not_read_says_nothing():
    assert hidden.of_case(pd.DataFrame(columns=COLUMNS), pd.DataFrame(columns=["span"])) == ""
    assert hidden.of_month(pd.DataFrame(columns=["standard"])) == ""


def test_a_month_counts_tracings_unless_they_could_point_at_one():
    row = {"standard": "figo-2015", "minutes": 1000, "refused_minutes": 70, "tracings": 9, "tracings_half_hidden": 2}
    with_counts = hidden.of_month(pd.DataFrame([row]))
    assert with_counts == (
        "Without a category: FIGO 2015 7% of all minutes, half or more of the last 30 in 2 of 9 tracings."
    )
    assert hidden.of_month(pd.DataFrame([row]), with_counts=False) == "Without a category: FIGO 2015 7% of all minutes."
