"""Progress bars on standard error, silent when nobody watches."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Protocol

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

# called with (done, total); a part of the next one may be done
Report = Callable[[float, int], None]
# and with the share of the work that is done, 0 to 1, where one of them may cost many times what another does
ReportByShare = Callable[[float, int, float], None]


class Bar(Protocol):
    """Takes both: without a share of the work all that is counted costs the same."""

    def __call__(self, done: float, total: int, share: float | None = None, /) -> None:
        """So much is done."""


@contextmanager
def bar(label: str) -> Iterator[Bar]:
    """A bar that a long task feeds. Draws nothing when standard error is not a terminal."""
    if not sys.stderr.isatty():
        yield lambda done, total, share=None: None
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[counted]}"),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(label, total=None, counted="")

        def told(done: float, total: int, share: float | None = None, /) -> None:
            part = share if share is not None else done / total if total else 1.0
            progress.update(task, completed=part, total=1.0, counted=f"{int(done)}/{total}")

        yield told
