"""The pages on a database that holds summaries of two units and no labour.

What each unit told is written by hand, so that what the pages must say of both follows by adding up.
"""

import pytest

from audit.settings import load_settings
from audit.store import database, published, summaries
from tests.unit.questions.test_merged_by_hand import by_hand
from tests.unit.questions.test_summary import SETTINGS

pytestmark = pytest.mark.slow
# of 10 windows with two reads each 6 agree under U1, of 10 under U2 all
PAIRS = {"U1": {("normal", "normal"): 6, ("normal", "suspicious"): 4}, "U2": {("normal", "normal"): 10}}


def told(unit, minutes):
    rows = [
        {"period": "2031-03", "standard": "figo-2015", "family": family, "reads": 2, "category_a": a, "category_b": b,
         "pairs": count}
        for family in ("nominal", "ordered")
        for (a, b), count in PAIRS[unit].items()
    ]  # fmt: skip
    wait = {"period": "2031-03", "standard": "figo-2015", "trigger": "pathological", "target_minutes": 10.0,
            "status": "in_time", "wait_minutes": 4.0, "ended_by": "response", "episodes": 3}  # fmt: skip
    return by_hand(unit, "2031-03", [100.0, 300.0], minutes, (3, 3, [1, 2], [3, 3])) | {
        "agreement": rows, "waits": [wait],
    }  # fmt: skip


@pytest.fixture
def merged(databases, tmp_path):
    db = databases["empty"]
    files = []
    for unit, minutes in (("U1", [20.0, 40.0]), ("U2", [25.0])):
        files.append(tmp_path / f"{unit}.json")
        summaries.write(told(unit, minutes), files[-1], None)
    with database.open_for_writing(db) as con:
        found = [summaries.read(file, None, load_settings().import_.reader_pattern) for file in files]
        assert summaries.merge(con, found, settings_sha256=SETTINGS.sha256).added == 2
    published.required(db)
    return db


def cells(page):
    return {str(cell) for table in page.dataframe for column in table.value for cell in table.value[column]}


def texts(page):
    shown = (page.markdown, page.caption, page.info, page.header)
    return " ".join(item.value for items in shown for item in items).replace("\\", "")


def test_the_pages_say_what_both_units_told(merged, open_page):
    asked = {"period": "2031-03", "standard": "figo-2015"}
    waits = open_page("empty", "response_times", **asked)
    assert "3 labours of merged summaries are in the shares and cannot be listed" in texts(waits)
    agreement = open_page("empty", "reader_agreement", **asked)
    assert "All units together" in texts(agreement)
    assert "counts of 20 pairs of reads" in texts(agreement)
    # 16 of 20 pairs agree
    assert any("0.8" in cell or "80" in cell for cell in cells(agreement)), cells(agreement)
    for page in ("this_month", "case", "data_quality"):
        said = texts(open_page("empty", page, **asked))
        assert "20 labours of merged summaries are in none of these figures" in said
        assert "no cases yet" not in said
        assert "analysed yet" not in said
        assert "imported yet" not in said
    for page in ("trends", "cases_to_discuss"):
        open_page("empty", page, **asked)
