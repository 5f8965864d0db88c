"""The pack as PDF: typeset from plain data with the typesetter's own fonts, so equal packs give equal bytes."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typst

from audit import house_style, paths
from audit.figures import NOT_KNOWN
from audit.pack.model import Pack, Picture, Section
from audit.pack.strips import LEGEND
from audit.tables.definition import Table

# columns of newborns that stand beside each other at 9 pt on either paper
_OUTCOMES_A_TABLE = 6
_TEMPLATE = Path(__file__).with_name("templates") / "pack.typ"


def pdf_bytes(pack: Pack) -> bytes:
    """Typeset the pack; text is selectable, drawings are vectors, tables repeat their head on every page."""
    pack = pack.in_house_style()
    with paths.for_a_while("pack") as folder:
        shutil.copyfile(_TEMPLATE, folder / "pack.typ")
        # by what is drawn: a drawing stands in more than one section, as one object or as equal copies
        files = {drawing: f"{k}.pdf" for k, drawing in enumerate(dict.fromkeys(_pictures(pack)))}
        for drawing, file in files.items():
            (folder / file).write_bytes(drawing.pdf)
        (folder / "pack.json").write_text(json.dumps(_document(pack, files)), encoding="utf-8")
        found = typst.compile(str(folder / "pack.typ"), root=str(folder), format="pdf", ignore_system_fonts=True)
    return bytes(found)


def _pictures(pack: Pack) -> Iterator[Picture]:
    sections = [pack.cover, *pack.sections, pack.methods]
    for case in pack.cases:
        sections += [case.first, case.after, *case.shorter, *([case.outcome] if case.outcome else [])]
        yield from case.strips
    for section in sections:
        yield from section.pictures


def _document(pack: Pack, files: dict[Picture, str]) -> dict[str, Any]:
    def picture(drawing: Picture) -> dict[str, Any]:
        return {
            "file": files[drawing],
            "width": drawing.width_mm,
            "alt": drawing.alt,
            "caption": drawing.caption,
        }

    def section(part: Section) -> dict[str, Any]:
        return {
            "title": part.title,
            "paragraphs": list(part.paragraphs),
            "pictures": [picture(drawing) for drawing in part.pictures],
            "tables": [_table(found) for found in part.tables],
        }

    return {
        "title": pack.title,
        "paper": pack.paper,
        "footer": pack.footer,
        "caution": pack.caution,
        "cover": section(pack.cover),
        "sections": [section(part) for part in pack.sections],
        "cases": [
            {
                "title": case.title,
                "first": section(case.first),
                "strips": [picture(drawing) for drawing in case.strips],
                "strips_note": case.strips_note,
                "after": [section(after) for after in (case.after, *case.shorter)],
            }
            for case in pack.cases
        ],
        "outcomes": _outcomes(pack),
        "legend": house_style.text(LEGEND),
        "methods": section(pack.methods),
    }


def _outcomes(pack: Pack) -> dict[str, Any]:
    """All newborns beside each other, a column each, so that the outcomes are one page that can be left out."""
    newborns: list[tuple[str, dict[str, str]]] = []
    paragraphs: list[str] = []
    notes: dict[str, None] = {}
    for case in pack.cases:
        if case.outcome is None:
            continue
        paragraphs += [f"{case.outcome.title}: {text}" for text in case.outcome.paragraphs]
        for found in case.outcome.tables:
            rows = found.shown()
            names = [column.heading for column in found.columns[1:]]
            for place, name in enumerate(names, start=1):
                head = found.of if len(names) == 1 else f"{found.of}, {name}"
                newborns.append((head, {row[0]: row[place] for row in rows}))
            notes[found.note] = None
    tables = []
    for first in range(0, len(newborns), _OUTCOMES_A_TABLE):
        some = newborns[first : first + _OUTCOMES_A_TABLE]
        measures = dict.fromkeys(measure for _, values in some for measure in values)
        tables.append(
            {
                "title": "How it ended",
                "beside": True,
                "columns": [{"title": title, "number": False} for title in ("Measure", *(head for head, _ in some))],
                "rows": [[measure, *(values.get(measure, NOT_KNOWN) for _, values in some)] for measure in measures],
                "note": " ".join(notes),
                "empty": "No outcome was imported.",
            }
        )
    return {"paragraphs": paragraphs, "tables": tables}


def _table(found: Table) -> dict[str, Any]:
    return {
        "title": found.title,
        "columns": [{"title": column.heading, "number": column.is_number} for column in found.columns],
        "rows": found.shown(),
        "note": found.note,
        "empty": found.empty,
    }
