"""The pages of one case: what led to it, strips, clock, burden, reads and findings; the outcome stands apart."""

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from audit import words as words_
from audit.measures.cord_gas import CordGasLimits
from audit.pack import strips
from audit.pack.model import CasePages, Cell, Column, Section, Table, number, table, text_columns
from audit.pack.options import PackOptions
from audit.people.findings import Finding
from audit.questions.case_file import CaseFile
from audit.tables.case import outcome_table
from audit.words import hh_mm

_SPANS = {
    "last_30_min": "last 30 min",
    "last_60_min": "last 60 min",
    "last_120_min": "last 120 min",
    "first_stage": "first stage",
    "second_stage": "second stage",
    "whole": "whole tracing",
}


def case_pages(
    case: CaseFile,
    *,
    position: int,
    question: str | None,
    reasons: Sequence[str],
    standard: str,
    paper: PackOptions,
    finding: Finding | None,
    grade_words: Mapping[str, str],
    outcome: pd.DataFrame | None,
    outcome_reasons: Sequence[str],
    cord_gas: CordGasLimits,
) -> CasePages:
    """Everything about one case. `outcome` None leaves it out; the strips and tables before it never hold it."""
    name = f"{case.case_id}-{case.fetus}"
    title = f"Case {position}: {case.case_id}" + (f", fetus {case.fetus}" if len(case.fetuses) > 1 else "")
    first = Section(
        title=title,
        paragraphs=tuple(_opening(case, question, reasons)),
        pictures=(strips.overview(case, standard),),
        tables=(clock_table(case, name), burden_table(case, name)),
    )
    after = Section(
        title="Reads and findings",
        paragraphs=tuple(finding_lines(finding, grade_words)),
        tables=(reads_table(case, name, standard),),
    )
    return CasePages(
        case_id=case.case_id,
        title=title,
        first=first,
        strips=tuple(strips.strip_pictures(case, standard, paper)),
        strips_note=strips.scale_words(paper),
        after=after,
        outcome=None if outcome is None else outcome_section(case.case_id, outcome, cord_gas, outcome_reasons),
        slide=strips.slide_strip(case, standard, paper),
    )


def _opening(case: CaseFile, question: str | None, reasons: Sequence[str]) -> list[str]:
    lines = []
    if question:
        lines.append(f"Question for the meeting: {question}")
    if reasons:
        lines.append("Why it is here: " + "; ".join(reasons) + ".")
    lines.append("; ".join(_facts(case)) + ".")
    lines += [note for note in (case.state_reason, case.reading_note) if note]
    return lines


def _facts(case: CaseFile) -> list[str]:
    facts = case.facts
    seen = "not known" if case.seen_fraction is None else f"{100 * case.seen_fraction:.0f} %"
    found = [f"Tracing of {hh_mm(case.end_s - case.start_s)} (hours:minutes), {seen} of it seen"]
    for name, words in (
        ("gestation_weeks", "{:.0f} completed weeks"),
        ("parity", "parity {:.0f}"),
        ("onset_of_labour", "labour {}"),
        ("shift", "{} shift"),
        ("fhr_sensor", "FHR by {}"),
        ("toco_sensor", "toco {}"),
    ):
        value = facts.get(name)
        if value is not None:
            whole = int(value) if name == "gestation_weeks" else value
            found.append(words.format(words_.words(whole) if isinstance(whole, str) else whole))
    for name, words in (("second_stage_s", "second stage from {}"), ("birth_s", "birth at {}")):
        if facts.get(name) is not None:
            found.append(words.format(hh_mm(facts[name])))
    return found


_CLOCK_COLUMNS = (
    *text_columns(("standard", "Standard"), ("trigger", "Trigger")),
    Column("pattern_start", "Pattern starts"),
    Column("recognisable", "Recognisable"),
    Column("response", "Response"),
    Column("response_event", "What"),
    number("minutes_to_response", "Waited, min", 0),
    number("target_minutes", "Target, min", 0),
    Column("status", "How it ended"),
)


def clock_table(case: CaseFile, name: str) -> Table:
    """Every concern episode under every standard, then the clock as each reader's read would have started it."""
    episodes = list(case.frame("clock").itertuples())
    rows = [_clock_row(row, words_.words(str(row.trigger)), row.pattern_start_s) for row in episodes]
    rows += [_clock_row(row, f"read by {row.reader}", None) for row in case.frame("reader_clocks").itertuples()]
    verdict = ""
    if episodes:
        verdict = (
            f"Of {episodes[0].clocks} clocks that apply (standards and readers), {episodes[0].late_under} call the case"
            f" late and {episodes[0].none_recorded_under} find no response recorded. "
        )
    note = (
        f"{verdict}Times are hours:minutes from the first sample; the clock starts when the pattern could be"
        " recognised on what had been seen by then."
    )
    empty = "No concern episode under any standard, and no reader found a window concerning."
    return table(f"clock-{name}", "The clock", _CLOCK_COLUMNS, rows, note=note if rows else "", empty=empty)


