"""Read and check the next recording while the one before is being stored."""

from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from audit.intake.contents import Content, read_content
from audit.intake.door.names import Names
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.folders import Sighted
from audit.intake.writing.ledger import KnownFile, Ledger
from audit.settings import Settings

# Only recordings are read ahead: what they hold does not depend on what the files before them brought.
_AHEAD = ("tracing", "wfdb")
# Larger files are read when it is their turn, so that no two of them are in memory together; our choice.
_LARGEST_AHEAD = 64 * 1024 * 1024


@dataclass(frozen=True)
class ReadFile:
    """What a file holds, what is known of it already, or why it is refused; with the remarks on it so far."""

    found: Content | KnownFile | FileRefused | None
    remarks: Remarks


def reading_ahead(
    files: Sequence[Sighted], ledger: Ledger, settings: Settings, names: Names
) -> Iterator[tuple[Sighted, ReadFile]]:
    """The files in order, each with its content."""
    with ThreadPoolExecutor(max_workers=1) as reader:
        ahead: Future[ReadFile] | None = None
        for k, sighted in enumerate(files):
            read = ahead.result() if ahead is not None else _read(sighted, ledger, settings, names)
            following = files[k + 1] if k + 1 < len(files) else None
            ahead = None
            if following is not None and _may_be_read_ahead(following):
                ahead = reader.submit(_read, following, ledger, settings, names)
            yield sighted, read


def _may_be_read_ahead(sighted: Sighted) -> bool:
    if sighted.kind not in _AHEAD or sighted.mapping is not None or sighted.left_alone is not None:
        return False
    try:
        return sighted.candidate.path.stat().st_size <= _LARGEST_AHEAD
    except OSError:
        return False


def _read(sighted: Sighted, ledger: Ledger, settings: Settings, names: Names) -> ReadFile:
    remarks = Remarks(settings.import_.max_listed, names)
    if sighted.left_alone is not None:
        return ReadFile(None, remarks)
    if sighted.candidate.refused is not None:
        return ReadFile(sighted.candidate.refused, remarks)
    for sentence in sighted.candidate.said:
        remarks.message(sentence)
    try:
        file, own_name = sighted.candidate.path, sighted.candidate.own_name
        return ReadFile(read_content(file, ledger, remarks, settings, sighted.mapping, own_name), remarks)
    except FileRefused as error:
        return ReadFile(error, remarks)
