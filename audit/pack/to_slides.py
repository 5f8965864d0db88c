"""The pack as slides: the same figures, one case a few slides, the outcome on a slide of its own."""

import io
import math
import zipfile
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from pptx import Presentation
from pptx.dml.color import RGBColor
from pptx.enum.text import MSO_ANCHOR, PP_ALIGN
from pptx.util import Emu, Inches, Pt

from audit.pack import drawing
from audit.pack.model import CasePages, Pack, Picture, Section
from audit.tables.definition import Table

_WIDTH, _HEIGHT = Inches(13.333), Inches(7.5)
_MARGIN = Inches(0.5)
_TOP = Inches(1.15)
_FOOT = Inches(6.95)
_FONT_PT = 14
_CHARS_AN_INCH = 9.2  # at 14 points, on the safe side
_LINE, _CELL_MARGIN = Inches(0.235), Inches(0.08)
_LEAD_HEIGHT = Inches(1.0)
_LEAD_MOST = 330  # characters that fit above a drawing or a table
_INK = RGBColor(0x1B, 0x1F, 0x24)
_EARLIEST = (1980, 1, 1, 0, 0, 0)
_BLANK_LAYOUT = 6
_EMU_PER_INCH = 914400
_ON_SLIDE = (
    "standard",
    "trigger",
    "recognisable_s",
    "first_act_event",
    "minutes_to_first_act",
    "target_minutes",
    "status",
)


def pptx_bytes(pack: Pack) -> bytes:
    """The slides; equal packs give equal bytes."""
    pack = pack.in_house_style()
    deck = Presentation()
    deck.slide_width, deck.slide_height = _WIDTH, _HEIGHT
    slides = _Slides(deck, pack)
    slides.section(pack.cover)
    for section in pack.sections:
        slides.section(section)
    for case in pack.cases:
        slides.case(case)
    slides.section(pack.methods)
    properties = deck.core_properties
    properties.title, properties.author, properties.last_modified_by = pack.title, "", ""
    properties.created = properties.modified = datetime.fromisoformat(pack.made_on)
    out = io.BytesIO()
    deck.save(out)
    return _without_clock(out.getvalue())


