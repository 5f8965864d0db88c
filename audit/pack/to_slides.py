"""The pack as slides: the same figures, one case a few slides, the outcome on a slide of its own."""

import io
import math
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from itertools import groupby
from typing import Any

from pptx import Presentation
from pptx.util import Emu, Inches

from audit.pack import drawing
from audit.pack import slide_shapes as shapes
from audit.pack.model import CasePages, Pack, Picture, Section
from audit.pack.slide_shapes import MARGIN, ROOM, box, box_height, cut
from audit.tables.definition import Table

_TOP = Inches(1.1)
_FOOT = Inches(6.95)
_TITLE_TOP, _TITLE_SIZES = Inches(0.35), (26, 22, 18)
_PART_SIZE = 20  # of the heading of a part that stands below another
_TEXT_SIZES = (20, 14)
_LEAD_MOST = Inches(1.1)
_GAP = Inches(0.08)
_CLOCK_MOST = Inches(3.2)
_EARLIEST = (1980, 1, 1, 0, 0, 0)
_BLANK_LAYOUT = 6
_ON_SLIDE = (
    "standard",
    "trigger",
    "recognisable_s",
    "first_act_event",
    "minutes_to_first_act",
    "target_minutes",
    "status",
)

_Place = tuple[Any, int]  # a slide, and where on it there is room (EMU)


