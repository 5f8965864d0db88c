"""Shares of the unit's births, counted by hand. Wilson: Newcombe, Stat Med 1998;17:857-72, table I (81 of 263)."""

import pytest

from audit.questions import coverage


def month(small, period="2031-03", births=263, **more):
    small.insert("unit_months", **({"period": period, "unit": "", "births": births} | more))


def test_coverage_and_shares_of_births(unit):
    for case_id in ("c1", "c2", "c3"):
        unit.case(case_id)
    unit.tracing("c1")
    unit.tracing("c2")
    month(unit, continuously_monitored=4, caesareans=81, deaths=0)
    found = coverage.document(unit.con, "2031-03")
    assert found["sentence"] == "2 of 4 monitored labours imported, 263 births in all."
    section = next(row for row in found["shares"] if row["what"] == "caesareans")
    assert (section["low"], section["high"]) == pytest.approx((0.2553, 0.3662), abs=5e-5)
    assert [row["what"] for row in found["shares"]] == ["monitored continuously", "caesareans", "deaths"]
    assert [row["what"] for row in coverage.document(unit.con, "2031-03", with_outcome=False)["shares"]] == [
        "monitored continuously", "caesareans"
    ]  # fmt: skip
    outside = coverage.suppressed(unit.con, found, "2031-03", least=5)
    assert [row["count"] for row in outside["shares"]] == ["hidden", 81, 0]
    # 4 monitored and 2 with a tracing are small, in words as in the table
    assert outside["sentence"] == "263 births in all."


def test_sites_are_added_and_what_one_lacks_is_not_given(unit):
    month(unit, births=10, unit="U1", caesareans=3, auscultated=2)
    month(unit, births=20, unit="U2", caesareans=4)
    month(unit, "2031-04", births=30, caesareans=5, auscultated=9)
    found = coverage.document(unit.con, None)
    assert (found["months"], found["births"]) == (2, 60)
    assert [(row["what"], row["count"]) for row in found["shares"]] == [("caesareans", 12)]
    assert found["sentence"] == "0 labours with a tracing imported, 60 births in all."


def test_more_imported_than_counted_is_said_and_nothing_counted_says_nothing(unit):
    unit.case("c1")
    unit.tracing("c1")
    assert coverage.document(unit.con, "2031-03") == {
        "months": 0, "births": 0, "sentence": None, "switched": [], "shares": []
    }  # fmt: skip
    month(unit, births=5, continuously_monitored=0)
    assert "one of the two is wrong" in coverage.document(unit.con, "2031-03")["sentence"]


def test_where_auscultation_ended_is_counted_by_reason_and_a_lone_small_reason_hides_another(unit):
    reasons = ["epidural"] * 7 + ["meconium"] * 6 + ["oxytocin"] * 2 + [None]
    for k, why in enumerate(reasons):
        unit.case(f"c{k}", auscultated_until_s=-600.0, monitored_because=why)
    unit.case("c98")
    unit.case("c99", period="2031-04", monitored_because="bleeding")
    found = coverage.document(unit.con, "2031-03")
    assert coverage.switched_words(found) == (
        "Auscultation gave way to continuous monitoring in 16 labours: epidural 7, meconium 6, oxytocin 2, no reason"
        " given 1."
    )
    # 2 and 1 are small, and their sum too: the 6 goes with them
    outside = coverage.suppressed(unit.con, found, "2031-03", least=5)
    assert [row["labours"] for row in outside["switched"]] == [7, "hidden", "hidden", "hidden"]
    assert "16" not in str(coverage.switched_words(outside))
    assert (
        coverage.switched_words(
            coverage.suppressed(unit.con, coverage.document(unit.con, "2031-04"), "2031-04", least=5)
        )
        is None
    )
    assert coverage.switched_words(coverage.document(unit.con, "2031-05")) is None


def outside(unit, period):
    found = coverage.suppressed(unit.con, coverage.document(unit.con, period), period, least=5)
    return {row["what"]: row["count"] for row in found["shares"]}


def test_few_births_tell_nothing_and_a_year_not_how_many_they_were(unit):
    month(unit, "2031-03", births=40, caesareans=9)
    month(unit, "2031-04", births=3, caesareans=0)
    for period in ("2031-04", "2031-03/2031-04"):
        found = coverage.suppressed(unit.con, coverage.document(unit.con, period), period, least=5)
        assert (found["births"], found["sentence"], found["shares"]) == ("hidden", None, [])


def test_a_years_reasons_for_monitoring_tell_no_month(unit):
    """By hand: of epidurals 9 less 6 would be April's 3, so the smallest other reason goes with them."""
    for k, (period, why) in enumerate([("2031-03", "epidural")] * 6 + [("2031-03", "meconium")] * 8
                                      + [("2031-04", "epidural")] * 3 + [("2031-04", "meconium")] * 7
                                      + [("2031-04", "bleeding")] * 9):  # fmt: skip
        unit.case(f"c{k}", period=period, monitored_because=why)
    asked = "2031-03/2031-04"
    found = coverage.suppressed(unit.con, coverage.document(unit.con, asked), asked, least=5)
    assert [(row["reason"], row["labours"]) for row in found["switched"]] == [
        ("bleeding", 9), ("epidural", "hidden"), ("meconium", "hidden")
    ]  # fmt: skip


def test_one_urgency_alone_is_not_told_by_all_caesareans(unit):
    parts = {f"caesareans_category_{k}": count for k, count in enumerate((3, 20, 10, 17), start=1)}
    month(unit, caesareans=50, **parts)
    found = outside(unit, "2031-03")
    assert [found[f"caesareans of urgency {k}"] for k in (1, 2, 3, 4)] == ["hidden", 20, "hidden", 17]


def test_a_year_less_its_other_months_tells_no_month_that_is_hidden(unit):
    """By hand: 3 of one month alone would be 33 less 30; with a second hidden month 7 are told of the two together."""
    month(unit, "2031-03", neonatal_unit_admissions=30)
    month(unit, "2031-04", neonatal_unit_admissions=3)
    admitted = "newborns admitted to a neonatal unit"
    assert outside(unit, "2031-04")[admitted] == "hidden"
    assert outside(unit, "2031-03/2031-04")[admitted] == "hidden"
    month(unit, "2031-05", neonatal_unit_admissions=4)
    assert outside(unit, "2031-03/2031-05")[admitted] == 37
    # what was told up to here would give June away
    month(unit, "2031-06", neonatal_unit_admissions=1)
    assert outside(unit, "2031-03/2031-06")[admitted] == "hidden"
    assert outside(unit, "2031-05/2031-06")[admitted] == "hidden"
