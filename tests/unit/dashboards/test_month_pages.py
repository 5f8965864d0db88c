"""One value a reader would act on, for each page about a month. Figures counted by hand in tests/page_databases.py."""

import pandas as pd
import pytest

from audit.people import actions, agenda
from audit.questions.trend_groups import QUESTIONS
from audit.store import database
from dashboards.data import ALL_MONTHS
from dashboards.keys import Key
from dashboards.month.response_times_parts import AS_IT_WAS, GONE_ON
from dashboards.register import RESPONSE_TIMES
from tests.chart_specs import drawings
from tests.page_databases import small_database

pytestmark = pytest.mark.slow  # a page run by run; that each page opens is in the quick part


def metrics(page):
    return {metric.label: metric.value for metric in page.metric}


def table_with(page, column):
    """The table that has a column."""
    return next(table.value for table in page.dataframe if column in table.value)


def choose_april(page):
    page.selectbox(key=Key.PERIOD).set_value("2031-04").run()
    assert not page.exception
    return page


def test_this_month_counts_labours_tracings_and_late_answers(open_page):
    page = choose_april(open_page("small", "this_month"))
    found = metrics(page)
    assert found["Labours"] == "3"
    assert found["Tracings"] == "4"  # one twin pair
    assert found["Signal used"] == "97%"
    assert found["Late or no response"] == "1 of 2"


def test_no_share_in_time_stands_without_that_of_chance(open_page):
    page = choose_april(open_page("small", "this_month"))
    said = [caption.value for caption in page.caption if "By the deciding clock" in caption.value]
    assert len(said) == 1
    assert "% in time; by chance" in said[0]
    page = choose_april(open_page("small", "response_times"))
    assert list(table_with(page, "half_answered_min")["chance"]) == ["not known"]  # the fixture stores no shifts
    assert any(caption.value.startswith("By chance, %: ") for caption in page.caption)


def test_this_month_says_what_is_missing(open_page):
    page = open_page("small", "this_month")  # opens on the newest month, 2031-05: C-004 and C-005
    missing = table_with(page, "item")
    found = dict(zip(missing["item"], missing["cases"], strict=True))
    assert found["care events"] == 1  # C-004
    assert found["outcome (cord gas or Apgar score)"] == 1  # C-005
    assert found["analysis of every tracing"] == 1  # C-005 failed
    assert found["reads by a reader"] == 2


def test_cases_without_a_month_are_offered_as_such(open_page):
    page = open_page("odd", "this_month")
    options = page.selectbox(key=Key.PERIOD).options
    assert options == ["2031-04", "no month given", "all months"]
    page.selectbox(key=Key.PERIOD).set_value("none").run()
    assert not page.exception
    assert metrics(page)["Labours"] == "2"


def test_the_chosen_month_and_standard_stay_from_page_to_page(open_page):
    page = choose_april(open_page("small", "this_month"))
    page.selectbox(key=Key.STANDARD).set_value("nice-ng229").run()
    page.switch_page(RESPONSE_TIMES.file).run()
    assert page.selectbox(key=Key.PERIOD).value == "2031-04"
    assert page.selectbox(key=Key.STANDARD).value == "nice-ng229"


def test_response_times_show_share_within_target_with_its_denominator(open_page):
    page = choose_april(open_page("small", "response_times"))
    found = metrics(page)
    assert found["Concern episodes"] == "2"
    assert found["Answered within target"] == "1 of 2"
    assert found["Share within target"] == "50%"
    # Wilson 95 % interval of 1 of 2: 0.0945 to 0.9055 (Newcombe 1998, formula by hand)
    assert "95 % interval 9% to 91%" in [text.value for text in page.caption]


def test_response_times_can_be_narrowed_to_a_shift(open_page):
    page = choose_april(open_page("small", "response_times"))
    page.selectbox(key=Key.RESPONSE_SHIFT).set_value("night").run()
    assert metrics(page)["Answered within target"] == "0 of 1"
    assert page.query_params[Key.RESPONSE_SHIFT] == "night"
    episodes = table_with(page, "response_event")
    assert episodes["case_id"].tolist() == ["C-001"]
    assert episodes["minutes_to_response"].tolist() == [30.0]


def test_response_times_list_late_ones_first(open_page):
    page = choose_april(open_page("small", "response_times"))
    assert table_with(page, "response_event")["status"].tolist() == ["answered late", "answered in time"]


