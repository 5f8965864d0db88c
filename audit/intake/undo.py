"""Take an import back: the cases that it brought go, those that it changed are again as they were, findings too."""

from collections.abc import Container, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from audit.errors import UsageError
from audit.intake.writing.ledger import now
from audit.store import before, database
from audit.words import counted


@dataclass(frozen=True)
class Undone:
    """What was taken back: cases that are gone, cases that are as they were, and whether the unit's counts are."""

    removed: int
    restored: int
    counts: bool


def batches(con: database.Connection) -> list[dict[str, Any]]:
    """The batches, the newest first; see queries/intake/batches.sql."""
    return database.records(con, "intake/batches")


def undo(db: Path, batch_id: int, *, spoken_of: Mapping[str, Container[str]]) -> Undone:
    """Take a batch back.

    `spoken_of`: cases that people have written about, by where; a batch that brought one of them stays. One that was
    begun and killed is finished by the same call. Raises UsageError with the reasons why a batch cannot be taken back.
    """
    with database.open_for_writing(db) as con:
        batch = next((row for row in batches(con) if row["batch_id"] == batch_id), None)
        if batch is None:
            raise UsageError(f"batch {batch_id}: there is none of this number; `imports` lists them")
        cases = database.records(con, "intake/batch_cases_of", {"batch_id": batch_id})
        if not batch["undoing"]:
            why = _reasons(con, batch, cases, spoken_of)
            if why:
                raise UsageError(f"not taken back, batch {batch_id}: {'; '.join(why)}")
        new = sorted({row["case_id"] for row in cases if row["was_new"]})
        changed = sorted({row["case_id"] for row in cases if not row["was_new"] and row["case_id"]})
        database.execute(con, "intake/unfinished", {"unfinished": True})
        with database.transaction(con):
            _put_back(con, batch_id, cases, new)
        # in a transaction of its own: a case goes only after what refers to it
        with database.transaction(con):
            before.remove(con, "cases", new)
            span = {name: batch[name] for name in ("first_import_id", "last_import_id")}
            database.execute(con, "intake/forget_import_rejects", span)
            database.execute(con, "intake/forget_imports", span)
            last = batch["last_import_id"]
            database.execute(con, "intake/undo_done", {"batch_id": batch_id, "last_import_id": last, "now": now()})
            database.execute(con, "intake/forget_undone")
        database.execute(con, "intake/unfinished", {"unfinished": False})
    return Undone(len(new), len(changed), any(row["part"] == "unit_months" for row in cases))


def _put_back(con: database.Connection, batch_id: int, cases: list[dict[str, Any]], new: list[str]) -> None:
    found = before.found_tables(con)
    read = {row["case_id"] for row in cases if not row["was_new"]}
    for table in found:
        before.remove(con, table, [*new, *read])
    for part, tables in before.PARTS.items():
        of_part = [row["case_id"] for row in cases if row["part"] == part]
        ids = [*new, *(case_id for case_id in of_part if case_id not in new)]
        for table in tables if ids and (part != "unit_months" or of_part) else ():
            if table != "cases":
                before.remove(con, table, ids)
    for table, content in database.execute(con, "intake/before_of", {"batch_id": batch_id}).fetchall():
        before.put_back(con, table, bytes(content))
    database.execute(con, "intake/undo_begun", {"batch_id": batch_id})


def _reasons(
    con: database.Connection,
    batch: dict[str, Any],
    cases: list[dict[str, Any]],
    spoken_of: Mapping[str, Container[str]],
) -> list[str]:
    if batch["undone_at"] is not None:
        return ["it was taken back before"]
    why = [
        f"batch {row['batch_id']} wrote to {row['cases'] or 'no'} of its cases"
        f"{'' if row['cases'] else ' but to the same counts of the unit'}: take that one back first"
        for row in database.records(con, "intake/later_batches", {"batch_id": batch["batch_id"]})
    ]
    if not why and batch["finished"]:
        unlike = 0
        for part in before.PARTS:
            mine = {row["case_id"]: row["digest_after"] for row in cases if row["part"] == part}
            now_held = before.digests(con, part, list(mine)) if mine else {}
            unlike += sum(now_held.get(case_id) != digest for case_id, digest in mine.items())
        if unlike:
            why.append(
                f"{counted(unlike, 'part')} of its cases {'was' if unlike == 1 else 'were'} changed since by something"
                " other than an import, or by a former version of the program as it brought the database forward:"
                " import the right files with --replace, or restore a backup from before"
            )
    new = {row["case_id"] for row in cases if row["was_new"]}
    for place, ids in spoken_of.items():
        count = sum(case_id in ids for case_id in new)
        if count:
            why.append(f"{count} of the cases it brought {'is' if count == 1 else 'are'} in {place}")
    return why
