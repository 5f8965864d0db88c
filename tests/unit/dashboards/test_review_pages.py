"""The pages on which people write, without a browser: sentences, privacy, what is hidden until it is opened."""

from pathlib import Path

import pytest

from audit.people import (
    accounts,
    actions,
    agenda,
    agreed,
    batches,
    disclosures,
    family_questions,
    findings,
    issues,
    log,
    meetings,
    phases,
    reads,
    strip_marks,
    undo,
)
from audit.people.batches import Plan, Window
from audit.people.reads import Read
from audit.store import database
from dashboards.keys import ReviewKey
from dashboards.register import READER_AGREEMENT
from tests import page_databases
from tests.chart_specs import strip_bytes
from tests.signing_in import sign_in
from tests.strip_bytes import options_and_strip

pytestmark = pytest.mark.slow  # a page run by run; that each page opens is in the quick part


@pytest.fixture
def own(databases, tmp_path):
    """A small database of this test alone, because these tests write."""
    databases["own"] = page_databases.small_database(tmp_path)
    return databases["own"]


def words(page):
    return " ".join(item.value for item in [*page.markdown, *page.caption, *page.info, *page.error, *page.success])


def test_meeting_opens_the_outcome_only_when_asked_and_keeps_the_moment(open_page, own):
    agenda.add(own, "2031-04", "C-001", who="lead", question="Earlier?")
    page = sign_in(open_page("own", "meeting"), "chair")
    page.selectbox(key="period").set_value("2031-04").run()
    page.segmented_control(key="meeting_step_C-001").set_value("4 Outcome").run()
    assert "Hidden until the chair opens it" in words(page)
    assert "cord artery" not in str([frame.value for frame in page.dataframe])
    page.button(key="meeting_open_outcome_C-001").click().run()
    assert [row["place"] for row in disclosures.of_case(own, "C-001")] == ["meeting"]
    assert "cord artery pH" in str([frame.value for frame in page.dataframe])


def test_a_familys_question_is_brought_from_the_case_and_answered_at_the_meeting(open_page, own):
    (Path(own).parent / "unit_settings.toml").write_text("[meeting]\nfamily_questions = true\n")
    page = open_page("own", "case", case="C-001")
    page.text_input(key="family_question_2031-04_C-001").set_value("Why so late?")
    page.button(key="family_add_2031-04_C-001").click().run()
    (row,) = family_questions.in_period(own, "2031-04")
    agenda.add(own, "2031-04", "C-002", who="lead")
    page = sign_in(open_page("own", "meeting"), "chair")
    page.selectbox(key="period").set_value("2031-04").run()
    assert "not on the agenda: C-001" in page.warning[0].value.replace("\\", "")
    agenda.add(own, "2031-04", "C-001", who="lead")
    page.run()
    page.selectbox(key="meeting_case_2031-04").set_value("C-001").run()
    assert "Why so late? – not yet answered" in words(page).replace("\\", "")
    page.text_input(key=f"family_answer_{row['question_id']}").set_value("Theatre was busy")
    page.button(key=f"family_save_{row['question_id']}").click().run()
    assert [row["answer"] for row in family_questions.in_period(own, "2031-04")] == ["Theatre was busy"]
    assert "Why so late? – Theatre was busy" in words(page).replace("\\", "")


def test_the_agenda_is_put_in_order_and_the_case_comes_up_at_its_concern(open_page, own):
    for case_id in ("C-002", "C-001", "C-003"):
        agenda.add(own, "2031-04", case_id, who="lead")
    page = sign_in(open_page("own", "meeting"), "chair")
    page.selectbox(key="period").set_value("2031-04").run()
    page.button(key="up_C-001").click().run()
    page.button(key="off_agenda_C-003").click().run()
    assert [row["case_id"] for row in agenda.items(own, "2031-04")] == ["C-001", "C-002"]
    page.selectbox(key="meeting_case_2031-04").set_value("C-001").run()
    assert "Case 1 of 2: C" in page.header[0].value
    with database.open_for_reading(own) as con:
        (recognisable_s,) = con.execute(
            "select min(recognisable_s) from responses where case_id = 'C-001' and standard = 'figo-2015'"
        ).fetchone()
    assert options_and_strip(strip_bytes(page))[0]["open_at_s"] == recognisable_s