def test_the_list_of_episodes_tells_the_first_escalation(open_page):
    page = choose_april(open_page("small", "response_times"))
    episodes = table_with(page, "response_event").set_index("case_id")
    assert episodes["escalation_event"].tolist() == ["senior called", "none recorded"]  # C-002: nobody was called
    assert episodes.loc["C-001", "minutes_to_escalation"] == 15.0
    assert pd.isna(episodes.loc["C-002", "minutes_to_escalation"])


def curve_of(page):
    """The curves as they are drawn."""
    return next(svg for svg in drawings(page) if "minutes since" in svg)


def test_the_curve_had_the_concern_gone_on_is_a_choice_with_its_sentence(open_page):
    page = choose_april(open_page("small", "response_times"))
    assert page.session_state[Key.RESPONSE_CURVE] == AS_IT_WAS
    assert ">share answered<" in curve_of(page)
    page.query_params[Key.RESPONSE_CURVE] = GONE_ON  # an address that was sent, or the browser's back button
    page.run()
    assert not page.exception
    assert ">share that would be answered<" in curve_of(page)
    shown = [text.value for text in page.caption]
    assert any("would be answered by each minute had the concern gone on" in text for text in shown)
    assert not any("Aalen" in text for text in shown)
    page.selectbox(key=Key.RESPONSE_GROUP).set_value("shift").run()
    assert not page.exception
    assert ">day<" in curve_of(page)
    assert ">night<" in curve_of(page)


def test_decision_to_birth_counts_what_is_not_known_apart(open_page):
    page = choose_april(open_page("small", "response_times"))
    shares = table_with(page, "share_30").set_index(["urgency", "births"])
    # C-001 decided at 01:00 with category 1, incision at 01:20, born at 01:30
    first = shares.loc[("category 1", "caesarean")]
    assert (first["labours"], first["known"], first["unknown"]) == (1, 1, 0)
    assert (first["within_30"], first["share_30"], first["within_75"]) == (1, 100, 1)
    # Wilson 95 % interval of 1 of 1: 0.2065 to 1 (Newcombe 1998, formula by hand), shown as whole per cent
    assert (first["low_30"], first["high_30"]) == (21, 100)
    # C-003: the decision is noted after the birth, so no interval is known
    other = shares.loc[("not given", "other than caesarean")]
    assert (other["labours"], other["known"], other["unknown"]) == (1, 0, 1)
    labours = table_with(page, "decision_to_incision_minutes").set_index("case_id")
    assert labours.loc["C-001", "decision_to_incision_minutes"] == 20.0
    assert labours.loc["C-001", "decision_to_birth_minutes"] == 30.0
    assert labours.loc["C-003", "within_30"] == "not known"
    assert "after the birth" in labours.loc["C-003", "note"]
    assert any("NICE NG192" in text.value and "from memory" in text.value for text in page.caption)


def test_decision_to_birth_follows_month_and_shift(open_page):
    page = choose_april(open_page("small", "response_times"))
    page.selectbox(key=Key.RESPONSE_SHIFT).set_value("night").run()
    assert table_with(page, "decision_to_incision_minutes")["case_id"].tolist() == ["C-001"]
    page = open_page("small", "response_times")  # 2031-05: no concern episode and no decision
    told = [item.value for item in page.info]
    assert any("No concern episode" in text for text in told)
    assert any("No decision for birth was noted" in text for text in told)


def test_cases_to_discuss_lead_to_the_case_and_keep_the_outcome_hidden(open_page):
    page = choose_april(open_page("small", "cases_to_discuss"))
    # but for the explained terms, which speak of outcomes in general
    shown = " ".join(text.value for text in page.markdown if not text.value.startswith("- **"))
    assert "late" in shown
    assert "7\\.02" not in " ".join(text.value for text in page.markdown)
    assert "outcome" not in shown
    page.toggle(key=Key.DISCUSS_OUTCOME).set_value(True).run()
    assert "7\\.02" in " ".join(text.value for text in page.markdown)


def test_a_case_goes_to_the_agenda_and_comes_off_again(open_page, databases):
    page = choose_april(open_page("small", "cases_to_discuss"))
    page.text_input(key=f"{Key.DISCUSS_QUESTION}_C-001").set_value("Who was called, and when?").run()
    page.button(key="on_C-001").click().run()
    assert not page.exception
    listed = agenda.items(databases["small"], "2031-04")
    assert [(row["case_id"], row["question"]) for row in listed] == [("C-001", "Who was called, and when?")]
    page.number_input(key=Key.DRAW_SIZE).set_value(1).run()
    page.button(key=Key.DRAW).click().run()
    (drawn,) = (row for row in agenda.items(databases["small"], "2031-04") if row["drawn_from"])
    assert any(f"1 case of {drawn['drawn_from']}" in text.value for text in page.markdown)
    agenda.remove(databases["small"], "2031-04", drawn["case_id"], who="lead")
    page.button(key="off_C-001").click().run()
    assert agenda.items(databases["small"], "2031-04") == []


