"""Taking back an entry of a meeting: what stood before stands again, and the log keeps both.

Each kind of entry has one function here that undoes a logged deed by an ordinary one. An opening of an outcome, a read
and a closed batch are not entries of this kind: what was seen cannot be unseen, and a batch is opened again.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any

from audit.errors import UsageError
from audit.people import actions, agenda, agreed, family_questions, findings, issues, log, meetings, phases
from audit.people.findings import Finding
from audit.people.meetings import Meeting
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database

Entry = Mapping[str, Any]


def of_meeting(db: Path, period: str, *, most: int = 20) -> list[database.Row]:
    """The newest entries of this month's meeting that can be taken back: those that nothing followed, newest first."""
    found: list[database.Row] = []
    touched: set[tuple[str, str]] = set()
    own_actions = _actions_of(db, period)
    for entry in reversed(_standing(db)):
        place = entry["subject"], _place(entry)
        if place not in touched:
            touched.add(place)
            if _period(entry) == period or place in own_actions:
                found.append(entry)
        if len(found) == most:
            break
    return found


def entered_since(db: Path, period: str, made_s: float) -> bool:
    """Was anything of this month's meeting entered after this moment (seconds since 1970)? Then a pack lacks it."""
    newest_at = [datetime.fromisoformat(row["at"]).timestamp() for row in of_meeting(db, period, most=1)]
    return any(at_s > made_s for at_s in newest_at)


def words(entry: Entry) -> str:
    """What an entry is about and says, for a list of entries."""
    key = json.loads(entry["subject_key"])
    new = json.loads(entry["new"] or entry["old"] or "{}")
    said = {**new, **key} if isinstance(new, dict) else {**key, "order": ", ".join(new)}
    if entry["deed"] == "drawn":
        said["drawn"] = f"at random: {', '.join(new['drawn'])}"
    shown = ("case_id", "order", "drawn", "question", "what", "action", "state", "label", "note", "care_grade",
             "learning_point", "went_well", "held_on", "answer")  # fmt: skip
    return "; ".join(str(said[name]) for name in shown if said.get(name))


def newest(db: Path) -> int:
    """Number of the newest entry that can be taken back; 0 when there is none."""
    return max((int(row["entry"]) for row in _standing(db)), default=0)


def undo(db: Path, entry_number: int, *, who: str) -> None:
    """Take one entry back. Raises UsageError where there is none of this kind, or where a later one followed it."""
    standing = _standing(db)
    entry = next((row for row in standing if row["entry"] == entry_number), None)
    if entry is None:
        raise UsageError(f"entry {entry_number}: there is none that can be taken back")
    place = entry["subject"], _place(entry)
    if any((row["subject"], _place(row)) == place for row in standing if row["entry"] > entry_number):
        raise UsageError(f"entry {entry_number}: it was changed since; take the later one back first")
    key, old = json.loads(entry["subject_key"]), json.loads(entry["old"]) if entry["old"] else None
    before = log.entries(db)[-1]["entry"]
    UNDONE[entry["subject"]](db, entry, key, old, who)
    did = [row["entry"] for row in log.entries(db) if row["entry"] > before and row["subject"] == entry["subject"]]
    # a case that comes back to the agenda is added and then put in its place: neither may be taken back by itself
    by = {"by" if number == did[-1] else f"by_{number}": number for number in did}
    with writing(db, who, Deed.HOLD_MEETING) as con:
        log.append(con, who, "taken back", "entry", {"entry": entry_number, **by})


def _standing(db: Path) -> list[database.Row]:
    """Entries of the kinds below, oldest first, without those that were taken back and what took them back."""
    every = log.entries(db)
    gone: set[int] = set()
    for row in every:
        if (row["deed"], row["subject"]) == ("taken back", "entry"):
            gone |= set(json.loads(row["subject_key"]).values())
    return [row for row in every if row["subject"] in UNDONE and row["entry"] not in gone]


