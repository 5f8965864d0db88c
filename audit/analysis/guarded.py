"""One tracing read so that nothing that goes wrong with it reaches the others. Runs in a worker."""

from dataclasses import dataclass
from pathlib import Path

from audit import logs
from audit.analysis.one_tracing import CaseInput, Found, read_case
from audit.second_reading import fitted_file
from audit.settings import AnalysisSettings

Fitted = tuple[Path, str]  # the file of the second reading that is switched on, and its hash


@dataclass(frozen=True)
class Failed:
    """Why a tracing could not be read, and the places in the code that the error came through."""

    reason: str
    places: str = ""


Result = Found | Failed
Given = CaseInput | Failed


def guarded_read(case: Given, settings: AnalysisSettings, second: Fitted | None = None) -> Result:
    """Read one tracing in whatever process this is; a reading that fails becomes its reason."""
    if isinstance(case, Failed):
        return case
    try:
        if second is None:
            return read_case(case, settings)
        return read_case(case, settings, fitted_file.kept(*second))
    except Exception as error:
        return Failed(f"{type(error).__name__}: {error}", logs.places(error))


def lost(_case: Given) -> Result:
    """The result of a reading whose process was ended."""
    return Failed("the process that read it was ended from outside (out of memory, or killed)")