class _Slides:
    """Adds slides with a heading, a foot and a number."""

    def __init__(self, deck: Any, pack: Pack) -> None:
        self._deck = deck
        self._pack = pack
        self._count = 0

    def section(self, section: Section) -> None:
        """One slide per drawing pair and per table part; short text stands above the first of them."""
        lead = section.paragraphs
        if sum(map(len, lead)) > _LEAD_MOST or not (section.pictures or section.tables):
            self._text(self._new(section.title), lead)
            lead = ()
        for pair in _pairs(section.pictures):
            self._pictures(section.title, pair, lead)
            lead = ()
        for found in section.tables:
            self._table(section.title, found, lead)
            lead = ()

    def case(self, case: CasePages) -> None:
        """The bare strip, the strip with what was found, the clock with what was decided; the outcome last."""
        first = case.first.paragraphs
        if case.slides:
            self._pictures(case.title, case.slides[:1], (_cut(" ".join(first), _LEAD_MOST),))
        else:
            self._text(self._new(case.title), first)
        for found in case.slides[1:]:
            self._pictures(f"{case.title}: what was found", [found], ())
        self._decided(case)
        if case.outcome:
            self._outcome(case.outcome)

    def _decided(self, case: CasePages) -> None:
        """The clock, as many rows as leave room for what was decided."""
        slide = self._new(f"{case.title}: the clock, and what was decided")
        clock = next((found for found in case.after.tables if found.name == "clock"), None)
        bottom = int(_TOP) if clock is None else self._fitted(slide, clock.only(*_ON_SLIDE), int(_TOP), Inches(3.2))
        text = _cut("\n".join(case.after.paragraphs) or "Nothing was decided yet.", 620)
        _box(slide, text, top=bottom + Inches(0.15), height=int(_FOOT) - bottom - Inches(0.2), size=14, space_after=4)

    def _outcome(self, section: Section) -> None:
        slide = self._new(section.title)
        for found in section.tables:
            self._fitted(slide, found, int(self._lead(slide, section.paragraphs)), _FOOT - _TOP)

    def _fitted(self, slide: Any, found: Table, top: int, room: int) -> int:
        """A table of the rows that fit, with words on the rest; where it ends."""
        rows = found.shown()
        if not rows:
            _box(slide, found.empty, top=top, height=Inches(0.4), size=14)
            return top + int(Inches(0.4))
        widths = _widths(found, rows)
        bottom = top + _row_height([column.short_heading for column in found.columns], widths)
        part: list[list[str]] = []
        for row in rows:
            height = _row_height(row, widths)
            if part and bottom + height > top + room - Inches(0.3):
                break
            part.append(row)
            bottom += height
        _draw_table(slide, found, part, widths, top)
        if len(part) < len(rows):
            more = f"{len(rows) - len(part)} more rows in the tables of the pack."
            _box(slide, more, top=bottom, height=Inches(0.35), size=14)
            bottom += int(Inches(0.35))
        return bottom

    def _new(self, title: str) -> Any:
        self._count += 1
        slide = self._deck.slides.add_slide(self._deck.slide_layouts[_BLANK_LAYOUT])
        _box(slide, title, top=Inches(0.35), height=Inches(0.7), size=26, bold=True)
        foot = f"{self._pack.caution}\n{self._pack.footer}"
        _box(slide, foot, top=_FOOT, height=Inches(0.45), size=9, width=Inches(11.3))
        number = _box(
            slide, str(self._count), top=_FOOT, height=Inches(0.45), size=11, left=Inches(12.0), width=Inches(0.85)
        )
        number.text_frame.paragraphs[0].alignment = PP_ALIGN.RIGHT
        return slide

    def _text(self, slide: Any, paragraphs: Sequence[str]) -> None:
        size = 20 if sum(map(len, paragraphs)) < 900 else 14
        _box(slide, "\n".join(paragraphs), top=_TOP, height=_FOOT - _TOP, size=size, space_after=10)

    def _lead(self, slide: Any, lead: Sequence[str]) -> int:
        """Text above the rest of a slide; where the rest begins."""
        if not lead:
            return int(_TOP)
        _box(slide, "\n".join(lead), top=Inches(1.0), height=_LEAD_HEIGHT, size=14, space_after=3)
        return int(Inches(1.0) + _LEAD_HEIGHT)

    def _pictures(self, title: str, pictures: Sequence[Picture], lead: Sequence[str]) -> None:
        slide = self._new(title)
        top = self._lead(slide, lead)
        room_width = (_WIDTH - 2 * _MARGIN - Inches(0.3) * (len(pictures) - 1)) // len(pictures)
        room_height = _FOOT - top - Inches(0.5)
        for index, found in enumerate(pictures):
            left = _MARGIN + index * (room_width + Inches(0.3))
            if found.caption:
                _box(slide, found.caption, top=top, height=Inches(0.4), size=14, left=left, width=room_width)
            width = min(room_width, int(room_height * found.width_mm / found.height_mm))
            image = io.BytesIO(drawing.png(found))
            shape = slide.shapes.add_picture(image, Emu(left), Emu(top + Inches(0.42)), width=Emu(width))
            shape._element.nvPicPr.cNvPr.set("descr", found.alt)

    def _table(self, title: str, found: Table, lead: Sequence[str]) -> None:
        rows = found.shown()
        if not rows:
            self._text(self._new(title), (*lead, found.title, found.empty))
            return
        widths = _widths(found, rows)
        heads = [column.short_heading for column in found.columns]
        while rows:
            slide = self._new(title)
            top = self._lead(slide, lead)
            lead = ()
            _box(slide, found.title, top=top - Inches(0.1), height=Inches(0.4), size=15)
            top += Inches(0.32)
            bottom = top + _row_height(heads, widths)
            part: list[list[str]] = []
            while rows and (not part or bottom + _row_height(rows[0], widths) <= _FOOT - Inches(0.45)):
                bottom += _row_height(rows[0], widths)
                part.append(rows.pop(0))
            _draw_table(slide, found, part, widths, top)
            if found.note and not rows:
                _box(slide, found.note, top=bottom + Inches(0.05), height=Inches(0.4), size=14)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 2].rsplit(" ", 1)[0] + " …"


