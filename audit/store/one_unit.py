"""A connection that sees the rows of one unit only, so that every question is answered of it without knowing.

On the connection itself, and on no other, temporary views of the same names stand before the tables; the views of
`queries/views` are made anew over them.
"""

from audit.errors import UsageError
from audit.store import views
from audit.store.connection import Connection, execute

_MADE = "create or replace view "


def units(con: Connection) -> dict[str, int]:
    """The units that have cases, by code, with how many."""
    return {str(unit): int(cases) for unit, cases in execute(con, "store/units").fetchall()}


def look_at(con: Connection, unit: str) -> None:
    """Let this connection see one unit's rows only. Raises UsageError for a unit without cases."""
    known = units(con)
    if unit not in known:
        expected = f"one of {', '.join(known)}" if known else "none: no case here has a unit"
        raise UsageError(f"unit: found {unit!r}, expected {expected}")
    [(file,)] = con.execute("select current_database()").fetchall()
    tables = execute(con, "store/tables_of_cases").fetchall()
    execute(con, "store/choose_unit", {"unit": unit})
    own = f'(select case_id from "{file}".main.cases where unit = (select unit from chosen_unit))'
    for name, by_case in tables:
        whose = f"case_id in {own}" if by_case else "unit = (select unit from chosen_unit)"
        con.execute(f'create temporary view "{name}" as select * from "{file}".main."{name}" where {whose}')
    for view in views.files():
        text = view.read_text(encoding="utf-8")
        if _MADE in text:
            con.execute(text.replace(_MADE, "create temporary view "))
