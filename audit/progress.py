"""Progress bars on standard error, silent when nobody watches."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

# called with (done, total); a part of the next one may be done
Report = Callable[[float, int], None]


@contextmanager
def bar(label: str) -> Iterator[Report]:
    """A bar that a long task feeds with (done, total). Draws nothing when standard error is not a terminal."""
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(label, total=None)
        yield lambda done, total: progress.update(task, completed=done, total=total)
