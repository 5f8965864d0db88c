"""What a pack holds, before it becomes pages, slides or files: plain data, the same for every format."""

from collections.abc import Sequence
from dataclasses import dataclass, field

Cell = str | float | int | bool | None
NOT_KNOWN = "–"


@dataclass(frozen=True)
class Column:
    """A column of a table: its name in the CSV file, its heading on paper, decimals shown (None = as it is)."""

    name: str
    title: str
    digits: int | None = None
    is_number: bool = False


@dataclass(frozen=True)
class Table:
    """Rows with raw values; a cell that is not known is None, on paper a dash."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    empty: str = "Nothing to list."

    def shown(self) -> list[list[str]]:
        """The cells as they are printed."""
        return [[shown(cell, column) for cell, column in zip(row, self.columns, strict=True)] for row in self.rows]


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
    """A heading with text, drawings and tables, in this order."""

    title: str
    paragraphs: tuple[str, ...] = ()
    pictures: tuple[Picture, ...] = ()
    tables: tuple[Table, ...] = ()
    new_page: bool = False


@dataclass(frozen=True)
class CasePages:
    """The pages of one case: what led to it, the strips, the findings; the outcome is a section of its own."""

    case_id: str
    title: str
    first: Section
    strips: tuple[Picture, ...]
    strips_note: str
    after: Section
    outcome: Section | None
    slide: Picture | None


@dataclass(frozen=True)
class Pack:
    """One month's pack."""

    period: str
    title: str
    made_on: str
    paper: str
    footer: str
    caution: str
    cover: Section
    sections: tuple[Section, ...]
    cases: tuple[CasePages, ...]
    methods: Section
    further_tables: tuple[Table, ...] = field(default=())

    def tables(self) -> list[Table]:
        """Every table, each name once, for the CSV files."""
        parts: list[Section] = [self.cover, *self.sections]
        for case in self.cases:
            parts += [case.first, case.after, *([case.outcome] if case.outcome else [])]
        return [table for part in [*parts, self.methods] for table in part.tables] + list(self.further_tables)


def shown(cell: Cell, column: Column) -> str:
    """One cell in print."""
    if cell is None:
        return NOT_KNOWN
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if column.digits is not None and isinstance(cell, int | float):
        return f"{cell:.{column.digits}f}"
    return str(cell)


def text_columns(*pairs: tuple[str, str]) -> tuple[Column, ...]:
    """Columns of text, from names and headings."""
    return tuple(Column(name, title) for name, title in pairs)


def number(name: str, title: str, digits: int | None = None) -> Column:
    """A column of numbers, set to the right."""
    return Column(name, title, digits, is_number=True)


def table(
    name: str, title: str, columns: Sequence[Column], rows: Sequence[Sequence[Cell]], *, note: str = "", empty: str = ""
) -> Table:
    """A table from lists."""
    return Table(name, title, tuple(columns), tuple(tuple(row) for row in rows), note, empty or "Nothing to list.")
