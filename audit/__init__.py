"""Retrospective review of intrapartum fetal heart tracings.

The few names that a Python user needs; everything behind them is in `audit.notebook`:

    import audit
    tracing = audit.read_csv("tracing.csv")            # or read_wfdb(record), or from_samples([140, 141, ...])
    reading = audit.read(tracing)                      # what it shows
    reading.frame("decelerations")                     # as a pandas frame
    audit.classify(reading, "figo-2015")               # the category of each minute
    reading.plot(0, 1800)                              # the strip, an Altair chart
    audit.open_unit("unit.duckdb").episodes()          # a unit's database as frames

For retrospective review by licensed clinicians. Not for care in progress, not a medical device; local guidelines
decide.
"""

from typing import TYPE_CHECKING, Any

from audit.version import __version__

__all__ = [
    "Reading",
    "Tracing",
    "Unit",
    "__version__",
    "classify",
    "from_samples",
    "load_settings",
    "open_unit",
    "read",
    "read_csv",
    "read_wfdb",
]

if TYPE_CHECKING:
    from audit.notebook import (
        Reading,
        Tracing,
        Unit,
        classify,
        from_samples,
        load_settings,
        open_unit,
        read,
        read_csv,
        read_wfdb,
    )


def __dir__() -> list[str]:
    # what a notebook offers to complete, before any of it was asked for; not what this file imports for itself
    return sorted(__all__)


def __getattr__(name: str) -> Any:
    # asked for on first use: a command or a worker process must not wait for what only a notebook needs
    if name not in __all__:
        raise AttributeError(f"module 'audit' has no attribute {name!r}")
    from audit import notebook

    return getattr(notebook, name)
