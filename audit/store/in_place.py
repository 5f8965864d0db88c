"""A database that reads samples and findings in place: views over a run's Parquet files, where others have tables.

It is made once, when the run has ended, and only read from then on. Its other tables are its own.
"""

import hashlib
import threading
from pathlib import Path

from audit.store.connection import Connection, execute

SAMPLES = "tracing_minutes"
_FINDINGS = """
    contractions decelerations accelerations level_changes epochs minute_categories window_categories second_readings
    second_reading_lane second_reading_evidence burden concern_episodes responses reader_clocks possible_concerns
"""
# by table, the folder of its files in that of the run
FOLDERS = {SAMPLES: "tracings"} | {name: f"findings/{name}" for name in _FINDINGS.split()}
# two threads that open a file share what it may reach
_ONE_AT_A_TIME = threading.Lock()


def shut(con: Connection) -> None:
    """Let no query reach out of the file, but for the Parquet files that it reads in place."""
    with _ONE_AT_A_TIME:
        if not con.execute("select current_setting('enable_external_access')").fetchall()[0][0]:
            return
        folder = folder_of(con)
        if folder is not None:
            within = ", ".join(_quoted(f"{folder}/{name}/") for name in ("tracings", "findings"))
            con.execute(f"set allowed_directories = [{within}]")
        con.execute("set enable_external_access = false")


def folder_of(con: Connection) -> str | None:
    """The folder of the run whose files are read; None for a database that holds all it tells of."""
    if not con.execute("select 1 from duckdb_tables() where table_name = 'parquet_files'").fetchall():
        return None  # an older file, or none of ours
    found: str | None = execute(con, "store/parquet_folder").fetchall()[0][0]
    return found


def is_made(con: Connection) -> bool:
    """Whether the open database reads in place, and so is not written to."""
    return bool(con.execute("select 1 from duckdb_views() where view_name = ?", [SAMPLES]).fetchall())


def make(con: Connection, run_id: str) -> None:
    """Put views over the run's files where the tables stood; what tables and columns mean is said of them too."""
    folder = folder_of(con)
    known = {file for (file, _, _) in execute(con, "store/parquet_files").fetchall()}
    for table, within in FOLDERS.items():
        columns = con.execute(
            "select column_name, data_type, comment from duckdb_columns() where table_name = ? order by column_index",
            [table],
        ).fetchall()
        there = any(file.startswith(f"{within}/") for file in known)
        listed = ", ".join(
            f'cast({_value(name, run_id) if there else "null"} as {kind}) as "{name}"' for name, kind, _ in columns
        )
        source = f"from read_parquet({_quoted(f'{folder}/{within}/*.parquet')})" if there else "where false"
        [(said,)] = con.execute("select comment from duckdb_tables() where table_name = ?", [table]).fetchall()
        con.execute(f'drop table "{table}"')
        con.execute(f'create view "{table}" as select {listed} {source}')
        con.execute(f'comment on view "{table}" is {_quoted(said)}')
        for name, _, comment in columns:
            con.execute(f'comment on column "{table}"."{name}" is {_quoted(comment)}')


def file_problems(con: Connection) -> list[str]:
    """What is missing, changed or foreign among the files that are read in place."""
    folder = folder_of(con)
    if folder is None:
        return []
    found, known = [], dict[str, str]()
    for file, size, sha256 in execute(con, "store/parquet_files").fetchall():
        known[file], path = sha256, Path(folder, file)
        if not path.is_file():
            found.append(f"{file}: a Parquet file that is read in place is missing")
        elif path.stat().st_size != size or sha256_of(path) != sha256:
            found.append(f"{file}: a Parquet file that is read in place was changed")
    for within in FOLDERS.values():
        names = (f"{within}/{path.name}" for path in sorted(Path(folder, within).glob("*.parquet")))
        found += [f"{name}: a Parquet file that no run wrote is read in place" for name in names if name not in known]
    return found


def sha256_of(path: Path) -> str:
    """SHA-256 of a file."""
    with path.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def _value(column: str, run_id: str) -> str:
    return _quoted(run_id) if column == "run_id" else f'"{column}"'


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