def test_the_meetings_clock_takes_its_minute_from_a_mark_and_stands_on_the_strip_of_both_pages(open_page, own):
    agenda.add(own, "2031-04", "C-001", who="lead")
    strip_marks.add(own, "C-001", "A", 2850.0, "here", who="chair")
    page = sign_in(open_page("own", "meeting"), "chair")
    page.selectbox(key="period").set_value("2031-04").run()
    place = "2031-04_C-001_A_figo-2015"
    page.selectbox(key=f"agreed_mark_for_{place}").set_value("recognisable").run()
    page.button(key=f"agreed_take_{place}").click().run()
    assert page.text_input(key=f"agreed_recognisable_{place}").value == "47.5"
    page.selectbox(key=f"agreed_category_{place}").set_value("pathological")
    page.button(key=f"agreed_save_{place}").click().run()
    assert not page.exception
    assert agreed.by_case(own, "figo-2015")["C-001"]["A"].recognisable_s == 2850.0
    for shown in (page, open_page("own", "case", case="C-001")):  # at once, with no further run
        lane = options_and_strip(strip_bytes(shown))[0]["agreed"]
        assert [(row["minute"], row["role"], row["text"]) for row in lane] == [(47.5, "point", "recognisable")]
    page.selectbox(key=f"agreed_kind_{place}").set_value("deceleration")
    page.button(key=f"agreed_mark_{place}").click().run()
    assert "found nothing in From minute and To minute" in " ".join(each.value for each in page.error).replace("\\", "")
    page.selectbox(key=f"agreed_kind_{place}").set_value("deceleration")
    page.text_input(key=f"agreed_mark_from_{place}").set_value("9000.0")  # the tracing ends long before
    page.text_input(key=f"agreed_mark_to_{place}").set_value("9005.0")
    page.button(key=f"agreed_mark_{place}").click().run()
    assert not page.exception
    said = "Added fall, minute 9000.0 to 9005.0: no rate or no baseline was seen there, so it was not counted."
    assert said in words(page).replace("\\", "")


def test_case_page_keeps_the_moment_too(open_page, own):
    page = open_page("own", "case", case="C-001")
    assert disclosures.of_case(own, "C-001") == []
    page.button(key="outcome_button").click().run()
    assert [(row["opened_by"], row["place"]) for row in disclosures.of_case(own, "C-001")] == [("unit", "case")]


def test_what_one_person_alone_saw_in_a_list_is_kept_once(open_page, own):
    page = open_page("own", "cases_to_discuss")
    page.toggle(key="discuss_outcome").set_value(True).run().run()
    (shown,) = [row for row in log.entries(own) if row["subject"] == "outcomes"]
    assert (shown["who"], shown["deed"]) == ("unit", "opened")
    assert "C-004" in shown["new"]


def test_a_change_of_practice_is_entered_and_taken_back(open_page, own):
    page = sign_in(open_page("own", "actions"), "lead")
    for month, kept in (("May", []), ("2031-05", [("2031-05", "night round")])):
        page.text_input(key="phase_from").set_value(month)
        page.text_input(key="phase_label").set_value("night round")
        page.button(key="phase_add").click().run()
        assert not page.exception
        assert [(row["from_period"], row["label"]) for row in phases.everything(own)] == kept
    page.button(key=f"phase_off_{phases.everything(own)[0]['phase_id']}").click().run()
    assert phases.everything(own) == []


def test_a_finding_with_an_identifier_is_refused_in_words(open_page, own):
    agenda.add(own, "2031-04", "C-001", who="lead")
    page = sign_in(open_page("own", "meeting"), "chair")
    page.selectbox(key="period").set_value("2031-04").run()
    page.text_input(key="finding_learning_point_2031-04_C-001").set_value("born 12/03/2031")
    page.button(key="finding_save_C-001").click().run()
    assert "calendar date" in words(page)
    assert findings.in_period(own, "2031-04") == {}


@pytest.mark.slow
def test_a_reader_sees_their_own_leaning_and_the_lead_sees_all(open_page, own):
    for role, code, expected in (("reader", "R1", ["R1"]), ("reader", "NEW", None), ("lead", "", "all")):
        page = sign_in(open_page("own", "read_strips", period="2031-04"), role, code)
        page.switch_page(READER_AGREEMENT.file).run()
        assert not page.exception
        shown = [box.options for box in page.selectbox if box.key == ReviewKey.AGREEMENT_READER]
        if expected is None:
            assert shown == []
        elif expected == "all":
            assert len(shown[0]) > 1
        else:
            assert shown == [expected]


