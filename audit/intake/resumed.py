"""An import that was stopped and is asked for again goes on where it ended: what it took is passed over unread.

Its files are known by the hash of their content. They are passed over where they are the first of this import and
nothing else was asked for: then nothing has changed that could let in now what was kept out then. From the first file
that was not taken on every file is looked at as always, and so is every file where one that was taken is not among the
first.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass

from audit.intake.contents import file_sha256
from audit.intake.door.remarks import FileRefused, Remark
from audit.intake.folders import Sighted
from audit.intake.writing.ledger import KnownFile, Ledger, reader_of
from audit.settings import Settings
from audit.store import database
from audit.version import __version__


@dataclass(frozen=True)
class PassedOver:
    """A file that a stopped import took, or knew already, and what was said of it when it was taken."""

    sighted: Sighted
    known: KnownFile
    taken: bool
    remarks: tuple[Remark, ...] = ()


def asked(settings: Settings, mappings: Sequence[str], unit: str | None, *, replace: bool) -> str:
    """The hash of what an import is asked for beside its files."""
    text = json.dumps([settings.sha256, list(mappings), unit, replace, __version__])
    return hashlib.sha256(text.encode()).hexdigest()


def passed_over(
    con: database.Connection, asked_sha256: str, found: Sequence[Sighted], ledger: Ledger, settings: Settings
) -> list[PassedOver]:
    """The first files, as far as the last import took them before it was stopped."""
    rows = database.execute(con, "intake/taken_before_a_stop", {"asked_sha256": asked_sha256}).fetchall()
    taken: dict[str, int] = dict(rows)
    passed: list[PassedOver] = []
    for sighted in found if taken else ():
        sha256 = "" if sighted.left_alone is not None else _sha256(sighted, settings)
        known = ledger.files.get(sha256)
        if known is None or known.superseded or known.reader != reader_of(known.kind):
            break
        if sha256 in taken:
            said = database.execute(con, "intake/remarks_on_import", {"import_id": taken[sha256]}).fetchall()
            passed.append(PassedOver(sighted, known, True, tuple(Remark(*row) for row in said)))
        elif known.settled:
            passed.append(PassedOver(sighted, known, False))
        else:
            break
    return passed if taken.keys() <= {each.known.sha256 for each in passed} else []


def _sha256(sighted: Sighted, settings: Settings) -> str:
    """Under which the file is known; "" for one that cannot be looked at, which is told when it is taken."""
    candidate = sighted.candidate
    if candidate.refused is not None:
        return candidate.refused.sha256
    if not candidate.path.is_file():
        return ""
    try:
        return file_sha256(candidate.path, settings, sighted.mapping)
    except (FileRefused, OSError):
        return ""
