"""One case on its two pages, printed from the page of the case; the outcome is left out."""

from datetime import UTC, datetime
from pathlib import Path

from audit.errors import AuditError
from audit.pack import methods
from audit.pack.agenda import AgendaCase
from audit.pack.case_jobs import draw_case, jobs_of
from audit.pack.model import Pack
from audit.pack.options import PackOptions
from audit.pack.to_pdf import pdf_bytes
from audit.people import agenda
from audit.settings import settings_for
from audit.store import published
from audit.store.database import records
from audit.store.published import Source


def case_pdf(db: Path, copy: Source, case_id: str, *, made_on: str | None = None) -> bytes:
    """The bare strip and what was found, as the month's pack prints them; one pair of pages per fetus.

    Raises AuditError when there is no such case, or none of its tracings is stored.
    """
    settings = settings_for(db)
    options = PackOptions.of(settings).changed(outcome="left_out")
    date = made_on or datetime.now(UTC).date().isoformat()
    with published.open_for_reading(copy) as con:
        found = [row for row in records(con, "case/list") if row["case_id"] == case_id]
        if not found:
            raise AuditError(f"{case_id}: there is no such case")
        period = found[0]["period"]
        items = [row for row in agenda.items(db, period) if row["case_id"] == case_id] if period else []
        runs = records(con, "data_quality/runs")
        item = AgendaCase(case_id, items[0]["question"] if items else None, from_agenda=bool(items))
        place = items[0]["position"] if items else 1
        [job] = jobs_of(db, con, copy, settings, options, period, [(place, item)])
        cases = draw_case(job)
    if not cases:
        raise AuditError(f"{case_id}: no tracing is stored, so there is no strip to print")
    run = f"run {runs[0]['run_id']}, version {runs[0]['version']}" if runs else "no analysis yet"
    return pdf_bytes(
        Pack(
            period=period or "",
            title=f"Case {case_id}",
            made_on=date,
            paper=options.paper,
            footer=f"Case {case_id} · {run} · de-identified, for the unit's own meeting · made {date}",
            caution=methods.CAUTION,
            cases=tuple(cases),
        )
    )
