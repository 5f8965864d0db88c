"""Whether what people wrote is still what the log says they wrote: every table is held against the log that made it.

The log is a chain of hashes, so an entry cannot be changed unseen; a row cannot be changed unseen either, because the
entry that made it tells what it held. Who writes a whole log anew is found by an anchor outside the file: the newest
entry's hash, kept with published copies, in packs and in backups.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from audit.errors import AuditError
from audit.people import log
from audit.store import people_database as database

Tables = dict[str, dict[Any, dict[str, Any]]]
# a row and its entry are written in one transaction, one after the other
_LONGEST_APART_S = 60.0


class _Kept(NamedTuple):
    """How entries of a kind are kept: the query of their rows, their key, and the columns of who wrote one and when."""

    query: str
    key: tuple[str, ...]
    by: str = ""
    at: str = ""


_CASE = ("period", "case_id")
_CHANGED = ("changed_by", "changed_at")  # the last time; of a case on an agenda it is who put it there first
_KEPT = {
    "agenda": _Kept("agenda", _CASE, "added_by", "added_at"),
    "finding": _Kept("findings", _CASE, *_CHANGED),
    "action": _Kept("actions", ("action_id",), *_CHANGED),
    "meeting": _Kept("meetings", ("period",), *_CHANGED),
    "agreed": _Kept("agreed", (*_CASE, "fetus", "standard"), *_CHANGED),
    "issue": _Kept("issues", ("issue_id",), *_CHANGED),
    "family_question": _Kept("family_questions", ("question_id",), *_CHANGED),
    "phase": _Kept("phases", ("measure", "from_period"), "entered_by", "entered_at"),
    "strip_mark": _Kept("strip_marks", ("mark_id",), "left_by", "left_at"),
    "read": _Kept("read", ("read_id",)),
    "batch": _Kept("batches", ("batch_id",)),
    "account": _Kept("accounts", ("code",)),
    "access": _Kept("access", (), at="chosen_at"),
}


def problems(db: Path) -> list[str]:
    """One sentence for everything that is not as the log says, or that cannot be read; empty when all holds."""
    try:
        if not database.is_there(db):
            return []
        found = database.damage(db)
        if found:
            return [f"people's store: damaged: {line}" for line in found]
        broken = log.verify(db)
        try:
            return [*broken, *_compared(db, log.entries(db))]
        except (ValueError, KeyError, TypeError, AttributeError):  # an entry that no program of ours wrote
            return [*(broken or ["the log"]), "people's store: its rows cannot be held against the log as it stands"]
    except AuditError as error:
        return [f"people's store: {error}"]


def against(db: Path, kept: Mapping[str, Any], where: str) -> list[str]:
    """Whether the log still goes through an entry whose hash was kept outside it; a sentence when it does not."""
    number, head = kept.get("log_entries"), kept.get("log_head")
    if not isinstance(number, int) or not isinstance(head, str):
        return [f"{where}: holds no entry of the log to compare with"]
    if number == 0:
        return []
    hashes = {row["entry"]: row["hash"] for row in log.entries(db)}
    if hashes.get(number) == head:
        return []
    what = "was cut short" if number not in hashes else "is another one"
    return [f"the log {what}: entry {number} does not have the hash that is kept in {where}"]


def _compared(db: Path, entries: Sequence[database.Row]) -> list[str]:
    expected, openings = _replayed(entries)
    found: list[str] = []
    for name, kept in _KEPT.items():
        listed = database.ask(db, f"everything_{kept.query}")
        rows = {tuple(row[column] for column in kept.key): dict(row) for row in listed}
        if name == "batch":
            _add_windows(db, rows)
        if name == "account":
            for row in rows.values():
                row["secret"] = secret_mark(bytes.fromhex(row["secret"]))
        found += _differences(name, expected[name], rows)
    opened = [dict(row) for row in database.ask(db, "everything_opened")]
    if [_untimed(row) for row in opened] != [_untimed(row) for row in openings]:
        found.append(
            f"openings of outcomes: found {len(opened)}, the log has {len(openings)}, and they are not the same"
        )
    return found


def _replayed(entries: Sequence[database.Row]) -> tuple[Tables, list[dict[str, Any]]]:
    """What the tables must hold after every entry of the log."""
    tables: Tables = defaultdict(dict)
    openings: list[dict[str, Any]] = []
    for entry in entries:
        key = json.loads(entry["subject_key"])
        new = json.loads(entry["new"]) if entry["new"] else {}
        subject, deed = str(entry["subject"]), str(entry["deed"])
        if (deed, subject) == ("opened", "outcome"):
            openings.append(new)
        elif (deed, subject) == ("reordered", "agenda"):
            for position, case_id in enumerate(new, start=1):
                tables["agenda"][key["period"], case_id]["position"] = position
        elif subject == "agenda" and deed in ("drawn", "draw taken back"):
            _draw(tables["agenda"], key["period"], new, _written(entry, changed=False))
        elif (deed, subject) == ("read", "strip"):
            tables["read"][(key["read_id"],)] = {**key, **new, "saved_at": entry["at"]}
        elif (deed, subject) == ("closed", "batch"):
            closed = {"closed": 1, "closed_by": entry["who"], "closed_at": entry["at"]}
            tables["batch"].setdefault((key["batch_id"],), {}).update(closed)
        elif (deed, subject) == ("reopened", "batch"):
            tables["batch"].setdefault((key["batch_id"],), {}).update(
                {"closed": 0, "closed_by": None, "closed_at": None, "absorbed": 0}
            )
        elif (deed, subject) == ("moved into the database", "batch"):
            # a later step may ask for its reads anew, so from here on either is right
            tables["batch"].setdefault((key["batch_id"],), {}).pop("absorbed", None)
        elif (deed, subject) == ("made", "batch"):
            made = {"closed": 0, "absorbed": 0, "created_by": entry["who"], "created_at": entry["at"]}
            tables["batch"][(key["batch_id"],)] = {**key, **made, **new}
        elif subject in _KEPT:
            place = tuple(key[column] for column in _KEPT[subject].key)
            if deed == "removed":
                tables[subject].pop(place, None)
            elif subject == "account":
                held = {name: new[name] for name in ("secret", "role") if name in new}
                tables[subject][place] = {**tables[subject].get(place, {}), **key, **held}
            else:
                before = tables[subject].get(place, {})
                tables[subject][place] = {**before, **key, **new, **_written(entry, bool(before))}
    return tables, openings


def _draw(agenda: dict[Any, dict[str, Any]], period: str, new: Mapping[str, Any], written: Mapping[str, Any]) -> None:
    """A draw puts its cases at the end, and one that is taken back takes them off; others stand for themselves.

    One that goes on, and its taking back, leave what was `there`; `before` are the drawn ones of the former.
    """
    none = {"probability": None, "seed": None, "drawn_from": None}
    there = new.get("there", ())
    for place in [place for place in agenda if place[0] == period]:
        if agenda[place].get("drawn_from") is not None:
            if place[1] in there:
                agenda[place] |= none
            else:
                del agenda[place]
        elif agenda[place].get("probability") is not None:
            agenda[place] |= none
    for case_id in new["certain"]:
        agenda.setdefault((period, case_id), {}).update(none, probability=1.0)
    last = max((row.get("position", 0) for (month, _), row in agenda.items() if month == period), default=0)
    drawn = {name: new[name] for name in none if name in new}
    for row in new.get("before", ()):
        agenda[period, row["case_id"]] |= {name: row[name] for name in none}
    for case_id in (case_id for case_id in new.get("drawn", ()) if case_id in there):
        agenda[period, case_id] |= drawn
    added = [case_id for case_id in new.get("drawn", ()) if case_id not in there]
    for position, case_id in enumerate(added, start=last + 1):
        row = {"period": period, "case_id": case_id, "position": position, "question": None}
        agenda[period, case_id] = {**row, **drawn, **written}


def _written(entry: Mapping[str, Any], changed: bool) -> dict[str, Any]:
    """Who wrote the row and when, where its columns say so after this entry."""
    if changed and entry["subject"] == "agenda":
        return {}
    kept = _KEPT[entry["subject"]]
    return {name: entry[part] for name, part in ((kept.by, "who"), (kept.at, "at")) if name}


def _differences(
    name: str, expected: Mapping[Any, Mapping[str, Any]], rows: Mapping[Any, Mapping[str, Any]]
) -> list[str]:
    found = []
    for key in sorted({*expected, *rows}, key=str):
        words = f"{name} {', '.join(map(str, key))}"
        if key not in rows:
            found.append(f"{words}: the log has it, the store has not")
        elif key not in expected:
            found.append(f"{words}: the store has it, the log has not")
        else:
            other = [column for column, value in expected[key].items() if not _same(column, value, rows[key])]
            found += [f"{words}: {', '.join(other)} not as the log has it"] if other else []
    return found


def _same(column: str, value: Any, row: Mapping[str, Any]) -> bool:
    if column not in row:
        return True
    if column.endswith("_at") and value is not None:
        try:
            apart = datetime.fromisoformat(str(row[column])) - datetime.fromisoformat(str(value))
        except (ValueError, TypeError):
            return False
        return abs(apart.total_seconds()) <= _LONGEST_APART_S
    return bool(row[column] == value)


def _untimed(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: row.get(name) for name in ("case_id", "period", "who", "place", "at")}


def _add_windows(db: Path, batches: Mapping[Any, dict[str, Any]]) -> None:
    strips: dict[int, list[database.Row]] = defaultdict(list)
    for row in database.ask(db, "everything_windows"):
        strips[int(row["batch_id"])].append(row)
    orders: dict[int, list[database.Row]] = defaultdict(list)
    for row in database.ask(db, "everything_orders"):
        orders[int(row["batch_id"])].append(row)
    for (batch_id,), batch in batches.items():
        batch["windows_sha256"] = windows_sha256(strips[batch_id])
        batch["orders_sha256"] = orders_sha256(orders[batch_id])
        batch["readers"] = list(dict.fromkeys(row["reader"] for row in orders[batch_id]))


def windows_sha256(rows: Sequence[Mapping[str, Any]]) -> str:
    """Hash of a batch's strips, in the order of their numbers."""
    return _sha256(rows, "strip_number", "case_id", "fetus", "start_s", "end_s", "occasion", "control")


def orders_sha256(rows: Sequence[Mapping[str, Any]]) -> str:
    """Hash of who reads a batch's strips in which order, one reader after the other as they were named."""
    return _sha256(rows, "reader", "position", "strip_number")


def _sha256(rows: Sequence[Mapping[str, Any]], *columns: str) -> str:
    text = json.dumps([[row[column] for column in columns] for row in rows])
    return hashlib.sha256(text.encode()).hexdigest()


def secret_mark(secret: bytes) -> str:
    """What tells one salted PIN hash from another without saying it."""
    return hashlib.sha256(secret).hexdigest()[:16]
