"""Do two databases hold the same findings? Every derived table, value by value.

    python -m tests.benchmarks.compare_databases BEFORE.duckdb AFTER.duckdb

Prints a line a table and ends with 1 when anything differs. What names a run (its id, its clock, the hash of its
settings, the program's version) is left out, and so is a column that only one of the two has; both are said.
"""

import sys
from pathlib import Path

import duckdb

NAMES_A_RUN = {"run_id", "import_id", "settings_sha256", "inputs_sha256", "given_sha256", "version", "episode_id"}
LEFT_OUT = {
    "analysis_runs",
    "schema_version",
    "database_state",
    "database_marks",
    "database_seal",
    "import_batches",
    "imports",
    "import_rejects",
    "content_history",
}


def tables_of(con: duckdb.DuckDBPyConnection, name: str) -> dict[str, list[str]]:
    """Tables of an attached database with their columns, in order."""
    found: dict[str, list[str]] = {}
    query = "select table_name, column_name from duckdb_columns() where database_name = ? order by table_name"
    for table, column in con.execute(query, [name]).fetchall():
        found.setdefault(table, []).append(column)
    views = {row[0] for row in con.execute("select view_name from duckdb_views() where not internal").fetchall()}
    return {table: columns for table, columns in found.items() if table not in LEFT_OUT | views}


def differing_rows(con: duckdb.DuckDBPyConnection, table: str, columns: list[str]) -> tuple[int, int, int, int]:
    """Rows before, rows after, rows only before, rows only after."""
    names = ", ".join(f'"{column}"' for column in columns)
    counts = [con.execute(f"select count(*) from {side}.{table}").fetchall()[0][0] for side in ("before", "after")]
    only = [
        con.execute(
            f"select count(*) from (select {names} from {one}.{table} except all select {names} from {other}.{table})"
        ).fetchall()[0][0]
        for one, other in (("before", "after"), ("after", "before"))
    ]
    return counts[0], counts[1], only[0], only[1]


def compare(before: Path, after: Path) -> int:
    """Print the comparison; 0 when every shared value is the same, else 1."""
    con = duckdb.connect()
    for name, file in (("before", before), ("after", after)):
        con.execute(f"attach '{file}' as {name} (read_only)")
    mine, theirs = tables_of(con, "before"), tables_of(con, "after")
    different = False
    for table in sorted(set(mine) | set(theirs)):
        if table not in mine or table not in theirs:
            print(f"{table}: only {'before' if table in mine else 'after'}")
            continue
        shared = [column for column in mine[table] if column in theirs[table] and column not in NAMES_A_RUN]
        rows_before, rows_after, lost, new = differing_rows(con, table, shared)
        odd = sorted((set(mine[table]) ^ set(theirs[table])) - NAMES_A_RUN)
        verdict = "the same" if lost == new == 0 else f"{lost} rows only before, {new} only after"
        different |= lost > 0 or new > 0
        left = f"; not compared: {', '.join(odd)}" if odd else ""
        print(f"{table}: {rows_before} and {rows_after} rows, {len(shared)} columns, {verdict}{left}")
    return int(different)


if __name__ == "__main__":
    raise SystemExit(compare(Path(sys.argv[1]), Path(sys.argv[2])))
