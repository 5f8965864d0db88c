"""Boxes of text and tables on a slide, each as high as what it holds."""

from collections.abc import Sequence
from typing import Any

from pptx.dml.color import RGBColor
from pptx.enum.text import MSO_ANCHOR, PP_ALIGN
from pptx.util import Emu, Inches, Pt

from audit.pack import text_size
from audit.tables.definition import Table

WIDTH, HEIGHT = Inches(13.333), Inches(7.5)
MARGIN = Inches(0.5)
ROOM = WIDTH - 2 * MARGIN
TABLE_PT = 14
_INK = RGBColor(0x1B, 0x1F, 0x24)
_EMU_PER_PT = 12700
_BOX_SIDES, _BOX_ENDS = Inches(0.2), Inches(0.1)  # what a box of text leaves free by itself
_CELL_SIDES, _CELL_ENDS = Inches(0.12), Inches(0.06)
_HAIR = Inches(0.04)  # programs round the width of a word, each in its own way
_TYPICAL = 44  # letters: a longer text is broken into lines rather than given a column of its whole length


def text_room_pt(width: int = ROOM) -> float:
    """Room for a line of text in a box so wide (EMU)."""
    return float(width - _BOX_SIDES - _HAIR) / _EMU_PER_PT


def box_height(text: str, size: int, *, width: int = ROOM, bold: bool = False, space_after: int = 0) -> int:
    """Height of a box that holds the text (EMU)."""
    high = text_size.height_pt(text, text_room_pt(width), size, bold=bold, after_pt=space_after)
    return int(high * _EMU_PER_PT + _BOX_ENDS)


def cut(text: str, height: int, size: int, *, space_after: int = 0) -> str:
    """As much of a text as fits into a box so high (EMU)."""
    most_pt = (height - _BOX_ENDS) / _EMU_PER_PT
    return text_size.fitting(text, text_room_pt(ROOM), most_pt, size, after_pt=space_after)


def box(
    slide: Any,
    text: str,
    *,
    top: int,
    size: int,
    left: int = MARGIN,
    width: int = ROOM,
    bold: bool = False,
    space_after: int = 0,
) -> int:
    """A box of text, as high as it; where it ends (EMU)."""
    height = box_height(text, size, width=width, bold=bold, space_after=space_after)
    frame = slide.shapes.add_textbox(Emu(left), Emu(top), Emu(width), Emu(height)).text_frame
    frame.word_wrap = True
    for index, line in enumerate(text.split("\n")):
        paragraph = frame.paragraphs[0] if index == 0 else frame.add_paragraph()
        paragraph.text = line
        paragraph.space_after = Pt(space_after)
        _letters(paragraph, size, bold)
    return top + height


def number(slide: Any, text: str, *, top: int) -> None:
    """The number of a slide in its corner."""
    box(slide, text, top=top, size=11, left=Inches(12.0), width=Inches(0.85))
    slide.shapes[-1].text_frame.paragraphs[0].alignment = PP_ALIGN.RIGHT


def widths(found: Table, rows: Sequence[Sequence[str]]) -> list[int]:
    """Widths of the columns (EMU): each as wide as its widest word, and what is left over by what they hold.

    Only where the widest words together are wider than a slide are words broken, the widest first.
    """
    least, wanted = [], []
    for x, column in enumerate(found.columns):
        texts = [row[x] for row in rows]
        head = text_size.longest_word_pt([column.short_heading], TABLE_PT, bold=True)
        words = text_size.longest_word_pt(texts, TABLE_PT)
        typical = max((text_size.width_pt(text[:_TYPICAL], TABLE_PT) for text in texts), default=0.0)
        whole_head = text_size.width_pt(column.short_heading, TABLE_PT, bold=True)
        least.append(max(head, words) * _EMU_PER_PT + _CELL_SIDES + _HAIR)
        wanted.append(max(least[-1], max(typical, min(whole_head, 2 * head)) * _EMU_PER_PT + _CELL_SIDES + _HAIR))
    if sum(least) >= ROOM:
        return [int(width) for width in _levelled(least)]
    more = [want - width for want, width in zip(wanted, least, strict=True)]
    spare = ROOM - sum(least)
    if sum(more) > spare:
        return [int(width + spare * part / sum(more)) for width, part in zip(least, more, strict=True)]
    return [int(width * ROOM / sum(wanted)) for width in wanted]


def _levelled(least: Sequence[float]) -> list[float]:
    """The widest columns cut to one width, so that all fill the slide."""
    low, high = 0.0, float(max(least))
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if sum(min(width, middle) for width in least) <= ROOM else (low, middle)
    return [min(width, low) for width in least]


def row_height(cells: Sequence[str], across: Sequence[int], *, bold: bool = False) -> int:
    """Height of a row with its cells broken into lines (EMU)."""
    high = max(
        text_size.height_pt(text, (width - _CELL_SIDES) / _EMU_PER_PT, TABLE_PT, bold=bold)
        for text, width in zip(cells, across, strict=True)
    )
    return int(high * _EMU_PER_PT + _CELL_ENDS + _HAIR)


def heads(found: Table) -> list[str]:
    """The headings of a table on a slide."""
    return [column.short_heading for column in found.columns]


def table(slide: Any, found: Table, rows: Sequence[Sequence[str]], across: Sequence[int], top: int) -> int:
    """A table of rows under the headings; where it ends (EMU)."""
    lines = [heads(found), *rows]
    heights = [row_height(line, across, bold=y == 0) for y, line in enumerate(lines)]
    frame = slide.shapes.add_table(len(lines), len(across), MARGIN, Emu(top), Emu(sum(across)), Emu(sum(heights)))
    grid = frame.table
    for index, width in enumerate(across):
        grid.columns[index].width = Emu(width)
    for y, line in enumerate(lines):
        grid.rows[y].height = Emu(heights[y])
        for x, value in enumerate(line):
            _fill_cell(grid.cell(y, x), value, is_head=y == 0, is_number=found.columns[x].is_number)
    return top + sum(heights)


def _fill_cell(cell: Any, value: str, *, is_head: bool, is_number: bool) -> None:
    cell.text = value
    cell.margin_top = cell.margin_bottom = _CELL_ENDS // 2
    cell.margin_left = cell.margin_right = _CELL_SIDES // 2
    cell.vertical_anchor = MSO_ANCHOR.MIDDLE
    cell.fill.solid()
    cell.fill.fore_color.rgb = RGBColor(0xE4, 0xE7, 0xEA) if is_head else RGBColor(0xFF, 0xFF, 0xFF)
    for paragraph in cell.text_frame.paragraphs:
        _letters(paragraph, TABLE_PT, is_head)
        paragraph.alignment = PP_ALIGN.RIGHT if is_number else PP_ALIGN.LEFT


def _letters(paragraph: Any, size: int, bold: bool) -> None:
    """The face of each run: not every program takes that of a paragraph from its defaults."""
    for run in paragraph.runs:
        run.font.name = text_size.FACE
        run.font.size = Pt(size)
        run.font.bold = bold
        run.font.color.rgb = _INK
