"""Months and spans of months, each answer counted by hand; the macro of the queries says the same."""

import pytest

from audit import months
from audit.errors import UsageError

SPAN = "2031-04/2032-03"


@pytest.mark.parametrize(
    ("start", "span"), [("2031", "2031-01/2031-12"), ("2031-04", SPAN), ("2031-01", "2031-01/2031-12")]
)
def test_twelve_months_of_a_year_or_from_a_month_on(start, span):
    assert months.twelve(start) == span


@pytest.mark.parametrize("start", ["31", "2031-13", "2031-4", "next year", "2031-01/2031-12"])
def test_what_is_no_year_is_refused(start):
    with pytest.raises(UsageError, match="year: found"):
        months.twelve(start)


@pytest.mark.parametrize("asked", ["2031-05/2031-04", "2031-05/", "/2031-05", "2031-01/2031-02/2031-03"])
def test_a_span_names_its_first_and_its_last_month(asked):
    with pytest.raises(UsageError, match="period: found"):
        months.checked_choice(asked)


@pytest.mark.parametrize("asked", [None, "none", "2031-04", SPAN])
@pytest.mark.parametrize("period", [None, "2031-03", "2031-04", "2031-12", "2032-03", "2032-04"])
def test_code_and_queries_agree_on_what_lies_within(unit, period, asked):
    inside = {
        None: True, "none": period is None, "2031-04": period == "2031-04",
        SPAN: period in ("2031-04", "2031-12", "2032-03"),
    }[asked]  # fmt: skip
    assert months.within(period, asked) is inside
    assert unit.con.execute("select in_month(?, ?)", [period, asked]).fetchone() == (inside,)
