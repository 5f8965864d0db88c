"""How far an import is: in files, and by their bytes, since a file may be a month or a line.

A record's signal files lie beside its header and are read with it, so their bytes count with the header's.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import accumulate
from pathlib import Path

from audit.intake.checks.tracings import TracingContent
from audit.intake.contents import Content
from audit.intake.folders import BELONGS, Sighted
from audit.progress import ReportByShare

_STEPS = 100  # in which the progress of one file is told


class HowFar:
    """Tells `progress` of each file that is begun, and within a file of many tracings of its hundredths."""

    def __init__(self, progress: ReportByShare, passed: int, files: Sequence[Sighted]) -> None:
        """`passed`: files that were taken before a stop and cost nothing now. `files`: those to be taken."""
        self._progress, self._passed, self._total = progress, passed, passed + len(files)
        beside = Counter[Path]()
        for sighted in files:
            if sighted.left_alone == BELONGS:
                beside[_stem(sighted)] += _bytes(sighted)
        sizes = [
            0 if sighted.left_alone is not None else 1 + _bytes(sighted) + beside[_stem(sighted)] for sighted in files
        ]
        self._before = [0, *accumulate(sizes)]

    def begun(self, done: int, found: object) -> None:
        """So many files are done, and the next one holds this, which will tell how much of it is stored."""
        self._tell(done, 0.0)
        if isinstance(found, Content) and found.tracings is not None:
            found.tracings = _counted(found.tracings, found.rows, lambda inside: self._tell(done, inside))

    def ended(self) -> None:
        """Every file is done."""
        self._tell(self._total, 0.0)

    def _tell(self, done: int, inside: float) -> None:
        before, last = self._before, len(self._before) - 1
        k = done - self._passed
        at = before[k] + inside * (before[min(k + 1, last)] - before[k])
        self._progress(done + inside, self._total, at / before[last] if before[last] else 1.0)


def _counted(tracings: Iterable[TracingContent], rows: int, tell: Callable[[float], None]) -> Iterator[TracingContent]:
    stored, told = 0, 0
    for tracing in tracings:
        yield tracing
        stored += tracing.rows
        step = min(_STEPS - 1, _STEPS * stored // max(rows, 1))
        if step > told:
            told = step
            tell(step / _STEPS)


def _stem(sighted: Sighted) -> Path:
    return sighted.candidate.path.with_suffix("")


def _bytes(sighted: Sighted) -> int:
    try:
        return sighted.candidate.path.stat().st_size
    except (OSError, ValueError):
        return 0  # told when it is taken
