"""Whether one person alone uses the unit, without passwords: chosen on the machine, kept, and in the log."""

from pathlib import Path

from audit.people import accounts, log
from audit.people.permissions import MACHINE, Deed
from audit.people.writing import writing
from audit.store import people_database as database


def choose(db: Path, *, single_user: bool) -> None:
    """Keep the choice; the same one again changes nothing."""
    with writing(db, MACHINE, Deed.KEEP_PEOPLE) as con:
        old = database.rows(con, "access")
        if old and bool(old[0]["single_user"]) == single_user:
            return
        database.execute(con, "access_choose", {"single_user": int(single_user), "at": log.utc_now()})
        before = {"single_user": old[0]["single_user"]} if old else None
        log.append(con, MACHINE, "chosen", "access", {}, old=before, new={"single_user": int(single_user)})


def single_user(db: Path) -> bool:
    """Did the unit choose to be one person's, without passwords? Not chosen is no."""
    found = database.ask(db, "access")
    return bool(found and found[0]["single_user"])


def is_new(db: Path) -> bool:
    """Nobody chose anything yet, and nobody is known."""
    return not database.ask(db, "access") and not accounts.known(db)
