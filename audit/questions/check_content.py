"""Whether the content is what was stored: each stretch against its hash, each table against the last command's seal."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from audit.intake.door.shape import shape
from audit.store import database, objects, seal
from audit.store.database import Record, records
from audit.store.tracings import load_stretches

# cases looked at together; our choice
_TOGETHER = 40
# the row of the seal that holds what the views say
VIEWS = ("views", "")


def stretch_problems(con: database.Connection) -> list[str]:
    """Stretches whose samples are not those that were stored, one sentence each."""
    known: dict[str, dict[tuple[str, float], str]] = {}
    for row in records(con, "check/stretch_hashes"):
        known.setdefault(row["case_id"], {})[row["fetus"], row["start_s"]] = row["content_sha256"]
    case_ids = list(known)
    found: list[str] = []
    for first in range(0, len(case_ids), _TOGETHER):
        some = case_ids[first : first + _TOGETHER]
        if list(_other_samples(con, some, known)):
            # one case's missing minute shifts those of its neighbours
            found += [problem for case_id in some for problem in _other_samples(con, [case_id], known)]
    return found


def _other_samples(
    con: database.Connection, case_ids: Sequence[str], known: dict[str, dict[tuple[str, float], str]]
) -> Iterator[str]:
    try:
        stretches = load_stretches(con, case_ids)
    except (LookupError, ValueError) as error:
        yield f"{case_ids[0]}: the samples cannot be put together: {error}"
        return
    for (case_id, fetus), parts in stretches.items():
        for part in parts:
            if part.content_sha256() != known[case_id][fetus, part.start_s]:
                yield f"{case_id} {fetus}: the samples of the stretch at {part.start_s:g} s are not those stored"


def object_problems(found: objects.Differences, where: str) -> list[str]:
    """What somebody else put into a store, took out of it or made anew; a name that is not ours is not shown."""
    said = [f"{where}: holds a {kind} that no version of this program makes, named {shape(name)}"
            for kind, name in found.foreign]  # fmt: skip
    said += [f"{where}: the {kind} {name} is missing" for kind, name in found.missing]
    return said + [f"{where}: the {kind} {name} is not as this program makes it" for kind, name in found.other]


def against(con: database.Connection, kept: Mapping[str, Any], where: str) -> list[str]:
    """Whether the seal is still the one that was kept for this very state; a sentence when it is not."""
    now = seal.anchor(con)
    if kept.get("change_mark") != now["change_mark"] or kept.get("sealed_sha256") == now["sealed_sha256"]:
        return []
    return [f"the database was sealed anew by something else: its seal is not the one kept in {where}"]


def seal_problems(con: database.Connection) -> list[str]:
    """Tables that are not as the last command that wrote left them, one sentence for each table and case."""
    sealed = records(con, "check/sealed")
    if not sealed or sealed[0]["change_mark"] != database.change_mark(con):
        return [
            "the last command that wrote was killed, or something else wrote to the file: what the tables hold cannot"
            " be compared until `import` or `analyse` has run again"
        ]
    if not sealed[0]["same_engine"]:
        return []
    then = {(row["table_name"], row["case_id"]): row for row in sealed}
    now = {(row["table_name"], row["case_id"]): row for row in records(con, "store/digests")}
    if VIEWS not in then:  # sealed by a former program
        now.pop(VIEWS)
    return [_difference(key, then.get(key), now.get(key)) for key in sorted({*then, *now}) if _differ(then, now, key)]


def _differ(then: dict[tuple[str, str], Record], now: dict[tuple[str, str], Record], key: tuple[str, str]) -> bool:
    before, after = then.get(key), now.get(key)
    return before is None or after is None or (before["rows"], before["digest"]) != (after["rows"], after["digest"])


def _difference(key: tuple[str, str], then: Record | None, now: Record | None) -> str:
    table, case_id = key
    where = f"{case_id}: {table}" if case_id else table
    before, after = then["rows"] if then else 0, now["rows"] if now else 0
    if before != after:
        return f"{where}: found {after} rows, {before} when a command last wrote"
    return f"{where}: the rows are not what they were when a command last wrote"
