"""Slides as a person sees them: what their boxes hold, measured with an installed face, and whether two stand in each
other. The face is a free one with the widths of that of the slides, read by another library."""

import itertools
from functools import cache
from pathlib import Path
from typing import Any

from PIL import ImageFont
from pptx.util import Pt

from tests.conftest import absent

FOLDERS = ("/usr/share/fonts/truetype/liberation", "/usr/share/fonts/truetype/liberation2")


@cache
def face(bold: bool) -> Any:
    """An installed face with the widths of Arial, a thousand pixels high."""
    name = f"LiberationSans-{'Bold' if bold else 'Regular'}.ttf"
    for folder in FOLDERS:
        if (Path(folder) / name).is_file():
            return ImageFont.truetype(str(Path(folder) / name), 1000)
    return absent(f"{name} is not here; install fonts-liberation to measure the slides.")


def wide(text: str, points: float, bold: bool) -> float:
    """Width of text (EMU)."""
    return float(face(bold).getlength(text)) / 1000 * points * Pt(1)


def lines(text: str, points: float, bold: bool, room: float) -> int:
    """Lines that words take in a column of so much room (EMU), one after the other."""
    count = 0
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}".strip()
            if line and wide(longer, points, bold) > room:
                count, longer = count + 1, word
            line = longer
        count += 1
    return count


def look_at_boxes(deck: Any) -> None:
    """Every box is on its slide, none stands in another, each is as high as its text; no word of a table is broken."""
    for number, slide in enumerate(deck.slides, 1):
        boxes = []
        for shape in slide.shapes:
            text = shape.text_frame.text if shape.has_text_frame else ""
            height = shape.height
            if shape.has_table:
                height = sum(row.height for row in shape.table.rows)
                _look_at_table(shape.table, number)
            elif shape.has_text_frame:
                _look_at_text(shape, number)
            boxes.append((shape.left, shape.top, shape.left + shape.width, shape.top + height, text or shape.name))
        for box in boxes:
            assert min(box[:2]) >= 0, (number, box)
            assert box[2] <= deck.slide_width, (number, box)
            assert box[3] <= deck.slide_height, (number, box)
        for one, other in itertools.combinations(boxes, 2):
            across = min(one[2], other[2]) - max(one[0], other[0])
            down = min(one[3], other[3]) - max(one[1], other[1])
            assert across <= 0 or down <= 0, (number, one, other)


def _look_at_text(shape: Any, number: int) -> None:
    room = shape.width - shape.text_frame.margin_left - shape.text_frame.margin_right
    high = 0.0
    for paragraph in shape.text_frame.paragraphs:
        for run in paragraph.runs:
            assert run.font.name == "Arial"
            points = run.font.size.pt
            high += lines(run.text, points, bool(run.font.bold), room) * points * 1.149 * Pt(1)
    held = shape.height - shape.text_frame.margin_top - shape.text_frame.margin_bottom
    assert high <= held + Pt(1), (number, shape.text_frame.text)


def _look_at_table(table: Any, number: int) -> None:
    for row in table.rows:
        for column, cell in zip(table.columns, row.cells, strict=True):
            room = column.width - cell.margin_left - cell.margin_right
            high = 0.0
            for paragraph in cell.text_frame.paragraphs:
                for run in paragraph.runs:
                    bold = bool(run.font.bold)
                    points = run.font.size.pt
                    assert points >= 14
                    for word in run.text.split():
                        assert wide(word, points, bold) <= room, (number, word)
                    high += lines(run.text, points, bold, room) * points * 1.149 * Pt(1)
            assert high + cell.margin_top + cell.margin_bottom <= row.height + Pt(1), (number, cell.text)
