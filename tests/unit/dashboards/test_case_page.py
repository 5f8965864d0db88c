"""The Case page: deep link, bare strip first, findings on request, clock in numbers, outcome behind a button."""

import pandas as pd
import pytest

from audit.charts.strip.rows import second_reading_rows
from audit.charts.strip.types import fitted_window
from audit.people import disclosures
from audit.store import database, published
from dashboards.keys import Key
from tests.chart_specs import strip_bytes
from tests.strip_bytes import options_and_strip

pytestmark = pytest.mark.slow  # a page run by run; that each page opens is in the quick part


def strip_of(page):
    """The options, the head and the channels of the strip that the page sends."""
    return options_and_strip(strip_bytes(page))


def shown(page):
    return " ".join(item.value for item in [*page.markdown, *page.caption])


def test_a_link_opens_its_case_and_fetus(open_page):
    page = open_page("small", "case", case="C-003", fetus="B")
    assert page.selectbox(key=Key.CASE).value == "C-003"
    assert "Case **C\\-003**, fetus **B**" in shown(page)


def test_a_link_to_a_case_that_is_not_there_says_so_and_shows_nothing_of_it(open_page):
    page = open_page("small", "case", case="<b>nobody</b>")
    assert "not in this database" in page.warning[0].value
    assert "<b>" not in page.warning[0].value
    # not another labour under the wrong address
    assert page.selectbox(key=Key.CASE).value is None
    assert "Case **" not in shown(page)
    page.selectbox(key=Key.CASE).set_value("C-002").run()
    assert page.query_params["case"] == "C-002"
    assert "Case **C\\-002**" in shown(page)


def test_a_link_to_a_fetus_that_is_not_there_says_so(open_page):
    page = open_page("small", "case", case="C-001", fetus="Z")
    assert "no tracing of fetus Z" in page.warning[0].value


def test_without_a_link_the_first_case_to_discuss_of_the_newest_month_is_opened(open_page, databases):
    with database.open_for_writing(databases["small"]) as con:
        con.execute("insert into cases (case_id, period) values ('A-001', '2031-04')")
        con.execute("update cases set period = '2031-06' where case_id = 'C-001'")  # answered late
    published.required(databases["small"])
    assert open_page("small", "case").selectbox(key=Key.CASE).value == "C-001"


def test_choosing_a_case_moves_the_address(open_page):
    page = open_page("small", "case", case="C-001")
    page.selectbox(key=Key.CASE).set_value("C-002").run()
    assert not page.exception
    assert page.query_params["case"] == "C-002"
    assert "Case **C\\-002**" in shown(page)


def test_a_case_opens_at_its_weightiest_concern(open_page):
    options, head, channels = strip_of(open_page("small", "case", case="C-001"))
    assert options["open_at_s"] == 3000.0  # recognisable at 00:50
    assert options["address"] == {"case": "C-001"}
    assert (head["start_s"], head["end_s"]) == (0.0, 5400.0)
    assert channels["fhr"].size == 5400 * 4


def test_the_clock_stands_in_numbers(open_page):
    page = open_page("small", "case", case="C-001")
    found = {metric.label: metric.value for metric in page.metric}
    assert found == {
        "Recognisable at": "00:50", "Response": "01:20", "Minutes to response": "30.0", "Target, minutes": "15",
        "Minutes to birth": "40.0",
    }  # fmt: skip
    # three standards, and three readers of that time without a clock that is late
    assert "late or unanswered under 3 of 6 clocks" in shown(page)


def test_burden_stands_beside_the_share_seen(open_page):
    page = open_page("small", "case", case="C-001")
    burden = next(table.value for table in page.dataframe if "seen_fraction" in table.value and "span" in table.value)
    assert burden["span"].tolist() == ["last 30 min", "last 60 min", "whole tracing"]
    assert burden["seen_fraction"].tolist() == [90, 95, 97]  # per cent


def test_reads_stand_side_by_side_with_the_computed_one_last(open_page):
    page = open_page("small", "case", case="C-001")
    reads = next(table.value for table in page.dataframe if "R1" in table.value)
    assert reads.columns.tolist() == ["Window", "Standard", "R1", "R2", "R3", "computed"]
    assert reads.iloc[0].tolist() == [
        "01:00 – 01:30", "FIGO 2015", "pathological", "suspicious", "pathological", "pathological",
    ]  # fmt: skip


def test_a_second_reading_stands_apart_from_the_people_and_says_what_it_is(open_page):
    page = open_page("small", "case", case="C-001")
    windows, lane = [table.value for table in page.dataframe if "suspicious_fraction" in table.value]
    assert windows.iloc[0].tolist() == [
        "01:00 – 01:30", "suspicious", "pathological",
        "differ by 1 class: lost 2% (about 20% in other windows)", 13, 50, 38, 240,
    ]  # fmt: skip
    assert lane["differs"].tolist()[1] == "agree"
    assert "Second reading (fitted on the unit's own recordings)" in shown(page)
    assert "fitted on 240 windows" in shown(page)
    assert "never instead of it" in shown(page)
    reads = next(table.value for table in page.dataframe if "R1" in table.value)
    assert "suspicious" not in reads["computed"].tolist()


