"""What makes the findings: the code of each stage as a hash, and the version that goes with every reading.

A number of the version alone would call findings current that older code made: a checkout changes between releases.
"""

import hashlib
from collections.abc import Iterator
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

from audit.version import __version__

# What every stage runs through beside its own rooms: how samples come from the store, how findings go to it, and the
# words of their reasons. Queries only bring what a stage's hash holds anyway.
_EVERY = ("analysis", "store/tracings.py", "store/finding_tables.py", "setting_types.py", "vocabulary.py", "words.py")
_ROOMS = ("tracing", "standards", "second_reading", "measures", "response")


@cache
def code_sha256(*rooms: str) -> str:
    """Hash of the source of some rooms of `audit`, and of what every stage runs through."""
    found = hashlib.sha256()
    for name in (*_EVERY, *rooms):
        for file in _sources(resources.files("audit").joinpath(name)):
            # the ends of lines depend on how a checkout was made
            found.update(file.read_bytes().replace(b"\r\n", b"\n") + b"\x1f")
    return found.hexdigest()


@cache
def version() -> str:
    """The program's version and the beginning of the hash of all code that makes findings."""
    return f"{__version__}+{code_sha256(*_ROOMS)[:8]}"


def _sources(place: Traversable) -> Iterator[Traversable]:
    if place.is_file():
        yield place
        return
    for entry in sorted(place.iterdir(), key=lambda each: each.name):
        if entry.name.endswith(".py") or (entry.is_dir() and entry.name != "__pycache__"):
            yield from _sources(entry)