def every_figure_opened():
    """What stands in the address of Trends once the figures of every chart are opened."""
    return {f"{Key.TRENDS_FIGURES}_{name}": "yes" for names in QUESTIONS.values() for name in names}


def test_trends_have_a_point_or_a_reason_for_each_month(open_page):
    page = open_page("small", "trends", **every_figure_opened())
    tables = [table.value for table in page.dataframe if "reason" in table.value]
    assert len(tables) >= 8
    for table in tables:
        assert (table["value"].notna() | table["reason"].notna()).all()


def test_bands_stand_on_trends_only_where_the_unit_switched_them_on(databases, open_page, tmp_path, monkeypatch):
    db = small_database(tmp_path)
    with database.open_for_writing(db) as con:
        con.execute("update cases set age_band = 'under_20' where case_id = 'C-001'")
    monkeypatch.setitem(databases, "own", db)
    assert "Equity" not in [head.value for head in open_page("own", "trends").header]
    for begins, says in ((4, "No reporting year is over"), (5, "Whole reporting years alone")):
        (tmp_path / "unit_settings.toml").write_text(
            f"[equity]\ncompare = true\n[pack]\nyear_begins = {begins}\n", encoding="utf-8"
        )
        page = open_page("own", "trends")
        assert "Equity" in [head.value for head in page.header]
        assert says in " ".join(caption.value for caption in page.caption)
    bands = table_with(page, "half_answered_min")
    assert set(bands["band"]) == {"under 20", "not given"}
    assert "acidosis" not in " ".join(bands["measure"]).lower()  # nobody asked for outcomes


def test_data_quality_lists_rejects_with_reasons(open_page):
    page = open_page("small", "data_quality")
    page.toggle(key="quality_outcome").set_value(True).run()  # the small unit's remarks are on outcomes
    rejects = next(table.value for table in page.dataframe if "row_number" in table.value)
    assert rejects["reason"].tolist() == [
        "found 72.1, expected 6.5 to 7.7", "found 400, expected 20 to 45", "found text, expected a number",
    ]  # fmt: skip
    imports = next(table.value for table in page.dataframe if "rows_accepted" in table.value)
    assert imports["outcome"].tolist() == ["refused", "stored", "stored"]


def test_data_quality_names_failed_and_stale_readings(open_page):
    page = open_page("small", "data_quality")
    failed = next(t.value for t in page.dataframe if list(t.value.columns) == ["case_id", "fetus", "period", "reason"])
    assert failed["case_id"].tolist() == ["C-005"]
    assert failed["reason"].tolist() == ["ValueError: too short"]
    stale = next(t.value for t in page.dataframe if list(t.value.columns) == ["case_id", "fetus", "reason"])
    assert stale["case_id"].tolist() == ["C-004", "C-005"]  # hand-filled rows: no input hash fits
    page.selectbox(key="period").set_value(ALL_MONTHS).run()
    stale = next(t.value for t in page.dataframe if list(t.value.columns) == ["case_id", "fetus", "reason"])
    assert len(stale) == 6


@pytest.mark.parametrize("name", ["this_month", "response_times", "cases_to_discuss"])
def test_every_table_of_a_page_can_be_downloaded(open_page, name):
    page = choose_april(open_page("small", name))
    buttons = page.get("download_button")
    assert buttons
    assert {button.proto.label for button in buttons} == {"Table as CSV"}


def test_this_month_says_what_waits(open_page, databases):
    agenda.add(databases["small"], "2031-05", "C-004", who="lead")
    actions.add(
        databases["small"], "2031-04", "Drill for the night team", owner_role="lead midwife", due_period="2031-04",
        who="lead",
    )  # fmt: skip
    page = open_page("small", "this_month")
    waits = next(table.value for table in page.dataframe if list(table.value.columns) == ["what", "state", "page"])
    assert dict(zip(waits["what"], waits["state"], strict=True)) == {
        "agenda": "1 case", "findings": "0 of 1 cases have one",
        "action: Drill for the night team (lead midwife)": "overdue since 2031-04, open",
    }  # fmt: skip
    agenda.remove(databases["small"], "2031-05", "C-004", who="lead")


def test_pages_answer_while_a_command_holds_the_database(open_page, databases):
    with database.open_for_writing(databases["small"]):
        page = choose_april(open_page("small", "this_month"))
        assert metrics(page)["Labours"] == "3"
