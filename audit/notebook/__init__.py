"""The way in for an analyst with a notebook: files to tracings, tracings to readings, a unit's database as frames.

Everything here is thin: the importer's own parsers, the reading and the standards that `analyse` runs, and the views
that the pages read. Retrospective review only: not for care in progress, not a medical device; local guidelines decide.
"""

from audit.notebook.files import read_csv, read_wfdb
from audit.notebook.reading import Reading, classify, read
from audit.notebook.samples import from_samples
from audit.notebook.unit import Unit, open_unit
from audit.settings import load_settings
from audit.tracing.types import Tracing

__all__ = [
    "Reading",
    "Tracing",
    "Unit",
    "classify",
    "from_samples",
    "load_settings",
    "open_unit",
    "read",
    "read_csv",
    "read_wfdb",
]
