"""Files to tracings, by the parsers of the import."""

import warnings
from pathlib import Path

from audit.errors import UsageError
from audit.intake.contents import Content, read_content
from audit.intake.door.names import UnitNames
from audit.intake.door.remarks import FileRefused, Remarks
from audit.intake.writing.ledger import Ledger
from audit.settings import load_settings
from audit.store.tracings import put_together
from audit.tracing.types import Tracing

_ANY = r"(?s).*"  # codes stay as they are typed: nothing is stored


def read_csv(file: str | Path, *, case_id: str | None = None, fetus: str | None = None) -> Tracing:
    """One tracing from a CSV or Parquet file with the columns of an import (`case_id, t_s, fhr_bpm, toco`).

    Rows that the import would keep out are left out here too, with a warning that counts them.

    Parameters
    ----------
    file
        The file.
    case_id
        Whose tracing; needed when the file holds several cases.
    fetus
        Which of several fetuses.

    Returns
    -------
    Tracing
        On the file's own time axis, at the file's rate up to 4 Hz.

    Raises
    ------
    UsageError
        A file that the import would refuse, with its reason; a file of another kind; a case that is not in it; or
        several tracings and none named.
    """
    return _one_of(_tracings_of(Path(file), ("tracing",)), Path(file), case_id, fetus)


def read_wfdb(record: str | Path) -> Tracing:
    """One tracing from a WFDB record.

    Parameters
    ----------
    record
        Its header file, or its name without an ending.

    Returns
    -------
    Tracing
        As `read_csv`.

    Raises
    ------
    UsageError
        As `read_csv`.
    """
    path = Path(record)
    header = path if path.suffix == ".hea" else path.with_name(f"{path.name}.hea")
    return _one_of(_tracings_of(header, ("wfdb",)), header, None, None)


def _tracings_of(path: Path, kinds: tuple[str, ...]) -> dict[tuple[str, str], Tracing]:
    remarks = Remarks(limit=1, names=UnitNames(_ANY, _ANY))
    try:
        content = read_content(path, Ledger(), remarks, load_settings())
    except FileRefused as error:
        raise UsageError(error.remark.text(path.name)) from None
    assert isinstance(content, Content)
    if content.kind not in kinds:
        raise UsageError(f"{path.name}: found {content.kind}, expected {' or '.join(kinds)}")
    found = {(one.case_id, one.fetus): put_together(list(one.stretches)) for one in content.tracings or ()}
    if remarks.rows_rejected or remarks.values_rejected:
        first = next(iter(remarks.listed), None)
        told = "" if first is None else f", the first one: {first.text(path.name)}"
        warnings.warn(
            f"{path.name}: {remarks.rows_rejected} rows and {remarks.values_rejected} values left out{told}",
            stacklevel=3,
        )
    return found


def _one_of(found: dict[tuple[str, str], Tracing], path: Path, case_id: str | None, fetus: str | None) -> Tracing:
    fits = [key for key in found if case_id in (None, key[0]) and fetus in (None, key[1])]
    if len(fits) == 1:
        return found[fits[0]]
    if not fits:
        raise UsageError(f"{path.name}: found no tracing of case {case_id}, fetus {fetus or 'A'}")
    raise UsageError(f"{path.name}: found {len(fits)} tracings, expected one; name it with case_id and fetus")
