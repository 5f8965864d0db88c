"""What an import changes, noted before it is changed and in the same transaction, so that it can be taken back."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from audit.intake.checks.tracings import TracingContent
from audit.intake.writing.ledger import Ledger, now
from audit.store import before, database

_AT_ONCE = 200  # cases whose rows are held in memory together


class Journal:
    """One batch. Cases are noted at their first touch; those that were new need no more than their id."""

    def __init__(self, con: database.Connection, ledger: Ledger, asked_sha256: str) -> None:
        self._con, self._ledger = con, ledger
        self._found = before.found_tables(con)
        self._seen: set[tuple[str, str]] = set()
        self._new: set[str] = set()
        self._kept: set[str] = set()
        self._history: set[str] = set()
        [(self.batch_id, taken)] = database.execute(con, "intake/next_batch").fetchall()
        ledger.last_import_id = max(ledger.last_import_id, taken)
        with database.transaction(con):
            begun = {"batch_id": self.batch_id, "first_import_id": ledger.last_import_id + 1, "now": now()}
            database.execute(con, "intake/begin_batch", {**begun, "asked_sha256": asked_sha256})

    @contextmanager
    def of_one_file(self) -> Iterator[None]:
        """What a file's transaction noted is forgotten with it when it is undone."""
        former = set(self._seen), set(self._new), set(self._kept), set(self._history)
        try:
            yield
        except BaseException:
            self._seen, self._new, self._kept, self._history = former
            raise

    def touching(self, part: str, case_ids: Iterable[str]) -> None:
        """Note that a part of these cases is about to be written to."""
        first = sorted({case_id for case_id in case_ids if (case_id, part) not in self._seen})
        if not first:
            return
        self._seen |= {(case_id, part) for case_id in first}
        self._new |= {case_id for case_id in first if case_id and case_id not in self._ledger.cases}
        there = [case_id for case_id in first if case_id not in self._new]
        digests = before.digests(self._con, part, there) if there else {}
        for k in range(0, len(there), _AT_ONCE):
            self._keep(part, there[k : k + _AT_ONCE])
        self._note(part, first, digests)

    def following(self, contents: Iterable[TracingContent]) -> Iterator[TracingContent]:
        """Note each tracing's case before it is stored; those that were new, in one go after the last."""
        new: list[str] = []
        for content in contents:
            key = (content.case_id, "tracing")
            if content.case_id in self._ledger.cases:
                self.touching("tracing", [content.case_id])
            elif key not in self._seen:
                self._seen.add(key)
                self._new.add(content.case_id)
                new.append(content.case_id)
            yield content
        if new:
            self._note("tracing", new, {})

    def _note(self, part: str, case_ids: Sequence[str], digests: Mapping[str, str]) -> None:
        of_batch = {"batch_id": self.batch_id, "part": part}
        noted = [
            {**of_batch, "case_id": each, "was_new": each in self._new, "digest_before": digests.get(each)}
            for each in case_ids
        ]
        database.put(self._con, "intake/note_batch_cases", noted)

    def finish(self) -> None:
        """Keep of the batch what it changed; a batch that changed and noted nothing leaves no trace."""
        parts: dict[str, list[str]] = {}
        for case_id, part in self._seen:
            parts.setdefault(part, []).append(case_id)
        with database.transaction(self._con):
            for part, case_ids in parts.items():
                after = before.digests(self._con, part, case_ids)
                of_batch = {"batch_id": self.batch_id, "part": part}
                rows = [{**of_batch, "case_id": each, "digest_after": after.get(each)} for each in case_ids]
                database.put(self._con, "intake/finish_batch_cases", rows)
            ended = {"batch_id": self.batch_id, "last_import_id": self._ledger.last_import_id}
            database.execute(self._con, "intake/finish_batch", ended)
            database.execute(self._con, "intake/forget_empty_batches")

    def _keep(self, part: str, case_ids: Sequence[str]) -> None:
        tables = list(before.PARTS[part])
        # there are findings only where there is a tracing
        read = {case_id for case_id, _ in self._ledger.stretches}
        found = [case_id for case_id in case_ids if case_id in read and case_id not in self._kept]
        self._kept |= set(found)
        # a case without a tracing has nothing but its history; a part that is noted later has it from the first one
        history = [case_id for case_id in case_ids if case_id not in self._history]
        self._history |= set(history)
        derived = [name for name in self._found if name != before.HISTORY]
        for names, ids in ((tables, case_ids), (derived, found), ([before.HISTORY], history)):
            for table in names if ids else ():
                rows = before.rows_of(self._con, table, ids)
                if len(rows):
                    kept = {"batch_id": self.batch_id, "table_name": table, "content": before.packed(rows)}
                    database.execute(self._con, "intake/keep_before", kept)
