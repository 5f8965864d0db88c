"""Pages and pack of a unit with decimal commas, Letter paper and words of its own: none of ours is left to read."""

import html
import re

import pytest
from google.protobuf.json_format import MessageToDict
from pypdf import PdfReader

from audit import house_style
from audit.pack.build import write_pack
from audit.pack.own_process import folder_of
from audit.settings import UNIT_FILE_NAME
from tests.page_databases import small_database
from tests.unit.dashboards.conftest import FILES

pytestmark = pytest.mark.slow

# invented
_OWN = """
[locale]
decimal = ","
thousands = " "
date = "07/04/2031"
paper = "us-letter"
[locale.events]
senior_called = "Oberarzt gerufen"
decision_for_birth = "Entschluss gefasst"
iv_fluid_bolus = "Infusion"
position_change = "Lagewechsel"
oxytocin_started = "Wehentropf an"
oxytocin_stopped = "Wehentropf aus"
epidural = "PDA"
[locale.categories]
normal = "im Rahmen"
suspicious = "auffallend"
pathological = "krankhaft"
"not assessable" = "ohne Urteil"
[locale.roles]
lead = "Leitung"
"""
# a figure with a point (no version, which has two), a month or day written our way, a word of ours
_OURS = re.compile(
    r"(?<![\d.])\d+\.\d+(?!\.)|\b\d{4}-\d\d\b|senior called|decision for birth|IV fluid|position change|oxytocin st"
    r"|epidural|pathological|suspicious|not assessable|\bnormal\b",
    re.IGNORECASE,
)
# what nobody reads: what is looked up by, drawings (see test_house_style.py of charts), the style of the page
_NOT_READ = {
    "id",
    "elementId",
    "columns",
    "columnOrder",
    "data",
    "queryString",
    "url",
    "formId",
    "key",
    "value",
    "min",
    "max",
}
_NO_TEXT = {"html", "bidi_component"}


@pytest.fixture
def unit(tmp_path, databases, monkeypatch):
    db = small_database(tmp_path)
    (tmp_path / UNIT_FILE_NAME).write_text(_OWN, encoding="utf-8")
    monkeypatch.setitem(databases, "own words", db)
    former = house_style.in_force()
    yield db
    house_style.use(former)


def read(value, name=""):
    if isinstance(value, dict):
        for key, below in value.items():
            if key not in _NOT_READ:
                yield from read(below, key)
    elif isinstance(value, list):
        for below in value:
            yield from read(below, name)
    elif isinstance(value, str):
        yield value


def texts(node):
    for child in getattr(node, "children", {}).values():
        if (proto := getattr(child, "proto", None)) is not None and child.type not in _NO_TEXT:
            yield from read(MessageToDict(proto))
        yield from texts(child)


@pytest.mark.parametrize("page", sorted(FILES))
def test_a_page_has_no_word_of_ours(unit, open_page, page):
    found = list(texts(open_page("own words", page)._tree))
    assert [text for text in found if _OURS.search(text)] == []
    if page in ("case", "response_times"):
        assert any("04/2031" in text for text in found)
    if page == "case":
        assert any("krankhaft" in text.lower() for text in found)


def test_a_pack_has_no_word_of_ours(unit):
    written = {file.name: file for file in write_pack(unit, period="2031-04", out=folder_of(unit), workers=1).files}
    page = re.sub(r"(?s)<style>.*?</style>", "", written["pack_2031-04.html"].read_text(encoding="utf-8"))
    drawn = html.unescape(" ".join(re.findall(r">([^<]+)<", page)))  # the texts of drawings among them
    pdf = PdfReader(written["pack_2031-04.pdf"])
    printed = "\n".join(one.extract_text() for one in pdf.pages)
    # names of settings are names: the methods list those that the unit changed
    for text in (drawn, printed):
        said = re.sub(r"locale\.[\w.]+(\s*\"[^\"]*\")?", "", text)
        assert [said[max(0, m.start() - 40) : m.end() + 20] for m in _OURS.finditer(said)] == []
        assert "krankhaft" in text.lower()
        assert "04/2031" in text
        assert "129\u202f600" in text  # rows of a file
    assert [float(side) for side in pdf.pages[0].mediabox[2:]] == [612.0, 792.0]  # Letter, in points: 8.5 by 11 in
    cases = written["clock.csv"].read_text(encoding="utf-8-sig")
    assert ";" in cases.splitlines()[0]
    assert not _OURS.search(cases)
