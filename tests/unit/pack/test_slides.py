"""Slides of tables with many columns, long notes and long text: nothing stands in anything, no figure is broken."""

import io

from pptx import Presentation
from pptx.util import Inches

from audit.pack import slide_shapes, text_size
from audit.pack.model import Pack, Section
from audit.pack.to_slides import pptx_bytes
from audit.tables.cases import MONTH_CASES
from audit.tables.definition import dynamic
from audit.tables.episodes import RESPONSES, STATUSES
from tests.slide_boxes import face, look_at_boxes, wide

NOTE = "In time, %: answered within the target, of all episodes that can be assessed. " * 5
FACES = [chr(code) for code in range(33, 127)] + list("–…·≥≤≈×°µß²éÄ")


def deck_of(*sections: Section):
    cover = Section("Review of 2031-04", paragraphs=("A word.",))
    pack = Pack("2031-04", "Review", "2031-05-10", "a4", "foot", "caution", cover, sections, (), Section("Methods"))
    return Presentation(io.BytesIO(pptx_bytes(pack)))


def tables_of(deck):
    return [shape.table for slide in deck.slides for shape in slide.shapes if shape.has_table]


def texts_of(slide):
    return [shape.text_frame.text for shape in slide.shapes if shape.has_text_frame]


def test_widths_of_letters_are_those_of_an_installed_face():
    for bold in (False, True):
        for letter in FACES:
            assert abs(text_size.width_pt(letter, 1000, bold=bold) - face(bold).getlength(letter)) <= 1, letter
        for words in ("Decision for birth already in force", "0.595 to 12/0, 120 of 121"):
            assert abs(text_size.width_pt(words, 14, bold=bold) * 12700 / wide(words, 14, bold) - 1) < 0.02


def test_no_figure_of_a_table_with_many_columns_is_broken_and_the_note_stands_below():
    names = ("FIGO 2015", "NICE NG229", "NICHD 2008")
    rows = [
        {"standard": name, "episodes": 120, "share": 0.595, "interval": "38 to 96", "chance": "19 (0 to 40)"}
        | dict.fromkeys(STATUSES, 12)
        for name in names
    ]
    deck = deck_of(Section("Response times", tables=(RESPONSES.filled(rows, note=NOTE),)))
    look_at_boxes(deck)
    (table,) = tables_of(deck)
    assert len(table.columns) == len(RESPONSES.columns)
    (slide,) = [slide for slide in deck.slides if NOTE in texts_of(slide)]
    note = next(shape for shape in slide.shapes if shape.has_text_frame and shape.text_frame.text == NOTE)
    frame = next(shape for shape in slide.shapes if shape.has_table)
    assert note.top >= frame.top + sum(row.height for row in table.rows)


def test_a_long_table_goes_on_with_its_note_under_the_last_row_and_loses_no_row():
    rows = [
        {"case_id": f"K{k:03}", "list": "to discuss", "reason": "late, with words enough for two lines " * (k % 4)}
        for k in range(40)
    ]  # fmt: skip
    for note in ("", NOTE, NOTE * 12):
        deck = deck_of(Section("Cases", paragraphs=("Lead. " * 60,), tables=(MONTH_CASES.filled(rows, note=note),)))
        look_at_boxes(deck)
        cases = [row.cells[0].text for table in tables_of(deck) for row in list(table.rows)[1:]]
        assert cases == [row["case_id"] for row in rows]
        if note:
            found = [slide for slide in deck.slides if any(text.startswith(note[:70]) for text in texts_of(slide))]
            assert len(found) == 1


def test_slides_of_one_part_are_filled_alike_and_short_tables_share_one():
    short = dynamic("short", ["what"]).filled([{"what": "row"}] * 3, title="Short")
    long = dynamic("long", ["what"]).filled([{"what": "row"}] * 17, title="Long")
    deck = deck_of(Section("Tables", tables=(long, short, short)))
    look_at_boxes(deck)
    tables = [[len(shape.table.rows) - 1 for shape in slide.shapes if shape.has_table] for slide in deck.slides]
    assert [rows for rows in tables if rows] == [[9], [8, 3], [3]]
    paragraphs = ("words of methods and sources " * 12,) * 9
    texts = [max(map(len, texts_of(slide))) for slide in deck_of(Section("Text", paragraphs=paragraphs)).slides]
    assert [round(length / len(paragraphs[0])) for length in texts if length > 300] == [5, 4]


def test_words_wider_than_a_slide_are_broken_but_the_table_stays_on_it():
    headings = [f"heading{k}" for k in range(12)]
    row = {name: "unbroken" * 4 for name in headings}
    (table,) = tables_of(deck_of(Section("Wide", tables=(dynamic("wide", headings).filled([row]),))))
    assert sum(column.width for column in table.columns) <= Inches(12.34)
    assert table.rows[1].height >= 3 * 14 * 12700


def test_long_text_goes_on_to_further_slides_and_a_text_that_is_cut_says_so():
    paragraphs = tuple(f"Paragraph {k}: " + "words of methods and sources " * 12 for k in range(12))
    deck = deck_of(Section("Methods in full", paragraphs=paragraphs))
    look_at_boxes(deck)
    whole = "\n".join(text for slide in deck.slides for text in texts_of(slide))
    assert all(paragraph in whole for paragraph in paragraphs)
    cut = slide_shapes.cut("one two three " * 200, int(Inches(1)), 14)
    assert cut.endswith(" …")
    assert slide_shapes.box_height(cut, 14) <= Inches(1) < slide_shapes.box_height(cut + " three one two three" * 9, 14)
    assert slide_shapes.cut("one two", int(Inches(1)), 14) == "one two"


def test_a_long_title_is_set_smaller_and_stays_above_the_rest():
    look_at_boxes(deck_of(Section("A title of very many words " * 7, paragraphs=("Text. " * 300,))))