def pptx_bytes(pack: Pack) -> bytes:
    """The slides; equal packs give equal bytes."""
    pack = pack.in_house_style()
    deck = Presentation()
    deck.slide_width, deck.slide_height = shapes.WIDTH, shapes.HEIGHT
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
        self._place: _Place | None = None  # where the part before left room

    def section(self, section: Section) -> None:
        """One slide per four small drawings and per table part; short text stands above the first of them.

        A short part goes below the part before it, where it has room there.
        """
        lead = section.paragraphs
        # a heading above a part is not said again above its table
        tables = [replace(t, title="") if t.title == section.title else t for t in section.on_slides or section.tables]
        if not section.pictures and self._below(section.title, lead, tables):
            return
        if _lead_height(lead) > _LEAD_MOST or not (section.pictures or tables):
            self._text(section.title, lead)
            lead = ()
        for some in _to_a_slide(section.pictures):
            self._pictures(section.title, some, lead)
            lead = ()
        place = None
        for found in tables:
            place = self._table(section.title, found, lead, place)
            lead = ()
        self._place = place

    def _below(self, title: str, lead: Sequence[str], tables: Sequence[Table]) -> bool:
        """A part with a heading of its own on the slide of the part before, if it fits there whole; whether it does."""
        if self._place is None or not tables:
            return False
        slide, top = self._place
        top += int(_GAP)
        needed = box_height(title, _PART_SIZE, bold=True) + (_lead_height(lead) if lead else 0)
        for found in tables:
            rows = found.shown()
            needed += _part_height(found, rows, shapes.widths(found, rows) if rows else [])
        if top + needed > int(_FOOT) or _lead_height(lead) > _LEAD_MOST:
            return False
        top = box(slide, title, top=top, size=_PART_SIZE, bold=True)
        if lead:
            top = box(slide, "\n".join(lead), top=top, size=14, space_after=3)
        self._place = slide, top
        for found in tables:
            self._place = self._table(title, found, (), self._place)
        return True

    def case(self, case: CasePages) -> None:
        """The bare strip, the strip with what was found, the clock with what was decided; the outcome last."""
        self._place = None
        first = case.first.paragraphs
        if case.slides:
            self._pictures(case.title, case.slides[:1], (cut(" ".join(first), _LEAD_MOST, 14, space_after=3),))
        else:
            self._text(case.title, first)
        for found in case.slides[1:]:
            self._pictures(f"{case.title}: what was found", [found], ())
        self._decided(case)
        if case.outcome:
            self._outcome(case.outcome)

    def _decided(self, case: CasePages) -> None:
        """The clock, as many rows as leave room for what was decided."""
        slide = self._new(f"{case.title}: the clock, and what was decided")
        clock = next((found for found in case.after.tables if found.name == "clock"), None)
        bottom = int(_TOP)
        if clock is not None:
            bottom = self._fitted(slide, clock.only(*_ON_SLIDE), bottom, int(_TOP + _CLOCK_MOST)) + 2 * int(_GAP)
        text = "\n".join(case.after.paragraphs) or "Nothing was decided yet."
        box(slide, cut(text, int(_FOOT) - bottom, 14, space_after=4), top=bottom, size=14, space_after=4)

    def _outcome(self, section: Section) -> None:
        slide = self._new(section.title)
        top = self._lead(slide, section.paragraphs)
        for found in section.tables:
            top = self._fitted(slide, found, top, int(_FOOT))

    def _fitted(self, slide: Any, found: Table, top: int, foot: int) -> int:
        """A table of the rows that fit above `foot`, with words on the rest; where it ends."""
        rows = found.shown()
        if not rows:
            return box(slide, found.empty, top=top, size=14)
        across = shapes.widths(found, rows)
        more = "{} more rows in the tables of the pack."
        kept = _rows_that_fit(found, rows, across, foot - top)
        if kept < len(rows):
            kept = _rows_that_fit(found, rows, across, foot - top - box_height(more, 14))
        bottom = shapes.table(slide, found, rows[:kept], across, top)
        return bottom if kept == len(rows) else box(slide, more.format(len(rows) - kept), top=bottom, size=14)

    def _new(self, title: str) -> Any:
        self._count += 1
        slide = self._deck.slides.add_slide(self._deck.slide_layouts[_BLANK_LAYOUT])
        room = int(_TOP - _TITLE_TOP)
        size = next((size for size in _TITLE_SIZES if box_height(title, size, bold=True) <= room), _TITLE_SIZES[-1])
        box(slide, cut(title, room, size), top=_TITLE_TOP, size=size, bold=True)
        box(slide, f"{self._pack.caution}\n{self._pack.footer}", top=_FOOT, size=9, width=Inches(11.3))
        shapes.number(slide, str(self._count), top=_FOOT)
        return slide

    def _text(self, title: str, paragraphs: Sequence[str]) -> None:
        """Paragraphs as large as they fit on a slide; on several, filled alike, where even small ones do not."""
        room = int(_FOOT - _TOP)
        if not paragraphs:
            self._new(title)
            return
        whole = "\n".join(paragraphs)
        size = next((size for size in _TEXT_SIZES if _text_height(whole, size) <= room), _TEXT_SIZES[-1])
        fewest = len(_shared(paragraphs, room, size))
        tried = (_shared(paragraphs, room * tenths // 10, size) for tenths in range(1, 11))
        for here in next(parts for parts in tried if len(parts) == fewest):
            text = cut("\n".join(here), room, size, space_after=10)
            box(self._new(title), text, top=_TOP, size=size, space_after=10)

    def _lead(self, slide: Any, lead: Sequence[str]) -> int:
        """Text above the rest of a slide; where the rest begins."""
        if not lead:
            return int(_TOP)
        return box(slide, cut("\n".join(lead), _LEAD_MOST, 14, space_after=3), top=_TOP, size=14, space_after=3)

    def _pictures(self, title: str, pictures: Sequence[Picture], lead: Sequence[str]) -> None:
        """One drawing over the slide, or several two to a row; each row as high as the others."""
        slide = self._new(title)
        top = self._lead(slide, lead)
        rows = [pictures[k : k + 2] for k in range(0, len(pictures), 2)]
        across = min(len(pictures), 2)
        width = (ROOM - Inches(0.3) * (across - 1)) // across
        height = (int(_FOOT) - top) // len(rows)
        for row in rows:
            self._row(slide, row, top, width, height)
            top += height

    def _row(self, slide: Any, pictures: Sequence[Picture], top: int, room_width: int, height: int) -> None:
        below = max([box_height(found.caption, 14, width=room_width) for found in pictures if found.caption] or [0])
        room_height = height - below - _GAP
        for index, found in enumerate(pictures):
            left = MARGIN + index * (room_width + Inches(0.3))
            if found.caption:
                box(slide, found.caption, top=top, size=14, left=left, width=room_width)
            width = min(room_width, int(room_height * found.width_mm / found.height_mm))
            image = io.BytesIO(drawing.png(found))
            shape = slide.shapes.add_picture(image, Emu(left), Emu(top + below), width=Emu(width))
            shape._element.nvPicPr.cNvPr.set("descr", found.alt)

    def _table(self, title: str, found: Table, lead: Sequence[str], place: _Place | None) -> _Place | None:
        """A table over as many slides as its rows need, filled alike, its note under the last of them.

        `place` is where the slide before has room left: a table that fits there whole stands there. The same of this
        table's last slide is given back, None where it has none.
        """
        rows = found.shown()
        if not rows:
            return self._empty(title, found, lead, place)
        across = shapes.widths(found, rows)
        note = box_height(found.note, 14) + int(_GAP) if found.note else 0
        if place is not None:
            slide, top = place
            if top + _part_height(found, rows, across) <= int(_FOOT):
                top = _titled(slide, found, top)
                return slide, self._noted(slide, found, shapes.table(slide, found, rows, across, top) + int(_GAP))
        while True:
            slide = self._new(title)
            top = _titled(slide, found, self._lead(slide, lead))
            lead = ()
            room = int(_FOOT) - top
            kept = _rows_that_fit(found, rows, across, room)
            if kept == len(rows) and kept > 1:  # the last rows go with the note where both have no room here
                kept = max(_rows_that_fit(found, rows, across, room - note), 1)
            kept = math.ceil(len(rows) / math.ceil(len(rows) / kept))
            kept = min(kept, _rows_that_fit(found, rows, across, room))
            bottom = shapes.table(slide, found, rows[:kept], across, top) + int(_GAP)
            rows = rows[kept:]
            if rows:
                continue
            if bottom + note <= _FOOT:
                return slide, self._noted(slide, found, bottom)
            self._text(title, (found.note,))
            return None

    def _empty(self, title: str, found: Table, lead: Sequence[str], place: _Place | None) -> _Place:
        """That a table has no rows, where the slide before has room or on one that goes on."""
        if place is None or place[1] + _part_height(found, [], []) > int(_FOOT):
            slide = self._new(title)
            place = slide, self._lead(slide, lead)
        slide, top = place
        top = _titled(slide, found, top)
        return slide, box(slide, found.empty, top=top, size=14) + int(_GAP)

    def _noted(self, slide: Any, found: Table, top: int) -> int:
        return box(slide, found.note, top=top, size=14) + int(_GAP) if found.note else top


def _titled(slide: Any, found: Table, top: int) -> int:
    return box(slide, found.title, top=top, size=15) if found.title else top


def _part_height(found: Table, rows: Sequence[Sequence[str]], across: Sequence[int]) -> int:
    """Height of a table under its title, with its note (EMU)."""
    title = box_height(found.title, 15) if found.title else 0
    if not rows:
        return title + box_height(found.empty, 14) + int(_GAP)
    high = shapes.row_height(shapes.heads(found), across, bold=True)
    high += sum(shapes.row_height(row, across) for row in rows)
    return title + high + int(_GAP) + (box_height(found.note, 14) + int(_GAP) if found.note else 0)


def _shared(paragraphs: Sequence[str], room: int, size: int) -> list[list[str]]:
    """Paragraphs as many to a part as have room in it; one at least."""
    parts: list[list[str]] = []
    for paragraph in paragraphs:
        if parts and _text_height("\n".join([*parts[-1], paragraph]), size) <= room:
            parts[-1].append(paragraph)
        else:
            parts.append([paragraph])
    return parts


def _lead_height(lead: Sequence[str]) -> int:
    return box_height("\n".join(lead), 14, space_after=3)


def _text_height(text: str, size: int) -> int:
    return box_height(text, size, space_after=10)


def _rows_that_fit(found: Table, rows: Sequence[Sequence[str]], across: Sequence[int], room: int) -> int:
    """How many rows have room under the headings (EMU); one at least, so that no table is without end."""
    bottom = shapes.row_height(shapes.heads(found), across, bold=True)
    for kept, row in enumerate(rows):
        bottom += shapes.row_height(row, across)
        if bottom > room:
            return max(kept, 1)
    return len(rows)


def _to_a_slide(pictures: Sequence[Picture]) -> list[list[Picture]]:
    """Four narrow drawings to a slide, in order, a wide one alone; those of one kind are shared out alike."""
    found: list[list[Picture]] = []
    for narrow, run in groupby(pictures, lambda one: one.width_mm < 100):
        own = list(run)
        slides = math.ceil(len(own) / 4) if narrow else len(own)
        each = math.ceil(len(own) / slides)
        found += [own[k : k + each] for k in range(0, len(own), each)]
    return found


def _without_clock(content: bytes) -> bytes:
    """The same file with every entry dated alike: the writer stamps them with this computer's clock."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted(old.namelist(), key=lambda entry: (entry != "[Content_Types].xml", entry)):
            new.writestr(zipfile.ZipInfo(name, _EARLIEST), old.read(name), compress_type=zipfile.ZIP_DEFLATED)
    return out.getvalue()
