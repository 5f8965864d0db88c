"""Where the pages of the pack break: no heading alone at a foot, and a case of which much was said on two pages.

Common practice of typesetting ("keep with next"), no source.
"""

import io
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from audit.pack.model import Pack, Section
from audit.pack.one_case import case_pdf
from audit.pack.to_pdf import pdf_bytes
from audit.people import family_questions, findings, issues
from audit.store import database, published
from audit.tables.definition import Column, TableDefinition
from tests.page_databases import small_database

pytestmark = pytest.mark.slow

PERIOD = "2031-04"
_FOOTER_PT = 64  # 22 mm and a little
_TEXT_PT = 10.0  # what is larger is a heading
_TABLE = TableDefinition("x", (Column("what", "What"), Column("so", "So")))


def _pack(sections: tuple[Section, ...]) -> Pack:
    none = Section("")
    return Pack(PERIOD, "Pack", "2031-05-10", "a4", "footer", "caution", none, sections, (), none)


def _of_rows(number: int, rows: int) -> Section:
    table = _TABLE.filled([{"what": f"row {k}", "so": "is"} for k in range(rows)], title=f"Table {number}")
    return Section(f"Section {number}", tables=(table,))


def _lowest_text_pt(page: Any) -> float:
    """The size of what stands lowest on a page above its footer."""
    found: list[tuple[float, float]] = []

    def look(text: str, cm: Any, tm: Any, _font: Any, size: float) -> None:
        scale = abs(tm[3] * cm[3])
        y = tm[5] * cm[3] + cm[5]
        if text.strip() and y > _FOOTER_PT:
            found.append((y, size * scale))

    page.extract_text(visitor_text=look)
    return min(found)[1]


def test_no_heading_stands_alone_at_the_foot_of_a_page() -> None:
    # of 2 to 5 rows in turn, so that headings fall at every height
    sections = tuple(_of_rows(k, 2 + k % 4) for k in range(120))
    pages = PdfReader(io.BytesIO(pdf_bytes(_pack(sections)))).pages
    assert len(pages) > 8
    assert [k for k, page in enumerate(pages) if _lowest_text_pt(page) > _TEXT_PT] == []


def test_a_table_under_a_heading_of_the_same_words_has_no_second_one() -> None:
    table = _TABLE.filled([{"what": "row", "so": "is"}], title="Twice")
    (page,) = PdfReader(io.BytesIO(pdf_bytes(_pack((Section("Twice", tables=(table,)),))))).pages
    assert page.extract_text().count("Twice") == 1


def test_a_case_of_which_much_was_said_stays_on_two_pages_also_where_its_reading_is_an_old_one(tmp_path: Path) -> None:
    db = small_database(tmp_path)
    with database.open_for_writing(db) as con:
        con.execute("update tracing_states set version = '0.0.9' where case_id = 'C-001'")
    words = "Call when the pattern is seen, and say aloud what was seen, since when and what is expected of whom. "
    findings.save(db, PERIOD, "C-001", findings.Finding(learning_point=words * 2, went_well=words), who="chair")
    for _ in range(6):
        issues.add(db, PERIOD, "C-001", issues.Issue("escalated late", note=words), who="chair")
    family_questions.add(db, PERIOD, "C-001", "Who saw the strip?", answer=words * 2, who="lead")
    pages = PdfReader(io.BytesIO(case_pdf(db, published.required(db), "C-001", made_on="2031-05-10"))).pages
    assert len(pages) == 2
    assert "Out of date" in pages[0].extract_text()
    assert "more in the tables of the pack" in " ".join(pages[1].extract_text().split())
