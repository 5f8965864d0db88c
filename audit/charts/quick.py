"""Charts to JSON without checking each against the schema again; the tests check them."""

from collections.abc import Iterator
from contextlib import contextmanager

from altair.utils import schemapi


@contextmanager
def unchecked() -> Iterator[None]:
    """Within this block, charts are turned into JSON without schema validation: a third of the time of a page."""
    with schemapi.debug_mode(False):
        yield
