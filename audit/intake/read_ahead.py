"""Read and check the next recordings while the one before is being stored: in a thread, or in a process of their own.

A large import has two cores at work: one process reads and checks, this one stores, alone and in the order of the
files. What is stored, said and refused is what one process would, and what happens to the helper changes none of it:
its part of a file is then done here.
"""

import os
from collections import deque
from collections.abc import Callable, Container, Generator, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from itertools import islice

from audit.intake.checks.tracings import TracingContent
from audit.intake.contents import Content, read_content
from audit.intake.door.names import UnitNames
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.folders import Sighted
from audit.intake.writing.ledger import KnownFile, Ledger
from audit.processes import Helper, HelperGone
from audit.settings import Settings
from audit.store.pseudonyms import Pseudonyms

# Only recordings are read ahead: what they hold does not depend on what the files before them brought.
_AHEAD = ("tracing", "wfdb")
# Larger files are read by the thread when it is their turn, so that no two of them are in memory together; our choice.
_LARGEST_AHEAD = 64 * 1024 * 1024
_WORTH_A_PROCESS = 128 * 1024 * 1024  # of recordings in all, from which a start of some 2 s is paid; our choice
_FILES_AHEAD = 3  # of a helper; our choice


@dataclass(frozen=True)
class ReadFile:
    """What a file holds, what is known of it already, or why it is refused; with the remarks on it so far."""

    found: Content | KnownFile | FileRefused | None
    remarks: Remarks


@dataclass(frozen=True)
class _Told:
    """What reading a file brings forth, in turn, with the remarks made on the way to it.

    First what the file is, or why it is refused. Of one that is read in blocks each tracing follows, and in the end
    nothing, or why it is refused after all.
    """

    what: Content | KnownFile | FileRefused | TracingContent | None
    remarks: Remarks


def reading_ahead(
    files: Sequence[Sighted], ledger: Ledger, settings: Settings, names: UnitNames, helper: bool | None = None
) -> Generator[tuple[Sighted, ReadFile], None, None]:
    """The files in order, each with its content.

    `helper`: whether a process of their own reads the recordings; None = where there are two cores and enough to read.
    """
    if helper is None:
        cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
        helper = cores > 1 and sum(_size(each) for each in files if _alone(each)) >= _WORTH_A_PROCESS
    started = _started(ledger, settings, names) if helper else None
    if started is None:
        yield from _by_a_thread(files, ledger, settings, names)
        return
    with closing(started):
        yield from _by_a_helper(started, files, ledger, settings, names)


def _started(ledger: Ledger, settings: Settings, names: UnitNames) -> "Helper[Sighted, _Told] | None":
    """The helper; None where the system gives no process."""
    work = partial(_told_by_the_helper, settings, _settled(ledger), names.stored_cases, names.stored_readers)
    try:
        return Helper(work, names.pseudonyms)
    except OSError:
        return None


def _settled(ledger: Ledger) -> dict[str, KnownFile]:
    return {sha256: known for sha256, known in ledger.files.items() if known.settled}


def _by_a_thread(
    files: Sequence[Sighted], ledger: Ledger, settings: Settings, names: UnitNames
) -> Iterator[tuple[Sighted, ReadFile]]:
    with ThreadPoolExecutor(max_workers=1) as reader:
        ahead: Future[ReadFile] | None = None
        for k, sighted in enumerate(files):
            read = ahead.result() if ahead is not None else _read(sighted, ledger, settings, names)
            following = files[k + 1] if k + 1 < len(files) else None
            ahead = None
            if following is not None and _may_be_read_ahead(following):
                ahead = reader.submit(_read, following, ledger, settings, names)
            yield sighted, read


def _by_a_helper(
    helper: "Helper[Sighted, _Told]", files: Sequence[Sighted], ledger: Ledger, settings: Settings, names: UnitNames
) -> Iterator[tuple[Sighted, ReadFile]]:
    settled, gone = _settled(ledger), False
    waiting = deque(filter(_alone, files))
    for _ in range(min(_FILES_AHEAD, len(waiting))):
        helper.give(waiting.popleft())
    for sighted in files:
        if not _alone(sighted) or gone:
            yield sighted, _read(sighted, ledger, settings, names)
            continue
        remarks = Remarks(settings.import_.max_listed, names)
        told = _Following(helper, partial(_told, sighted, Ledger(settled), remarks, settings))
        yield sighted, _received(sighted, told, ledger, settings, names)
        told.finish()
        gone = told.gone
        if waiting and not gone:
            helper.give(waiting.popleft())


