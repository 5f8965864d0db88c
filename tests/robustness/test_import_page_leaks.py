"""What the Import page shows, keeps and logs of files whose names, sheets, headings, comments and cells name a person.

The kinds are those of `tests/identifier_corpus.py` (45 CFR 164.514(b)(2)(i)). The page may show numbers, the words of
our vocabulary and the shape of the rest; a mapping that is kept names columns by their place.
"""

import io
from pathlib import Path

import openpyxl
import pytest
from openpyxl.comments import Comment

from audit.commands import take_in as process
from audit.intake.looked_at import looked_at
from audit.people import log, take_in
from audit.settings import load_settings
from audit.store import database
from audit.tables import files_in
from tests.identifier_corpus import identifiers

# one of each kind, in letters long enough not to stand in a file by chance
NAMES = list(dict.fromkeys(cell for kind, cell in reversed(identifiers()) if kind != "time of day" and len(cell) > 6))
PLANTED = NAMES[:: len(NAMES) // 40]
OF_FILES = [name for name in PLANTED if not set(name) & set('/\\:*?"<>|\n\t')]


def workbook(name: str) -> bytes:
    """A list of ours whose sheet, comment, properties, further column and refused cells name somebody."""
    book = openpyxl.Workbook()
    book.properties.creator = book.properties.title = name
    sheet = book.active
    sheet.title = "".join(letter for letter in name if letter not in "[]:*?/\\'")[:31]
    sheet.append(["case_id", "period", "cord_artery_ph", name])
    sheet["A1"].comment = Comment(name, name)
    for k, cell in enumerate(PLANTED):
        sheet.append([f"T{k}", "2031-09", 7.12, cell])
        sheet.append([cell, "2031-09", cell, ""])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def of_another_system(name: str) -> bytes:
    """A table that needs a mapping, with names in headings that nobody needs, in codes and in coded words."""
    rows = [f"Fallnummer;Geburtsmonat;NA-pH;{name};Geburtsmodus"]
    rows += [f"{cell};2031-09;7,2{k % 10};{cell};{cell}" for k, cell in enumerate(PLANTED) if ";" not in cell]
    return "\n".join(rows).encode()


def without(text: str, name: str) -> None:
    lowered = text.casefold()
    assert [cell for cell in PLANTED if cell.casefold() in lowered] == [], name


@pytest.mark.parametrize("make", [workbook, of_another_system])
def test_what_the_page_says_of_a_file_holds_no_name(make) -> None:
    for name in (OF_FILES[0], OF_FILES[-1]):
        ending = "xlsx" if make is workbook else "csv"
        looked = looked_at(f"{name}.{ending}", make(name), load_settings())
        for found in looked:
            shown = "\n".join([found.said, found.place, found.mapping, *found.lines()])
            if found.proposal is not None:
                shown += found.proposal.toml("ward")
            without(shown, name)
    assert looked[0].proposal is not None or make is workbook


def test_what_the_page_took_in_leaves_no_name_in_table_state_log_or_copy(tmp_path: Path) -> None:
    db = tmp_path / "unit.duckdb"
    with database.open_for_writing(db):
        pass
    files = {f"{name}.xlsx": workbook(name) for name in OF_FILES[:2]}
    files |= {f"{OF_FILES[2]}.csv": of_another_system(OF_FILES[2])}
    take_in.start(db, files, who="lead", run=lambda _: 0)
    now = process.run(db)
    assert now.stage == "done"
    tables = [
        files_in.TAKEN.filled(files_in.taken(now.report)),
        files_in.KEPT_OUT.filled(files_in.kept_out(now.report)),
    ]
    without(repr([tables, now, take_in.words(now, 0), log.entries(db)]), "page")
    with database.open_for_reading(db) as con:
        assert con.execute("select count(*) from cases where case_id like 'T%'").fetchone()[0] == len(PLANTED)
        names = [row[0] for row in con.execute("select table_name from duckdb_tables()").fetchall()]
        without(repr([con.execute(f"select * from {table}").fetchall() for table in names]), "tables")
    for file in tmp_path.rglob("*"):
        if file.is_file():
            without(f"{file.name} " + file.read_bytes().decode("latin-1"), file.name)
