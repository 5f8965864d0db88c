"""Which unit the cases of a file are of, where an import was told."""

from collections.abc import Iterable, Iterator

from audit.intake.checks.tracings import TracingContent
from audit.intake.contents import Content
from audit.intake.door.remarks import FileRefused
from audit.intake.writing.ledger import Ledger


def give(ledger: Ledger, content: Content, *, replace: bool) -> None:
    """Give the rows of a file of cases the import's unit, where they have none.

    Raises FileRefused for another file that tells of a case of another unit, unless `replace`: two units that count
    their cases alike would else become one. Rows of cases are refused one by one, where they are written.
    """
    if ledger.unit is None:
        return
    for row in content.table if content.kind in ("cases", "wfdb") else ():
        if row.facts.get("unit") is None:
            row.facts["unit"] = ledger.unit
    if replace:
        return
    for row in content.table if content.kind in ("care_events", "reads", "assessments") else ():
        _check(ledger, row.case_id)
    if content.tracings is not None:
        content.tracings = _checked(ledger, content.tracings)


def _checked(ledger: Ledger, tracings: Iterable[TracingContent]) -> Iterator[TracingContent]:
    for tracing in tracings:
        _check(ledger, tracing.case_id)
        yield tracing


def _check(ledger: Ledger, case_id: str) -> None:
    known = ledger.cases.get(case_id)
    if known is not None and known.unit not in (None, ledger.unit):
        raise FileRefused(
            f"case {case_id} is stored for unit {known.unit}, and this import is of {ledger.unit}; expected ids that no"
            " two units share, or --replace"
        )