class _Following:
    """What a file brings forth, from the helper; and from here on in this process when the helper fails."""

    def __init__(self, helper: "Helper[Sighted, _Told]", here: Callable[[], Iterator[_Told]]) -> None:
        self.gone = False
        self._parts = self._from(helper, here)

    def _from(self, helper: "Helper[Sighted, _Told]", here: Callable[[], Iterator[_Told]]) -> Iterator[_Told]:
        taken = 0
        try:
            for told in helper.parts():
                taken += 1
                yield told
        except HelperGone:
            self.gone = True
            yield from islice(here(), taken, None)  # the same file gives the same, in the same order

    def __iter__(self) -> Iterator[_Told]:
        return self._parts

    def finish(self) -> None:
        """Take what is left, which nobody wants any more, so that the next file's comes first."""
        if not self.gone:
            deque(self._parts, maxlen=0)


def _told_by_the_helper(
    settings: Settings,
    settled: dict[str, KnownFile],
    stored_cases: Container[str],
    stored_readers: Container[str],
    file: Sighted,
    ask: Callable[[], object],
) -> Iterator[_Told]:
    def key() -> Pseudonyms:
        given = ask()
        assert isinstance(given, Pseudonyms)
        return given

    options = settings.import_
    names = UnitNames(options.case_id_pattern, options.reader_pattern, key, stored_cases, stored_readers)
    yield from _told(file, Ledger(settled), Remarks(options.max_listed, names), settings)


def _told(file: Sighted, ledger: Ledger, remarks: Remarks, settings: Settings) -> Iterator[_Told]:
    """Read a file, in either process."""
    try:
        found = _content(file, ledger, remarks, settings)
        tracings: Iterable[TracingContent] | None = None
        if isinstance(found, Content) and found.streamed:
            tracings, found.tracings = found.tracings, None
        yield _Told(found, remarks.taken_out())
        if tracings is not None:
            for tracing in tracings:
                yield _Told(tracing, remarks.taken_out())
            yield _Told(None, remarks.taken_out())
    except FileRefused as error:
        yield _Told(error, remarks.taken_out())


def _received(sighted: Sighted, told: _Following, ledger: Ledger, settings: Settings, names: UnitNames) -> ReadFile:
    """The file as reading it here would have given it."""
    remarks = _begun(sighted, settings, names)
    first = next(iter(told))
    found = first.what
    sha256 = found.sha256 if isinstance(found, Content | KnownFile) else ""
    if known := ledger.settled(sha256):  # now, if not when the helper looked
        return ReadFile(known, remarks)
    remarks.absorb(first.remarks, 0)
    assert isinstance(found, Content | FileRefused)
    if isinstance(found, Content) and found.streamed:
        found.tracings = _tracings(told, remarks)
    return ReadFile(found, remarks)


def _tracings(told: _Following, remarks: Remarks) -> Iterator[TracingContent]:
    for each in told:
        remarks.absorb(each.remarks, 0)
        if isinstance(each.what, FileRefused):
            raise each.what
        if isinstance(each.what, TracingContent):
            yield each.what


def _content(sighted: Sighted, ledger: Ledger, remarks: Remarks, settings: Settings) -> Content | KnownFile:
    candidate = sighted.candidate
    return read_content(candidate.path, ledger, remarks, settings, sighted.mapping, candidate.own_name)


def _alone(sighted: Sighted) -> bool:
    """Whether what the file holds does not depend on what the files before it brought."""
    if sighted.kind not in _AHEAD or sighted.left_alone is not None or sighted.candidate.refused is not None:
        return False
    return sighted.mapping is None or not sighted.mapping.uses_clock


def _size(sighted: Sighted) -> int:
    try:
        return sighted.candidate.path.stat().st_size
    except OSError:
        return 0


def _may_be_read_ahead(sighted: Sighted) -> bool:
    return _alone(sighted) and sighted.mapping is None and _size(sighted) <= _LARGEST_AHEAD


def _begun(sighted: Sighted, settings: Settings, names: UnitNames) -> Remarks:
    remarks = Remarks(settings.import_.max_listed, names)
    for sentence in sighted.candidate.said:
        remarks.message(sentence)
    return remarks


def _read(sighted: Sighted, ledger: Ledger, settings: Settings, names: UnitNames) -> ReadFile:
    if sighted.left_alone is not None:
        return ReadFile(None, Remarks(settings.import_.max_listed, names))
    if sighted.candidate.refused is not None:
        return ReadFile(sighted.candidate.refused, Remarks(settings.import_.max_listed, names))
    remarks = _begun(sighted, settings, names)
    try:
        return ReadFile(_content(sighted, ledger, remarks, settings), remarks)
    except FileRefused as error:
        return ReadFile(error, remarks)
