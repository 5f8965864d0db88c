"""Drawing cases, in worker processes when there are many: the same pages in the same order either way."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from audit import house_style, processes
from audit.pack.agenda import AgendaCase
from audit.pack.case_pages import CaseJob, case_pages
from audit.pack.model import CasePages
from audit.pack.options import PackOptions
from audit.people import agreed as people_agreed
from audit.people import family_questions, findings, issues
from audit.questions import stale
from audit.questions.case_file import load_case, load_outcome
from audit.questions.wait_parts import to_draw, waits_in_parts
from audit.settings import Settings
from audit.store import database, published
from audit.store.published import Source

# fewer are drawn faster in this process than workers take to start; our choice, measured
_WORTH_WORKERS = 4
_MOST_WORKERS = 4

Report = Callable[[int, int], None]


def jobs_of(
    db: Path,
    con: database.Connection,
    copy: Source,
    settings: Settings,
    options: PackOptions,
    period: str | None,
    cases: Iterable[tuple[int, AgendaCase]],
) -> list[CaseJob]:
    """What there is to draw of cases of one month, each with its place on the agenda."""
    found = findings.in_period(db, period) if period else {}
    noted = issues.in_period(db, period) if period else []
    clocks, out_of_date = people_agreed.by_case(db, options.standard), stale.by_tracing(con, settings)
    return [
        CaseJob(
            copy,
            position,
            item,
            options,
            found.get(item.case_id),
            clocks.get(item.case_id, {}),
            [row for row in noted if row["case_id"] == item.case_id],
            family_questions.of_case(db, period, item.case_id),
            settings.response,
            settings.meeting.grade_words,
            settings.cord_gas,
            house_style.of(settings.locale),
            out_of_date.get(item.case_id, {}),
        )
        for position, item in cases
    ]


def draw_cases(jobs: Sequence[CaseJob], *, workers: int | None, progress: Report | None) -> list[CasePages]:
    """The pages of every case in order. `workers` None = one per core, at most 4."""
    count = 1 if len(jobs) < _WORTH_WORKERS else min(processes.cores(workers, len(jobs)), _MOST_WORKERS)
    pages: list[CasePages] = []
    for done, found in enumerate(processes.in_order(draw_case, jobs, workers=count), start=1):
        pages += found
        if progress:
            progress(done, len(jobs))
    return pages


def draw_case(job: CaseJob) -> list[CasePages]:
    """The pages of one case, one set per fetus; a case without a tracing has none."""
    options = job.options
    found: list[CasePages] = []
    with house_style.written(job.style), published.open_for_reading(job.copy) as con:
        outcome = load_outcome(con, job.item.case_id) if options.outcome == "own_page" else None
        first = load_case(con, job.item.case_id)
        waits = waits_in_parts(con, job.response, case_id=job.item.case_id)
        for fetus in first.fetuses if first else ():
            case = first if first and fetus == first.fetus else load_case(con, job.item.case_id, fetus)
            if case is None:
                continue
            wait = next(iter(to_draw(waits, case.frame("clock"), case.fetus, options.standard)), None)
            # twins share one page of outcomes, after both have been seen
            told = outcome if fetus == case.fetuses[-1] else None
            found.append(case_pages(case, job, wait=wait, outcome=told))
    return found
