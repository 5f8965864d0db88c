"""The views of `queries/views`: made anew in every database that another version of them was made in."""

import hashlib
import re
from functools import cache
from pathlib import Path

from audit import paths
from audit.store import in_place
from audit.store.connection import Connection


def files() -> list[Path]:
    """The views and macros, in the order in which they are made: a view may use those before it in the alphabet."""
    return sorted((paths.queries_folder() / "views").glob("*.sql"))


def are_made(con: Connection) -> bool:
    """Whether an open database of ours holds this program's views."""
    return con.execute("select step from schema_version where step like 'views %'").fetchall() == [(known(),)]


def make(con: Connection, version: int) -> None:
    """Make them; what a header says of a column becomes the column's comment. `version` is that of the schema."""
    drop(con)
    for file in files():
        text = file.read_text(encoding="utf-8")
        con.execute(text)
        for column, words in re.findall(r"^-- column: (\w+) [^,\n]+, (.+)$", text, flags=re.MULTILINE):
            quoted = words.replace("'", "''")
            con.execute(f"comment on column {file.stem}.{column} is '{quoted}'")
    con.execute("delete from schema_version where step like 'views %'")
    con.execute("insert into schema_version values (?, ?, now()::timestamp)", [version, known()])


def drop(con: Connection) -> None:
    """Take every view out: one of an older program must not stand in the way of a table that is built anew."""
    for (name,) in con.execute("select view_name from duckdb_views() where not internal").fetchall():
        if name not in in_place.FOLDERS:
            con.execute(f'drop view "{name}"')


@cache
def known() -> str:
    """What tells this program's views from those of another version."""
    text = "".join(file.read_text(encoding="utf-8") for file in files())
    return f"views {hashlib.sha256(text.encode()).hexdigest()[:16]}"
