"""What a pack holds, before it becomes pages, slides or files: plain data, the same for every format."""

from dataclasses import dataclass

from audit import house_style
from audit.tables.definition import Table

# names, and what is written as the house does where it is drawn: cells of tables, drawings
_STAYS = frozenset({"name", "rows", "svg", "pdf", "png", "case_id", "of", "period", "made_on", "paper"})


@dataclass(frozen=True)
class Picture:
    """A drawing as vectors. `pdf` is the same drawing with its fonts; sizes in millimetres on paper."""

    name: str
    svg: str
    pdf: bytes
    width_mm: float
    height_mm: float
    alt: str
    caption: str = ""
    png: bytes | None = None  # the drawing as pixels, where it was made beforehand


@dataclass(frozen=True)
class Section:
    """A heading with text, drawings and tables, in this order; `on_slides` stand on slides in place of the tables."""

    title: str
    paragraphs: tuple[str, ...] = ()
    pictures: tuple[Picture, ...] = ()
    tables: tuple[Table, ...] = ()
    on_slides: tuple[Table, ...] = ()


@dataclass(frozen=True)
class CasePages:
    """The pages of one case: what led to it with the bare strips, then the findings; the outcome is apart.

    `slides` are the stretch for slides, bare and with what was found. `in_full` are tables of which paper shows the
    first rows; `shorter` are the findings with fewer of them, for a case that would not stay on two pages.
    """

    case_id: str
    title: str
    first: Section
    strips: tuple[Picture, ...]
    strips_note: str
    after: Section
    outcome: Section | None
    slides: tuple[Picture, ...] = ()
    in_full: tuple[Table, ...] = ()
    shorter: tuple[Section, ...] = ()


@dataclass(frozen=True)
class Pack:
    """One month's pack."""

    period: str
    title: str
    made_on: str
    paper: str
    footer: str
    caution: str
    cover: Section = Section("")
    sections: tuple[Section, ...] = ()
    cases: tuple[CasePages, ...] = ()
    methods: Section = Section("")
    further_tables: tuple[Table, ...] = ()
    out_of_date: str | None = None  # how far its readings are missing or were made otherwise

    def tables(self) -> list[Table]:
        """Every table, each name once, for the CSV files."""
        parts: list[Section] = [self.cover, *self.sections]
        for case in self.cases:
            whole = Section(case.title, tables=case.in_full)
            parts += [case.first, case.after, whole, *([case.outcome] if case.outcome else [])]
        found = [table for part in [*parts, self.methods] for table in part.tables] + list(self.further_tables)
        return [table for table in found if not table.is_part]

    def in_house_style(self) -> "Pack":
        """The same pack, its texts written as the house does."""
        return house_style.everywhere(self, but=_STAYS)
