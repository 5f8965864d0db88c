"""The pack's tables as CSV files that a spreadsheet opens as text, never as a formula."""

from audit.exports import csv_text
from audit.pack.model import Cell, Pack, Table


def csv_files(pack: Pack) -> dict[str, bytes]:
    """File name to bytes. Tables of the cases are put together by kind, with the case in the first column."""
    grouped: dict[str, list[Table]] = {}
    for found in pack.tables():
        grouped.setdefault(found.name.split("-", 1)[0], []).append(found)
    return {f"{kind}.csv": _csv(tables) for kind, tables in sorted(grouped.items())}


def _csv(tables: list[Table]) -> bytes:
    names = list(dict.fromkeys(column.name for found in tables for column in found.columns))
    by_case = any("-" in found.name for found in tables)
    rows: list[list[Cell]] = []
    for found in tables:
        columns = [column.name for column in found.columns]
        for row in found.rows:
            cells = dict(zip(columns, row, strict=True))
            key: list[Cell] = [found.name.split("-", 1)[1]] if by_case else []
            rows.append([*key, *(cells.get(name) for name in names)])
    return csv_text([*(["case"] if by_case else []), *names], rows).encode("utf-8-sig")