def _agenda(db: Path, entry: Entry, key: Any, old: Any, who: str) -> None:
    if entry["deed"] == "reordered":
        agenda.reorder(db, key["period"], old, who=who)
    elif entry["deed"] == "added":
        agenda.remove(db, key["period"], key["case_id"], who=who)
    elif entry["deed"] == "drawn":
        agenda.take_back_draw(db, key["period"], **{"certain": [], **(old or {})}, who=who)
    else:
        agenda.add(db, key["period"], key["case_id"], who=who, question=old["question"], came=old)
    if entry["deed"] == "removed":
        order = [row["case_id"] for row in agenda.items(db, key["period"])]
        order.insert(min(old["position"] - 1, len(order) - 1), order.pop())
        agenda.reorder(db, key["period"], order, who=who)


def _finding(db: Path, entry: Entry, key: Any, old: Any, who: str) -> None:
    kept = {field.name: old[field.name] for field in fields(Finding)} if old else {}
    if old:
        kept["factors"] = tuple(json.loads(old["factors"]))
    findings.save(db, key["period"], key["case_id"], Finding(**kept), who=who)


def _action(db: Path, entry: Entry, key: Any, old: Any, who: str) -> None:
    row = database.ask(db, "action", key)[0]
    before = {name: old[name] for name in ("state", "due_period", "action", "owner_role") if name in old} if old else {}
    changes: dict[str, Any] = before or {"state": actions.TAKEN_BACK}
    if old and "measure" in old:
        changes["aim"] = actions.as_aim(old)
    if old and "issue_id" in old:
        changes["issue_id"] = old["issue_id"] or 0
    actions.change(db, key["action_id"], who=who, period=row["period"], **changes)


def _issue(db: Path, entry: Entry, key: Any, old: Any, who: str) -> None:
    if entry["deed"] == "added":
        issues.remove(db, key["issue_id"], who=who)
    elif entry["deed"] == "removed":
        issues.add(db, old["period"], old["case_id"], issues.as_issue(old), who=who)
    else:
        issues.change(db, key["issue_id"], issues.as_issue(old), who=who)


def _family_question(db: Path, entry: Entry, key: Any, old: Any, who: str) -> None:
    if entry["deed"] == "added":
        family_questions.remove(db, key["question_id"], who=who)
    elif entry["deed"] == "removed":
        said = old["question"]
        family_questions.add(db, old["period"], old["case_id"], said, answer=old["answer"], who=who)
    else:
        said = old["question"]
        family_questions.change(db, key["question_id"], question=said, answer=old["answer"] or "", who=who)


def _meeting(db: Path, entry: Entry, key: Any, old: Any, who: str) -> None:
    before = Meeting(old["held_on"], json.loads(old["attendance"])) if old else Meeting()
    meetings.save(db, key["period"], before, who=who)


def _agreed(db: Path, entry: Entry, key: Any, old: Any, who: str) -> None:
    if old is None:
        agreed.remove(db, **key, who=who)
    else:
        agreed.save(db, **key, agreed=agreed.as_agreed(old), who=who)


def _phase(db: Path, entry: Entry, key: Any, old: Any, who: str) -> None:
    if entry["deed"] == "added":
        phases.remove(db, key["from_period"], who=who, measure=key["measure"])
    else:
        phases.add(db, key["from_period"], old["label"], who=who, measure=key["measure"])


# kind of entry -> what undoes it; a new kind of entry of the meeting is added here
UNDONE: dict[str, Callable[[Path, Entry, Any, Any, str], None]] = {
    "agenda": _agenda,
    "finding": _finding,
    "action": _action,
    "issue": _issue,
    "family_question": _family_question,
    "meeting": _meeting,
    "agreed": _agreed,
    "phase": _phase,
}


def _place(entry: Entry) -> str:
    """What an entry is about: entries of one agenda belong together, as its order does."""
    if entry["subject"] == "agenda":
        return str(json.loads(entry["subject_key"])["period"])
    return str(entry["subject_key"])


def _period(entry: Entry) -> str | None:
    for part in ("subject_key", "new", "old"):
        found = json.loads(entry[part]) if entry[part] else {}
        if isinstance(found, dict) and "period" in found:
            return str(found["period"])
    return None


def _actions_of(db: Path, period: str) -> set[tuple[str, str]]:
    """Actions of this meeting, whose later entries name the number alone."""
    numbers = [row["action_id"] for row in database.ask(db, "everything_actions") if row["period"] == period]
    return {("action", json.dumps({"action_id": number}, separators=(",", ":"))) for number in numbers}