def _clock_row(row: Any, trigger: str, pattern_start_s: float | None) -> list[Cell]:
    response = known(row.response_event)
    return [
        words_.standard_name(str(row.standard)),
        trigger,
        _moment(pattern_start_s),
        _moment(row.recognisable_s),
        _moment(row.response_s),
        None if response is None else words_.words(str(response)),
        known(row.minutes_to_response),
        float(row.target_minutes),
        words_.status_words(str(row.status)),
    ]


def burden_table(case: CaseFile, name: str) -> Table:
    """Decelerations by span, always with what was seen."""
    rows: list[list[Cell]] = []
    for row in case.frame("burden").itertuples():
        seen = known(row.seen_fraction)
        rows.append(
            [
                _SPANS.get(str(row.span), words_.words(str(row.span))),
                None if seen is None else 100 * seen,
                *(_count(getattr(row, kind)) for kind in ("decelerations", "early", "late", "variable", "prolonged")),
                known(row.minutes_in_deceleration),
                known(row.area_per_seen_hour_bpm_s),
                known(row.deepest_bpm),
                known(row.longest_s),
            ]
        )
    columns = (
        Column("span", "Span"),
        number("seen_percent", "Seen, %", 0),
        number("decelerations", "Decelerations"),
        number("early", "E"),
        number("late", "L"),
        number("variable", "V"),
        number("prolonged", "P"),
        number("minutes_in_deceleration", "Min in them", 1),
        number("area_per_seen_hour_bpm_s", "Area per seen hour, bpm·s", 0),
        number("deepest_bpm", "Deepest, bpm", 0),
        number("longest_s", "Longest, s", 0),
    )
    return table(f"burden-{name}", "Burden", columns, rows, empty="This tracing was not analysed.")


def reads_table(case: CaseFile, name: str, standard: str) -> Table:
    """Readers' reads and the computed one side by side, window by window; the computed one is marked."""
    reads = case.frame("reads")
    informed = pd.Series([known(value) is False for value in reads["outcome_hidden"]], index=reads.index, dtype=bool)
    people = reads[(reads["reader"] != "computed") & ~informed]
    windows = set(zip(people["start_s"], people["end_s"], people["standard"], strict=True))
    rows: list[list[Cell]] = []
    for row in reads.itertuples():
        if row.reader != "computed" and row.Index not in people.index:
            continue
        if (row.start_s, row.end_s, row.standard) not in windows:
            continue
        act = known(row.would_act)
        rows.append(
            [
                f"{hh_mm(row.start_s)}–{hh_mm(row.end_s)}",
                words_.standard_name(str(row.standard)),
                str(row.reader) + (" (again)" if known(row.occasion) not in (None, 1) else ""),
                str(row.category),
                known(row.baseline_bpm),
                known(row.variability),
                known(row.accelerations),
                known(row.decelerations),
                known(row.contractions_per_10_min),
                None if act is None else bool(act),
            ]
        )
    columns = (
        Column("window", "Window"),
        *text_columns(("standard", "Standard"), ("reader", "Reader"), ("category", "Category")),
        number("baseline_bpm", "Baseline, bpm", 0),
        Column("variability", "Variability"),
        Column("accelerations", "Accelerations"),
        Column("decelerations", "Decelerations"),
        number("contractions_per_10_min", "Contr. in 10 min", 1),
        Column("would_act", "Act"),
    )
    note = "Reads made without the outcome. 'computed' is the program's reading, never a vote." if rows else ""
    return table(f"reads-{name}", "Reads", columns, rows, note=note, empty="Nobody has read a window of this case.")


def finding_lines(finding: Finding | None, grade_words: Mapping[str, str]) -> list[str]:
    """What the meeting found, or lines to write on."""
    if finding is None:
        return [
            "Care grade: ______    Contributory factors: ________________________________________",
            "Learning point: ______________________________________________________________",
            "What went well: ______________________________________________________________",
            "Action, owner (role), due month: ______________________________________________",
        ]
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
    return lines or ["Nothing was recorded about this case."]


def outcome_section(case_id: str, outcome: pd.DataFrame, cord_gas: CordGasLimits, reasons: Sequence[str]) -> Section:
    """How it ended, on a page of its own."""
    measures = outcome_table(outcome, cord_gas)
    columns = [Column(str(name).replace(" ", "_"), str(name)[:1].upper() + str(name)[1:]) for name in measures.columns]
    rows = [list(row) for row in measures.itertuples(index=False, name=None)]
    note = "An outcome does not grade the care; readers see strips before they see this page."
    return Section(
        title=f"Outcome of {case_id}",
        paragraphs=("Also found, with the outcome known: " + "; ".join(reasons) + ".",) if reasons else (),
        tables=(table(f"outcome-{case_id}", "How it ended", columns, rows, note=note),),
        new_page=True,
    )


def known(value: Any) -> Any:
    """None for what is not known."""
    return None if value is None or pd.isna(value) else value


def _moment(value: Any) -> str | None:
    return None if known(value) is None else hh_mm(float(value))


def _count(value: Any) -> int | None:
    return None if known(value) is None else int(value)