def test_the_chair_is_shown_no_leaning(open_page, own):
    page = sign_in(open_page("own", "reader_agreement", period="2031-04"), "chair")
    assert [box for box in page.selectbox if box.key == ReviewKey.AGREEMENT_READER] == []
    assert "A reader sees their own leaning" in words(page)


def test_a_pin_keeps_a_code_to_its_owner(open_page, own):
    accounts.make(own, "reader", "R1", pin="4711")
    page = open_page("own", "read_strips", several=True)
    page.radio(key="sign_in_role").set_value("reader").run()
    page.text_input(key="sign_in_code").set_value("R1").run()
    page.button(key="sign_in_button").click().run()
    assert "does not belong" in words(page)


def test_the_lead_makes_follows_and_closes_a_batch(open_page, own):
    agenda.add(own, "2031-04", "C-001", who="lead")
    page = sign_in(open_page("own", "read_strips"), "lead")
    page.selectbox(key="period").set_value("2031-04").run()
    page.text_input(key="batch_readers").set_value("R1 R2")
    page.button(key="batch_make").click().run()
    assert "Batch 1 is made" in words(page)
    held = {row["case_id"] for row in batches.windows(own, 1)}
    assert "C-001" in held
    page.button(key="close_1").click().run()
    assert not page.exception
    assert batches.one(own, 1)["state"] == "closed"


def test_a_name_instead_of_a_code_makes_no_batch(open_page, own):
    agenda.add(own, "2031-04", "C-001", who="lead")
    page = sign_in(open_page("own", "read_strips"), "lead")
    page.selectbox(key="period").set_value("2031-04").run()
    page.text_input(key="batch_readers").set_value("Anna.Berg")
    page.button(key="batch_make").click().run()
    assert "never a person's name" in words(page)
    assert batches.everything(own) == []


def test_notes_are_off_unless_the_unit_turns_them_on(open_page, own):
    plan = Plan("April", "figo-2015", (Window("C-001", "A", 1800.0, 3600.0),), ("R1",), seed=1)
    batches.make(own, plan, who="lead")
    page = sign_in(open_page("own", "read_strips"), "reader", "R1")
    assert [box for box in page.text_input if "Note" in box.label] == []
    (Path(own).parent / "unit_settings.toml").write_text("[meeting]\nreader_notes = true\n")
    page.run()
    assert len([box for box in page.text_input if "Note" in box.label]) == 1


def test_an_informed_batch_shows_the_outcome_and_a_blind_one_does_not(open_page, own):
    for shown in (False, True):
        plan = Plan(
            f"reads, outcome shown: {shown}",
            "figo-2015",
            (Window("C-001", "A", 1800.0, 3600.0),),
            ("R1",),
            outcome_shown=shown,
            seed=1,
        )
        number = batches.make(own, plan, who="lead")
        page = sign_in(open_page("own", "read_strips"), "reader", "R1")
        assert ("How it ended" in str([head.value for head in page.header])) is shown
        reads.save(own, number, 1, "R1", Read("normal"))
        batches.close(own, number, who="lead")


def test_a_batch_is_made_for_the_month_that_is_chosen_not_for_the_one_before(open_page, own):
    """Half as many controls as cases of the month's agenda, two at least, and the month in the batch's name."""
    for case_id in ("C-001", "C-002", "C-003", "C-004", "C-005", "C-006", "C-007", "C-008"):
        agenda.add(own, "2031-04", case_id, who="lead")
    page = sign_in(open_page("own", "read_strips"), "lead")

    def made_for(month):
        page.selectbox(key="period").set_value(month).run()
        return page.text_input(key="batch_name").value, page.number_input(key="batch_controls").value

    assert made_for("2031-05") == ("Blind reads 2031-05", 2)
    assert made_for("2031-04") == ("Blind reads 2031-04", 4)
    assert made_for("2031-05") == ("Blind reads 2031-05", 2)
    agenda.remove(own, "2031-04", "C-001", who="lead")
    agenda.remove(own, "2031-04", "C-002", who="lead")
    assert made_for("2031-04") == ("Blind reads 2031-04", 3)


def meeting_of(open_page, own, case):
    for case_id in ("C-001", "C-002"):
        agenda.add(own, "2031-04", case_id, who="lead")
    page = sign_in(open_page("own", "meeting", case=case), "chair")
    return page.selectbox(key="period").set_value("2031-04").run()


