"""The pages of one case: what led to it, strips, clock, burden, reads and findings; the outcome stands apart."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from audit import words
from audit.charts.strip.agreed import agreed_rows
from audit.house_style import HouseStyle
from audit.measures.cord_gas import CordGasLimits
from audit.pack import strips
from audit.pack.agenda import AgendaCase
from audit.pack.model import CasePages, Section
from audit.pack.options import PackOptions
from audit.people.agreed import Agreed
from audit.people.findings import Finding
from audit.questions import hidden, possible
from audit.questions.case_file import CaseFile
from audit.questions.votes import otherwise, sentence
from audit.response.rules import ResponseSettings
from audit.store.published import Source
from audit.tables import case as tables
from audit.tables.definition import Table, rows_of
from audit.tables.meeting import ISSUES
from audit.tables.outcome import outcome_table

# rows that leave a case on two pages; the rest is in the tables of the pack; our choice
_ROWS_OF_CLOCK, _ROWS_OF_READS = 3, 3
# of clock and reads, where more text leaves less room; last of all without the whole tracing at a glance
_FEWER_ROWS = ((2, 2), (1, 1))
_CLOCK_ON_PAGE = (
    "standard", "trigger", "pattern_start_s", "recognisable_s", "first_act_event", "minutes_to_first_act",
    "target_minutes", "status",
)  # fmt: skip


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


def case_pages(
    case: CaseFile, job: CaseJob, *, wait: Mapping[str, Any] | None, outcome: pd.DataFrame | None
) -> CasePages:
    """Everything about one case. `outcome` None leaves it out; the strips and tables before it never hold it.

    `wait` : the wait that is drawn in parts, None without one.
    """
    name = f"{case.case_id}-{case.fetus}"
    title = f"Case {job.position}: {case.case_id}" + (f", fetus {case.fetus}" if len(case.fetuses) > 1 else "")
    clock, reads = clock_table(case, name), reads_table(case, name)
    burden = tables.BURDEN_ON_PAPER.filled(case.frame("burden"), of=name)
    noted = (ISSUES.filled(job.issues, of=name),) if job.issues else ()
    paper, standard, agreed = job.options, job.options.standard, job.agreed.get(case.fetus)
    after = Section(
        title=f"{title}, findings",
        paragraphs=(
            *finding_lines(job.finding, job.grade_words),
            *agreed_lines(agreed, standard),
            *answer_lines(job.family),
            *_burden_words(case),
            *_limits(case),
        ),
        pictures=(
            strips.findings_strip(case, standard, paper, agreed),
            *(() if wait is None else (strips.timeline(case, wait),)),
            strips.overview(case, standard),
        ),
    )

    def with_rows(of_clock: int, of_reads: int) -> Section:
        tables_of_page = (*noted, clock.only(*_CLOCK_ON_PAGE).first(of_clock), reads.first(of_reads))
        return replace(after, tables=tables_of_page)

    shorter = [with_rows(*rows) for rows in _FEWER_ROWS]
    opening = tuple(_opening(case, job))
    bare = strips.paper_of_strips(case, standard, paper, opening)
    return CasePages(
        case_id=case.case_id,
        title=title,
        first=Section(title=title, paragraphs=opening),
        strips=tuple(strips.strip_pictures(case, standard, bare)),
        strips_note=strips.scale_words(case, standard, bare),
        after=with_rows(_ROWS_OF_CLOCK, _ROWS_OF_READS),
        outcome=None if outcome is None else outcome_section(outcome, job),
        slides=strips.slide_strips(case, standard, paper, agreed),
        in_full=(clock, burden, reads),
        shorter=(*shorter, replace(shorter[-1], pictures=after.pictures[:-1])),
    )


def _opening(case: CaseFile, job: CaseJob) -> list[str]:
    out_of_date, reasons = job.out_of_date.get(case.fetus), job.item.reasons
    lines = [f"Out of date: {out_of_date}."] if out_of_date else []
    if job.item.question:
        lines.append(f"Question for the meeting: {job.item.question}")
    lines += [f"The family asks: {row['question']}" for row in job.family]
    if reasons:
        lines.append("Why it is here: " + "; ".join(reasons) + ".")
    known = tables.fact_words(case.facts, case.end_s - case.start_s, case.seen_fraction)
    return [*lines, "; ".join([*known, *tables.recorded_as(case.tracing)]) + "."]


def _burden_words(case: CaseFile) -> list[str]:
    """The last hour in one sentence; every span is in the tables of the pack."""
    rows = [row for row in rows_of(case.frame("burden")) if row["span"] == "last_60_min"]
    if not rows:
        return []
    found = dict(zip(tables.BURDEN.names, tables.BURDEN.filled(rows).shown()[0], strict=True))
    kinds = ", ".join(f"{found[name]} {name}" for name in ("early", "late", "variable", "prolonged", "unclassified"))
    return [
        f"Last 60 min: {found['seen_fraction']} % seen, {found['decelerations']}"
        f" deceleration{'' if found['decelerations'] == '1' else 's'} ({kinds}), deepest"
        f" {found['deepest_bpm']} bpm, longest {found['longest_s']} s, area per seen hour"
        f" {found['area_per_seen_hour_bpm_s']} bpm·s."
    ]


def _limits(case: CaseFile) -> list[str]:
    """What could not be seen or said."""
    lines = []
    if words_of_hidden := hidden.of_case(case.frame("hidden"), case.frame("burden")):
        lines.append(words_of_hidden)
    if case.notes:
        lines.append("What the reading could not see or say: " + " ".join(case.notes))
    return [*lines, *(note for note in (case.state_reason, case.reading_note) if note)]


def clock_table(case: CaseFile, name: str) -> Table:
    """Every concern episode under every standard, then the clock as each reader's read would have started it."""
    episodes = rows_of(case.frame("clock"))
    rows = [*episodes, *rows_of(case.frame("reader_clocks"))]
    verdict = ""
    if episodes:
        first = episodes[0]
        verdict = f"The one that weighs most: {sentence(first)}. "
        verdict += f"{other}. " if (other := otherwise(first)) else ""
    verdict += f"{told} " if (told := possible.sentence(rows_of(case.frame("possible")))) else ""
    note = f"{verdict}Times are hours:minutes from the first sample."
    return tables.CLOCK_ON_PAPER.filled(rows, note=note, of=name)


