"""Drawing cases, in worker processes when there are many: the same pages in the same order either way."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from audit import house_style, processes
from audit.house_style import HouseStyle
from audit.measures.cord_gas import CordGasLimits
from audit.pack.agenda import AgendaCase
from audit.pack.case_pages import case_pages
from audit.pack.model import CasePages
from audit.pack.options import PackOptions
from audit.people.agreed import Agreed
from audit.people.findings import Finding
from audit.questions.case_file import load_case, load_outcome
from audit.questions.wait_parts import to_draw, waits_in_parts
from audit.response.rules import ResponseSettings
from audit.store import published
from audit.store.published import Source

# fewer are drawn faster in this process than workers take to start; our choice, measured
_WORTH_WORKERS = 4
_MOST_WORKERS = 4

Report = Callable[[int, int], None]


@dataclass(frozen=True)
class CaseJob:
    """One case to draw, with all that a worker needs."""

    copy: Source
    position: int
    item: AgendaCase
    options: PackOptions
    finding: Finding | None
    agreed: Mapping[str, Agreed]  # by fetus: the clock of the last meeting that agreed on one
    issues: Sequence[Mapping[str, Any]]  # what the meeting noted, as `issues.in_period` gives it
    family: Sequence[Mapping[str, Any]]  # what the family asks, as `family_questions.in_period` gives it
    response: ResponseSettings
    grade_words: Mapping[str, str]
    cord_gas: CordGasLimits
    style: HouseStyle
    out_of_date: Mapping[str, str]  # by fetus: why its reading is not what an analysis would find now


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
            found.append(
                case_pages(
                    case,
                    position=job.position,
                    question=job.item.question,
                    reasons=job.item.reasons,
                    standard=options.standard,
                    paper=options,
                    finding=job.finding,
                    agreed=job.agreed.get(fetus),
                    issues=job.issues,
                    family=job.family,
                    wait=next(iter(to_draw(waits, case.frame("clock"), case.fetus, options.standard)), None),
                    grade_words=job.grade_words,
                    # twins share one page of outcomes, after both have been seen
                    outcome=outcome if fetus == case.fetuses[-1] else None,
                    outcome_reasons=job.item.outcome_reasons,
                    cord_gas=job.cord_gas,
                    out_of_date=job.out_of_date.get(fetus),
                )
            )
    return found
