"""Rows of the cases that an import writes to, as they were before: taken, kept and put back, whatever their table.

The names of tables cannot be bound in a query; those used here come from the schema itself.
"""

import re
from collections.abc import Iterable, Sequence
from io import BytesIO

import pyarrow as pa
import pyarrow.parquet as pq

from audit.store.connection import Connection

PARTS: dict[str, tuple[str, ...]] = {
    "cases": ("cases", "outcomes"),
    "tracing": ("tracings", "tracing_minutes", "case_clocks"),
    "care_events": ("care_events",),
    "reads": ("reads",),
    "assessments": ("assessments",),
    "unit_months": ("unit_months",),
}
# no part of a case: what is kept of the file itself, and what this module keeps
_NOT_OF_A_CASE = ("database_seal", "batch_cases")
_WITHOUT_CASES = "unit_months"
# what became of a case's contents: there also for a case without a tracing
HISTORY = "content_history"
_ALTERED = re.compile(r"^alter table (\w+)", re.MULTILINE)
Noted = tuple[int, str, str]  # batch, case, part


def found_tables(con: Connection) -> list[str]:
    """The tables of what is found and kept of a case besides what is imported: findings, clocks, history."""
    imported = {table for tables in PARTS.values() for table in tables}
    rows = con.execute(
        "select distinct c.table_name from duckdb_columns() as c join duckdb_tables() as t using (table_name)"
        " where c.column_name = 'case_id' order by 1"
    ).fetchall()
    return [name for (name,) in rows if name not in imported and name not in _NOT_OF_A_CASE]


def rows_of(con: Connection, table: str, case_ids: Sequence[str]) -> pa.Table:
    """The rows of some cases; of a table that knows no cases all of them."""
    if table == _WITHOUT_CASES:
        return con.sql(f"select * from {table}").to_arrow_table()
    query = f"select * from {table} where case_id in (select unnest($case_ids))"
    return con.sql(query, params={"case_ids": list(case_ids)}).to_arrow_table()


def digests(con: Connection, part: str, case_ids: Sequence[str]) -> dict[str, str]:
    """What a part of each case holds, in one text that other content would change; no entry where it holds nothing."""
    found: dict[str, str] = {}
    for table in PARTS[part]:
        if table == _WITHOUT_CASES:
            rows = con.execute(f"select '', sum(hash(t)::hugeint)::varchar from {table} as t").fetchall()
        else:
            rows = con.execute(
                f"select case_id, sum(hash(t)::hugeint)::varchar from {table} as t"
                " where case_id in (select unnest($case_ids)) group by case_id",
                {"case_ids": list(case_ids)},
            ).fetchall()
        for case_id, digest in rows:
            if digest is not None:
                found[case_id] = f"{found.get(case_id, '')}{table}:{digest};"
    return found


def noted_as_held(con: Connection, step: str) -> list[Noted]:
    """Of the parts whose tables a schema step (its text) alters, what batches noted that is still as it was noted.

    The step gives these rows other columns, and so other digests: `note_again` after it.
    """
    altered = set(_ALTERED.findall(step))
    there = con.execute("select 1 from duckdb_tables() where table_name = 'batch_cases'").fetchall()
    found: list[Noted] = []
    query = "select batch_id, case_id, digest_after from batch_cases where part = $part and digest_after is not null"
    for part in (name for name, tables in PARTS.items() if there and altered & set(tables)):
        noted = con.execute(query, {"part": part}).fetchall()
        held = digests(con, part, sorted({case_id for _, case_id, _ in noted})) if noted else {}
        found += [(batch_id, case_id, part) for batch_id, case_id, digest in noted if held.get(case_id) == digest]
    return found


def note_again(con: Connection, noted: Iterable[Noted]) -> None:
    """Note what these hold now, under the columns that their tables have got."""
    by_part: dict[str, list[tuple[int, str]]] = {}
    for batch_id, case_id, part in noted:
        by_part.setdefault(part, []).append((batch_id, case_id))
    for part, keys in by_part.items():
        held = digests(con, part, sorted({case_id for _, case_id in keys}))
        rows = [(batch_id, case_id, held[case_id]) for batch_id, case_id in keys]
        numbers, ids, texts = (list(column) for column in zip(*rows, strict=True))
        con.register("incoming", pa.table({"batch_id": numbers, "case_id": ids, "digest": texts}))
        try:
            con.execute(
                "update batch_cases as b set digest_after = i.digest from incoming as i"
                " where b.batch_id = i.batch_id and b.case_id = i.case_id and b.part = $part",
                {"part": part},
            )
        finally:
            con.unregister("incoming")


def packed(rows: pa.Table) -> bytes:
    """Rows as bytes to keep."""
    sink = BytesIO()
    pq.write_table(rows, sink, compression="zstd")
    return sink.getvalue()


def remove(con: Connection, table: str, case_ids: Sequence[str]) -> None:
    """Take the rows of some cases out."""
    if not case_ids:
        return
    if table == _WITHOUT_CASES:
        con.execute(f"delete from {table}")
    else:
        con.execute(f"delete from {table} where case_id in (select unnest($case_ids))", {"case_ids": list(case_ids)})


def put_back(con: Connection, table: str, content: bytes) -> None:
    """Put kept rows back; columns that the table has got since stay empty."""
    rows = pq.read_table(BytesIO(content))
    con.register("incoming", rows)
    try:
        how = "insert or replace into" if table == "cases" else "insert into"
        con.execute(f"{how} {table} by name select * from incoming")
    finally:
        con.unregister("incoming")