def reads_table(case: CaseFile, name: str) -> Table:
    """Readers' reads and the computed one side by side, window by window; the computed one is marked."""
    reads = case.frame("reads")
    # comparing with False leaves out what was not stated, so those reads stay
    people = reads[(reads["reader"] != "computed") & ~(reads["outcome_hidden"] == False)]  # noqa: E712
    windows = set(zip(people["start_s"], people["end_s"], people["standard"], strict=True))
    rows = [
        row
        for place, row in zip(reads.index, rows_of(reads), strict=True)
        if (row["reader"] == "computed" or place in people.index)
        and (row["start_s"], row["end_s"], row["standard"]) in windows
    ]
    note = "Reads made without the outcome. 'computed' is the program's reading, never a vote."
    return tables.READS.filled(rows, note=note, of=name)


def finding_lines(finding: Finding | None, grade_words: Mapping[str, str]) -> list[str]:
    """What the meeting found; nothing before it found anything, and the page has lines to write on."""
    if finding is None:
        return []
    lines = []
    if finding.care_grade is not None:
        words = grade_words.get(finding.care_grade)
        lines.append(f"Care grade {finding.care_grade} ({finding.care_scale})" + (f": {words}." if words else "."))
    if finding.factors:
        lines.append("Contributory factors: " + ", ".join(finding.factors) + ".")
    if finding.learning_point:
        lines.append(f"Learning point: {finding.learning_point}")
    if finding.went_well:
        lines.append(f"What went well: {finding.went_well}")
    return lines


def agreed_lines(agreed: Agreed | None, standard: str) -> list[str]:
    """What the lane of the meeting on the strip cannot say: its key, and that there was nothing to answer."""
    if agreed is None:
        return []
    under = f"under {words.standard_name(standard)}"
    lines = [f"The meeting found nothing to answer {under}."] if agreed.concern is False else []
    if agreed_rows(agreed).empty:
        return lines
    marked = " A cross is a computed event that it struck out, a triangle in a bar one that it added."
    return [*lines, f"Lane 'meeting': what it agreed {under}.{marked if agreed.marks else ''}"]


def answer_lines(family: Sequence[Mapping[str, Any]]) -> list[str]:
    """What the meeting answered to the family, each with its question; what is not yet answered says so."""
    return [f"The family asked: {row['question']} – {row['answer'] or 'not yet answered'}" for row in family]


def outcome_section(outcome: pd.DataFrame, job: CaseJob) -> Section:
    """How it ended, on a page of its own."""
    note = "An outcome does not grade the care; readers see strips before they see this page."
    case_id, reasons = job.item.case_id, job.item.outcome_reasons
    return Section(
        title=f"Outcome of {case_id}",
        paragraphs=("Also found, with the outcome known: " + "; ".join(reasons) + ".",) if reasons else (),
        tables=(outcome_table(outcome, job.cord_gas, note=note, of=case_id),),
    )