def test_another_month_is_chosen_while_the_address_names_a_case_of_the_former_one(open_page, own):
    agenda.add(own, "2031-05", "C-001", who="lead")
    page = meeting_of(open_page, own, "C-001")
    page.button(key=ReviewKey.MEETING_NEXT).click().run()
    assert any("Case 2 of 2" in header.value for header in page.header)
    page.query_params["case"] = "C-002"  # as the strip in the browser does
    page.selectbox(key="period").set_value("2031-05").run()
    assert not [warning for warning in page.warning if "agenda" in warning.value]
    assert any("Case 1 of 1" in header.value for header in page.header)


def test_a_link_to_a_case_that_is_not_on_the_agenda_shows_no_other_one(open_page, own):
    page = meeting_of(open_page, own, "C-404")
    assert any("not on this agenda" in warning.value for warning in page.warning)
    assert not [header for header in page.header if "Case" in header.value]
    page.button(key="forget_link").click().run()
    assert any("Case 1 of 2" in header.value for header in page.header)


def test_a_link_begins_the_meeting_at_its_case(open_page, own):
    page = meeting_of(open_page, own, "C-002")
    assert any("Case 2 of 2" in header.value for header in page.header)
    page.button(key="meeting_former").click().run()
    assert any("Case 1 of 2" in header.value for header in page.header)
    page.button(key="off_agenda_C-002").click().run()
    page.query_params["case"] = "C-002"  # the browser's back button
    page.run()
    assert not [warning for warning in page.warning if "agenda" in warning.value]
    assert any("Case 1 of 1" in header.value for header in page.header)


def test_the_meeting_notes_who_was_there_issues_and_a_grade_and_takes_them_back(open_page, own):
    agenda.add(own, "2031-04", "C-001", who="lead")
    page = sign_in(open_page("own", "meeting"), "chair")
    page.selectbox(key="period").set_value("2031-04").run()
    assert page.radio(key="finding_grade_2031-04_C-001").disabled
    page.number_input(key="meeting_role_midwife_2031-04").set_value(3)
    page.button(key="meeting_held_2031-04").click().run()
    assert "No quorum: 3 present" in words(page)
    page.text_input(key="issue_note_2031-04_C-001_0").set_value("seen at 03:26, said at 03:58")
    page.button(key="issue_save_2031-04_C-001_0").click().run()
    assert [row["note"] for row in issues.in_period(own, "2031-04")] == ["seen at 03:26, said at 03:58"]
    page.segmented_control(key="meeting_step_C-001").set_value("4 Outcome").run()
    page.button(key="meeting_open_outcome_C-001").click().run()
    page.radio(key="finding_grade_2031-04_C-001").set_value("2")
    page.button(key="finding_save_C-001").click().run()
    assert findings.in_period(own, "2031-04")["C-001"].care_grade == "2"
    for _ in range(3):
        page.button(key=f"undo_{undo.of_meeting(own, '2031-04')[0]['entry']}").click().run()
        assert not page.exception
    assert findings.in_period(own, "2031-04")["C-001"].care_grade is None
    assert issues.in_period(own, "2031-04") == []
    assert meetings.of(own, "2031-04").attendance == {}
    # the forms show what stands again, not what was typed
    assert [box.value for box in page.radio if box.label.startswith("Care grade")] == ["not decided"]
    assert [box.value for box in page.number_input if box.label == "Midwife"] == [0]


def test_actions_shows_what_became_of_a_measure_that_one_should_move_and_nothing_before(open_page, own):
    plain = sign_in(open_page("own", "actions"), "lead")
    assert "What became of them" not in [heading.value for heading in plain.subheader]
    aim = actions.Aim("cases_with_concern", "fall", "2031-04")
    actions.add(own, "2031-03", "Round every hour", owner_role="lead", due_period="2031-04", who="chair", aim=aim)
    page = sign_in(open_page("own", "actions"), "lead")
    page.selectbox(key="period").set_value("2031-04").run()
    assert not page.exception
    assert "What became of them" in [heading.value for heading in page.subheader]
    assert "too early to say" in str([frame.value.to_dict() for frame in page.dataframe])
    # the measures rest on readings, so the page says how old these are
    assert any("missing or out of date" in said.value for said in page.warning)