def test_the_evidence_of_a_second_reading_is_what_experts_said_of_the_windows_most_like_it(open_page):
    page = open_page("small", "case", case="C-001")
    evidence = next(table.value for table in page.dataframe if "likeness_fraction" in table.value)
    assert evidence.iloc[0].tolist() == ["C-002", "00:10 – 00:40", 88, 2, 6, 1]
    assert "this window: differ by 1 class\\: lost 2%" in shown(page)  # the table cuts it off
    assert "Recording C\\-002, 00:10: the strip" in [one.label for one in page.expander]
    assert "elsewhere, 00:10: not in this database" in shown(page)


def test_the_half_hours_of_a_second_reading_are_a_row_of_the_strip_with_findings_only():
    lane = pd.DataFrame(
        [{"start_s": 3600.0, "end_s": 5400.0, "category": "suspicious", "normal_fraction": 0.1,
          "suspicious_fraction": 0.5, "pathological_fraction": 0.4, "rules_category": "normal"}]
    )  # fmt: skip
    window = fitted_window(0.0, 7200.0, 700)
    (row,) = second_reading_rows(lane, window).to_dict("records")
    assert (row["standard"], row["minute"], row["end_minute"], row["severity"]) == ("second reading", 80.0, 90.0, 2)
    assert second_reading_rows(lane, fitted_window(5400.0, 7200.0, 700)).empty


def test_without_a_second_reading_nothing_is_said_of_one(open_page):
    page = open_page("small", "case", case="C-002")
    assert "second reading" not in shown(page).lower()
    assert not any("suspicious_fraction" in table.value for table in page.dataframe)


def test_the_readings_own_notes_come_with_the_findings_and_not_with_the_bare_strip(open_page):
    page = open_page("small", "case", case="C-001")
    assert "could not see" not in shown(page)
    bare, found = strip_of(page)[0]["legend"]
    assert "could not see" not in bare
    assert "could not see or say (signal used 97% of the time): 3% of the samples hold no signal." in found
    assert "The baseline is indeterminate" in found


def test_rate_and_sensors_stand_under_the_strip(open_page):
    bare, found = strip_of(open_page("small", "case", case="C-001"))[0]["legend"]
    assert all("sampled at 4 Hz; FHR by ultrasound; toco external" in text for text in (bare, found))


def test_the_fall_as_judged_stands_beside_onset_to_nadir(open_page):
    page = open_page("small", "case", case="C-001")
    rows = next(table.value for table in page.dataframe if "judged_fall_s" in table.value)
    assert rows["onset_to_nadir_s"].tolist() == [35.0] * 12
    assert rows["judged_fall_s"].tolist()[1:] == [33.0] * 11
    assert pd.isna(rows["judged_fall_s"][0])  # not known is not 0


def test_the_outcome_is_hidden_until_it_is_opened_and_only_for_that_case(open_page):
    page = open_page("small", "case", case="C-001")
    assert not any("Measure" in table.value for table in page.dataframe)
    page.button(key=Key.OUTCOME_BUTTON).click().run()
    outcome = next(table.value for table in page.dataframe if "Measure" in table.value)
    found = dict(zip(outcome["Measure"], outcome["Fetus A"], strict=True))
    assert found["cord artery pH"] == "7.02"
    assert found["Apgar score at 1 min"] == "not given"
    page.selectbox(key=Key.CASE).set_value("C-002").run()
    assert page.button(key=Key.OUTCOME_BUTTON).label == "Open the outcome"


def test_a_failed_reading_leaves_the_bare_strip_and_says_why(open_page):
    page = open_page("small", "case", case="C-005")
    assert "failed" in page.warning[0].value
    assert "too short" in page.warning[0].value
    assert strip_of(page)
    assert "Without an analysis" in " ".join(item.value for item in page.info)


def test_a_case_without_a_tracing_says_so(open_page):
    page = open_page("odd", "case", case="no-tracing")
    assert any("No tracing is stored" in item.value for item in page.info)


def test_the_moment_the_outcome_was_opened_is_kept(open_page, databases):
    before = len(disclosures.of_case(databases["small"], "C-002"))
    page = open_page("small", "case", case="C-002")
    page.button(key=Key.OUTCOME_BUTTON).click().run()
    assert not page.exception
    kept = disclosures.of_case(databases["small"], "C-002")
    assert len(kept) == before + 1
    assert kept[-1]["place"] == "case"