def _row_height(cells: Sequence[str], widths: Sequence[int]) -> int:
    lines = [
        max(1, math.ceil(len(value) / max(1.0, (width / _EMU_PER_INCH - 0.12) * _CHARS_AN_INCH)))
        for value, width in zip(cells, widths, strict=True)
    ]
    return int(max(lines) * _LINE + _CELL_MARGIN)


def _draw_table(slide: Any, found: Table, rows: Sequence[Sequence[str]], widths: Sequence[int], top: int) -> None:
    lines = [[column.short_heading for column in found.columns], *rows]
    heights = [_row_height(line, widths) for line in lines]
    frame = slide.shapes.add_table(len(lines), len(widths), _MARGIN, Emu(top), Emu(sum(widths)), Emu(sum(heights)))
    grid = frame.table
    for index, width in enumerate(widths):
        grid.columns[index].width = Emu(width)
    for y, line in enumerate(lines):
        grid.rows[y].height = Emu(heights[y])
        for x, value in enumerate(line):
            _fill_cell(grid.cell(y, x), value, is_head=y == 0, is_number=found.columns[x].is_number)


def _fill_cell(cell: Any, value: str, *, is_head: bool, is_number: bool) -> None:
    cell.text = value
    cell.margin_top = cell.margin_bottom = Inches(0.03)
    cell.margin_left = cell.margin_right = Inches(0.06)
    cell.vertical_anchor = MSO_ANCHOR.MIDDLE
    cell.fill.solid()
    cell.fill.fore_color.rgb = RGBColor(0xE4, 0xE7, 0xEA) if is_head else RGBColor(0xFF, 0xFF, 0xFF)
    for paragraph in cell.text_frame.paragraphs:
        paragraph.font.size = Pt(_FONT_PT)
        paragraph.font.bold = is_head
        paragraph.font.color.rgb = _INK
        paragraph.alignment = PP_ALIGN.RIGHT if is_number else PP_ALIGN.LEFT


def _widths(found: Table, rows: Sequence[Sequence[str]]) -> list[int]:
    """Widths by what the columns hold: no word is broken where it can be helped, and the slide is filled."""
    weights = []
    for x, column in enumerate(found.columns):
        words = [word for text in (column.short_heading, *(row[x] for row in rows)) for word in text.split()]
        longest = max((len(word) for word in words), default=1)
        typical = max((min(len(row[x]), 44) for row in rows), default=1)
        weights.append(max(longest, min(typical, 44)) + 2.5)
    room = _WIDTH - 2 * _MARGIN
    return [int(room * weight / sum(weights)) for weight in weights]


def _box(
    slide: Any,
    text: str,
    *,
    top: int,
    height: int,
    size: int,
    left: int = _MARGIN,
    width: int = _WIDTH - 2 * _MARGIN,
    bold: bool = False,
    space_after: int = 0,
) -> Any:
    box = slide.shapes.add_textbox(Emu(left), Emu(top), Emu(width), Emu(height))
    frame = box.text_frame
    frame.word_wrap = True
    for index, line in enumerate(text.split("\n")):
        paragraph = frame.paragraphs[0] if index == 0 else frame.add_paragraph()
        paragraph.text = line
        paragraph.font.size = Pt(size)
        paragraph.font.bold = bold
        paragraph.font.color.rgb = _INK
        paragraph.space_after = Pt(space_after)
    return box


def _pairs(pictures: Sequence[Picture]) -> list[list[Picture]]:
    """Two narrow drawings to a slide, a wide one alone."""
    found: list[list[Picture]] = []
    for one in pictures:
        narrow = one.width_mm < 100
        if narrow and found and len(found[-1]) == 1 and found[-1][0].width_mm < 100:
            found[-1].append(one)
        else:
            found.append([one])
    return found


def _without_clock(content: bytes) -> bytes:
    """The same file with every entry dated alike: the writer stamps them with this computer's clock."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted(old.namelist(), key=lambda entry: (entry != "[Content_Types].xml", entry)):
            new.writestr(zipfile.ZipInfo(name, _EARLIEST), old.read(name), compress_type=zipfile.ZIP_DEFLATED)
    return out.getvalue()
