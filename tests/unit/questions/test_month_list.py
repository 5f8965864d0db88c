"""The list of all cases: what it is narrowed by, why each case is on it, and that it keeps outcomes to itself."""

import pytest

from audit.questions import cases_to_discuss, counted, month_list, trend_groups
from audit.settings import load_settings
from audit.store import database, published
from tests import page_databases

pytestmark = pytest.mark.slow

APRIL = "2031-04"


def listed(db, *, with_outcome=False, period=APRIL, change=None, figures=()):
    if change:
        with database.open_for_writing(db) as con:
            con.execute(change)
        published.required(db)
    found = published.source(db)
    settings = load_settings()
    with published.open_for_reading(found) as con:
        discussed = cases_to_discuss.document(con, settings, period=period, with_outcome=with_outcome)
        return month_list.document(con, settings, discussed, period=period, standard="figo-2015", figures=figures)


@pytest.fixture
def db(tmp_path):
    return page_databases.small_database(tmp_path)


def test_every_case_is_on_one_list_and_says_why(db):
    rows = listed(db, period=None)
    assert [row["case_id"] for row in rows] == ["C-001", "C-002", "C-003", "C-004", "C-005"]
    assert all(row["list"] and row["reason"] for row in rows)


def test_a_filter_of_the_concern_and_one_of_the_case_narrow_the_list_together(db):
    rows = listed(db)
    late = month_list.chosen(rows, {"answer": month_list.DELAYED_WORDS})
    assert [row["case_id"] for row in late] == ["C-001"]  # the one late answer of page_databases
    assert month_list.chosen(rows, {"answer": month_list.DELAYED_WORDS, "shift": "day"}) == []
    assert [row["case_id"] for row in month_list.chosen(rows, {"shift": "night"})] == ["C-001"]


def test_what_is_asked_of_a_concern_must_hold_for_one_and_the_same():
    concern = {"trigger": ["a", month_list.ANY], "answer": ["answered late"], "stage": ["first"]}
    other = {"trigger": ["b", month_list.ANY], "answer": ["answered in time"], "stage": ["first"]}
    row = {"case_id": "K1", "facets": {}, "concerns": [concern, other]}
    assert month_list.chosen([row], {"trigger": "a", "answer": "answered late"}) == [row]
    assert month_list.chosen([row], {"trigger": "b", "answer": "answered late"}) == []
    assert month_list.chosen([row], {"trigger": month_list.ANY, "answer": "answered late"}) == [row]


def test_a_case_is_found_by_the_category_of_any_of_its_minutes_and_by_its_worst(db):
    rows = listed(db)
    assert [row["case_id"] for row in month_list.chosen(rows, {"category": "suspicious"})] == ["C-002", "C-003"]
    assert len(month_list.chosen(rows, {"any_category": "suspicious"})) == 3
    assert [row["case_id"] for row in month_list.chosen(rows, {"any_category": "pathological"})] == ["C-001"]


@pytest.mark.parametrize("name", [name for names in trend_groups.QUESTIONS.values() for name in names])
def test_what_is_behind_a_point_can_be_asked_of_the_list(db, name):
    rows = listed(db)
    for facet, value in trend_groups.behind(name).items():
        assert value in month_list.options(rows, facet)


@pytest.mark.parametrize(
    ("name", "cases"),  # counted by hand in page_databases
    [
        (counted.ON_OXYTOCIN, ["C-001", "C-002", "C-003"]),  # C-004 has none, C-005 was not read
        (counted.ASSESSED, []),
        (counted.decided("caesarean", "all"), ["C-001"]),
        (counted.decided("caesarean", "category 1"), ["C-001"]),
        (counted.decided("caesarean", "category 2"), []),
        (counted.signal_words(0.97), ["C-001", "C-002", "C-003", "C-004"]),
        (counted.signal_words(None), ["C-005"]),
        (counted.READ, ["C-001"]),
        # by the changes of `everything_counted`: 15 of C-002's last 30 minutes, and 14 of C-003's, have no category
        (counted.HALF_HIDDEN, ["C-002"]),
        (counted.AUSCULTATED, ["C-003", "C-004"]),
        (counted.auscultated("epidural"), ["C-004"]),
        (counted.auscultated(None), ["C-003"]),
    ],
)
def test_a_figure_leads_to_the_cases_that_it_counts(everything_counted, name, cases):
    found = month_list.chosen(everything_counted, {"counted": name})
    assert [row["case_id"] for row in found] == cases


