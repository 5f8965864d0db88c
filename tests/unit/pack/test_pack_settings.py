"""Every key of the pack's settings changes what is printed: the pages, the strips, or which cases have pages."""

import dataclasses
import tomllib
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from audit.pack import strips
from audit.pack.agenda import agenda_of
from audit.pack.build import gather
from audit.pack.options import PackOptions
from audit.people import agenda
from audit.questions.case_file import load_case
from audit.settings import PACKAGED_FILE, load_settings
from audit.store import database, published
from tests.page_databases import small_database

pytestmark = pytest.mark.slow  # a pack for each key

PERIOD = "2031-04"
PACKAGED = PackOptions.of(load_settings())
PAGES: dict[str, Any] = {"standard": "nichd-2008", "min_cell": 2}
STRIPS: dict[str, Any] = {
    "cm_per_min": 2.0,
    "bpm_per_cm": 30.0,
    "toco_cm": 2.5,
    "row_minutes": 10.0,
    "before_minutes": 5.0,
    "after_minutes": 5.0,
    "last_minutes": 20.0,
}
CASES: dict[str, Any] = {"cases_most": 1, "cases_without_agenda": 0}
REACH = {"year_begins", "outside_units"}  # which reports there are: test_reach.py


@pytest.fixture(scope="module")
def db(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_database(tmp_path_factory.mktemp("unit"))


def test_every_key_is_tried() -> None:
    table = tomllib.loads(PACKAGED_FILE.read_text(encoding="utf-8"))["pack"]
    assert set(PAGES) | set(STRIPS) | set(CASES) | REACH == set(table)


@pytest.mark.parametrize("key", PAGES)
def test_another_value_prints_other_pages(db: Path, key: str) -> None:
    outside = PACKAGED.changed(for_outside=True)  # without cases, which take longest
    packs = [gather(db, published.required(db), period=PERIOD, options=options, made_on="2031-05-10", workers=1)
             for options in (outside, replace(outside, **{key: PAGES[key]}))]  # fmt: skip
    assert packs[0] != packs[1]


@pytest.mark.parametrize("key", STRIPS)
def test_another_value_prints_other_strips(db: Path, key: str) -> None:
    with database.open_for_reading(db) as con:
        case = load_case(con, "C-001")
    assert case is not None
    # the last stretch is printed where the standard has no concern, and at the unit's own scale where two rows do
    standard = "figo-2015" if key in ("before_minutes", "after_minutes") else "figo-1986"
    if key == "after_minutes":
        case = dataclasses.replace(case, end_s=case.end_s + 3600)  # its concern lasts until its end
    short = replace(PACKAGED, row_minutes=20.0, last_minutes=15.0)
    drawn = [
        (strips.scale_words(case, standard, options), strips.strip_pictures(case, standard, options)[0].svg)
        for options in (short, replace(short, **{key: STRIPS[key]}))
    ]
    assert drawn[0] != drawn[1]


@pytest.mark.parametrize("key", CASES)
def test_another_value_gives_other_cases_a_page(db: Path, tmp_path: Path, key: str) -> None:
    unit = tmp_path / "unit.duckdb"  # what people wrote stands beside the database, so each has its own agenda
    if key == "cases_most":
        for case_id in ("C-001", "C-003"):
            agenda.add(unit, PERIOD, case_id, who="lead")
    with database.open_for_reading(db) as con:
        before, after = (agenda_of(unit, con, load_settings(), PERIOD, options)
                         for options in (PACKAGED, replace(PACKAGED, **{key: CASES[key]})))  # fmt: skip
    assert len(after) == CASES[key] < len(before)
