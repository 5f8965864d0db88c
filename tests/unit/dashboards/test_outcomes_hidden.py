"""While outcomes are hidden no page tells them: two units that differ in the outcomes alone look the same on each page.

Why: reviewers who know the outcome read the same strip as worse (Zain 1998; Ayres-de-Campos 2011; Reif 2016).
"""

import re
import shutil
from pathlib import Path

import pytest

from audit.people import agenda
from audit.questions.trend_groups import QUESTIONS
from audit.store import database, published
from dashboards.keys import Key, ReviewKey
from dashboards.register import PAGES
from tests import page_databases
from tests.chart_specs import drawings
from tests.signing_in import sign_in

pytestmark = pytest.mark.slow  # every page twice

MONTH = "2031-04"
NAMES = [Path(page.file).stem for page in PAGES]
# signing in is kept in the log with its moment, and the log's hash follows
CHANCE = re.compile(r"Newest: [0-9a-f]+|\d{4}-\d\d-\d\d[ T]\d\d:\d\d(:\d\d)?|[0-9a-f]{16,}")
SICK = (
    "update outcomes set cord_artery_ph = 6.85, cord_artery_base_deficit_mmol_l = 18, cord_vein_ph = 6.9,"
    " cord_lactate_mmol_l = 14, apgar_1 = 1, apgar_5 = 2, apgar_10 = 3, neonatal_unit_admission = true,"
    " encephalopathy_grade = 3, died = 'neonatal_early', cooled = true, seizures = true, transferred = true"
)
WELL = (
    "update outcomes set cord_artery_ph = 7.28, cord_artery_base_deficit_mmol_l = 2, cord_vein_ph = 7.35,"
    " cord_lactate_mmol_l = 2, apgar_1 = 9, apgar_5 = 10, apgar_10 = 10, neonatal_unit_admission = false,"
    " encephalopathy_grade = 0, died = null, cooled = false, seizures = false, transferred = false"
)


@pytest.fixture(scope="module")
def units(tmp_path_factory):
    first = page_databases.small_database(tmp_path_factory.mktemp("first"))
    for case_id in ("C-001", "C-002"):
        agenda.add(first, MONTH, case_id, who="lead")
    made = {}
    for name, change in (("sick", SICK), ("well", WELL)):
        made[name] = shutil.copytree(first.parent, tmp_path_factory.mktemp(name), dirs_exist_ok=True) / first.name
        with database.open_for_writing(made[name]) as con:
            con.execute(change)
        published.required(made[name])
    return made


# the figures of every chart
OPENED = {f"{Key.TRENDS_FIGURES}_{name}": "yes" for names in QUESTIONS.values() for name in names}


def everything(page):
    """Whatever stands on a page: words, figures, tables, charts, and what can be chosen."""
    kinds = (page.title, page.header, page.subheader, page.markdown, page.caption, page.info, page.warning, page.error)
    words = [item.value for kind in (*kinds, page.success) for item in kind]
    words += [(item.label, item.value) for item in page.metric]
    words += [(box.label, tuple(box.options)) for box in (*page.selectbox, *page.multiselect)]
    words += [item.value.to_csv() for item in page.dataframe]
    words += drawings(page)
    return [CHANCE.sub("", str(item)) for item in words]


@pytest.mark.parametrize("name", NAMES)
def test_no_page_tells_an_outcome_that_nobody_opened(open_page, databases, units, name):
    found = {}
    for kind, db in units.items():
        databases[kind] = db
        page = open_page(kind, name, **(OPENED if name == "trends" else {}))
        if any(radio.key == ReviewKey.SIGN_ROLE for radio in page.radio):
            page = sign_in(page, "lead")
        if any(box.key == Key.PERIOD for box in page.selectbox):
            page.selectbox(key=Key.PERIOD).set_value(MONTH).run()
        assert not page.exception
        found[kind] = everything(page)
    assert found["sick"]
    own = [str(units[kind].parent) for kind in units]
    for sick, well in zip(found["sick"], found["well"], strict=True):
        assert sick.replace(own[0], "") == well.replace(own[1], "")


def test_the_outcomes_are_there_once_they_are_asked_for(open_page, databases, units):
    """Or the test above could not fail."""
    shown = {}
    for kind, db in units.items():
        databases[kind] = db
        page = open_page(kind, "cases_to_discuss")
        page.selectbox(key=Key.PERIOD).set_value(MONTH).run()
        page.toggle(key=Key.DISCUSS_OUTCOME).set_value(True).run()
        shown[kind] = " ".join(everything(page))
    assert "died in the first week" in shown["sick"]
    assert "died" not in shown["well"]