@pytest.fixture(scope="module")
def everything_counted(tmp_path_factory):
    change = """
        update minute_categories set category = 'not assessable'
        where (case_id = 'C-002' and at_s > 75 * 60) or (case_id = 'C-003' and at_s > 76 * 60);
        update cases set monitored_because = 'epidural' where case_id = 'C-004';
        update cases set auscultated_until_s = -60 where case_id = 'C-003';
    """
    db = page_databases.small_database(tmp_path_factory.mktemp("unit"))
    return listed(db, period=None, figures=month_list.COUNTED, change=change)


def test_a_file_leads_to_the_cases_of_which_it_brought_something(everything_counted):
    """By page_databases: one file of tracings, of all five labours; files of cases stand together."""
    brought = {
        name: month_list.chosen(everything_counted, {"file": name}) for name in ("tracings.csv", counted.OF_CASES)
    }
    assert [len(rows) for rows in brought.values()] == [5, 5]
    assert counted.file_words("cases.csv", "cases") == counted.OF_CASES
    assert month_list.chosen(everything_counted, {"file": "names.csv"}) == []  # refused: nothing of it is stored


def test_a_step_of_the_wait_leads_to_the_labours_that_came_to_it(everything_counted):
    """By hand in page_databases: two labours have a concern, and each concern's first part is until recognition."""
    found = month_list.chosen(everything_counted, {"step": counted.came_to("recognisable"), "trigger": month_list.ANY})
    assert [row["case_id"] for row in found] == ["C-001", "C-002"]


def test_a_span_of_months_has_the_cases_born_in_it_and_none_without_a_month():
    rows = [{"case_id": k, "period": period} for k, period in enumerate(["2031-03", "2031-04", "2031-05", None])]
    assert [row["case_id"] for row in month_list.born(rows, "2031-04", "2031-05")] == [1, 2]
    assert [row["case_id"] for row in month_list.born(rows, None, "2031-04")] == [0, 1]
    assert len(month_list.born(rows, None, None)) == 4


def test_figures_are_asked_for_only_where_one_led_to_the_list(db):
    rows = listed(db)
    assert not any(name in row["facets"] for row in rows for name in month_list.COUNTED)


@pytest.mark.parametrize(("share", "step"), [(0.0, 0), (0.1, 1), (0.2999, 2), (0.3, 3), (0.7, 7), (1.0, 9)])
def test_a_share_on_the_edge_of_two_bars_is_in_the_upper_and_all_of_it_in_the_last(share, step):
    assert counted.signal_step(share) == step
    assert counted.signal_words(share).startswith(f"signal used {10 * step}–")


def test_a_value_that_no_case_has_lists_none(db):
    assert month_list.chosen(listed(db), {"mode": "by stork"}) == []
    assert month_list.chosen(listed(db), {"outcome": "died"}) == []  # while outcomes are hidden nobody is found by one


@pytest.mark.parametrize("with_outcome", [False, True])
def test_the_list_changes_with_the_outcome_only_when_it_was_opened(db, tmp_path, with_outcome):
    sick = "update outcomes set died = 'neonatal_early', cooled = true, cord_artery_ph = 6.8"
    well = "update outcomes set died = null, cooled = false, cord_artery_ph = 7.3, apgar_5 = 10"
    found = [listed(db, with_outcome=with_outcome, change=change) for change in (sick, well)]
    assert (found[0] != found[1]) is with_outcome
    if with_outcome:
        died = {row["case_id"] for row in month_list.chosen(found[0], {"outcome": "died"})}
        assert died == {row["case_id"] for row in found[0] if "not recorded" not in row["facets"]["outcome"]}
        assert died
