"""A sheet for the team of a case: what was seen when, what was good, what to learn. Nobody named, no outcome, no grade.

Grades, avoidability and readers' reads stay in the meeting; what it wrote in words goes as it wrote it.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from audit.errors import AuditError
from audit.pack import methods, strips
from audit.pack.case_pages import answer_lines
from audit.pack.model import Pack, Section
from audit.pack.options import PackOptions
from audit.pack.to_pdf import pdf_bytes
from audit.people import actions, family_questions, findings, issues
from audit.people.findings import Finding
from audit.questions.case_file import CaseFile, load_case
from audit.questions.learning import good_care
from audit.questions.wait_parts import waits_in_parts
from audit.settings import Settings, settings_for
from audit.store import database, published
from audit.store.database import records
from audit.store.published import Source
from audit.tables.bedside import SEEN_WHEN
from audit.tables.definition import rows_of
from audit.words import standard_name, words

_TO_WHOM = (
    "For the team that was there, to learn from. It names nobody, grades nothing and does not say how the newborn was."
    " Times are hours:minutes from the first sample of the tracing. A computed reading can be wrong: the strip has the"
    " last word."
)


def feedback_pdf(db: Path, copy: Source, case_id: str, *, made_on: str | None = None) -> bytes:
    """The sheet of one case.

    Raises AuditError when there is no such case, or none of its tracings is stored.
    """
    settings = settings_for(db)
    options = PackOptions.of(settings)
    date = made_on or datetime.now(UTC).date().isoformat()
    with published.open_for_reading(copy) as con:
        listed = [row for row in records(con, "case/list") if row["case_id"] == case_id]
        if not listed:
            raise AuditError(f"{case_id}: there is no such case")
        sections = _sections(db, con, settings, options, case_id, listed[0]["period"])
    return pdf_bytes(
        Pack(
            period=listed[0]["period"] or "",
            title=f"Feedback on case {case_id}",
            made_on=date,
            paper=options.paper,
            footer=f"Feedback on case {case_id} · de-identified, for the team of the case · made {date}",
            caution=methods.CAUTION,
            sections=tuple(sections),
        )
    )


def _sections(
    db: Path, con: database.Connection, settings: Settings, options: PackOptions, case_id: str, period: str | None
) -> list[Section]:
    first = load_case(con, case_id)
    if first is None:
        raise AuditError(f"{case_id}: no tracing is stored, so there is no strip to print")
    waits = waits_in_parts(con, settings.response, case_id=case_id)
    episodes = records(con, "response/delays", {"period": None, "standard": None, "case_id": case_id})
    good = [reason for row in good_care(waits, episodes, settings.find) for reason in row["reasons"]]
    finding = findings.of_case(db, period, case_id) if period else None
    noted = [row for row in issues.in_period(db, period) if row["case_id"] == case_id] if period else []
    agreed = [row for row in actions.agreed_in(db, period) if row["case_id"] == case_id] if period else []
    found = [Section(title=f"Feedback on case {case_id}", paragraphs=(_TO_WHOM,))]
    for fetus in first.fetuses:
        case = first if fetus == first.fetus else load_case(con, case_id, fetus)
        if case is not None:
            found.append(_seen(case, [wait for wait in waits if wait["fetus"] == fetus], options))
    went_well = [*good, *([finding.went_well] if finding and finding.went_well else [])]
    for title, lines in (
        ("What was good", went_well),
        ("What to learn", learning(finding, noted)),
        ("What the family asked", answer_lines(family_questions.of_case(db, period, case_id))),
        ("What was agreed", [f"{row['action']} ({row['owner_role']}, due {row['due_period']})" for row in agreed]),
    ):
        if lines:
            found.append(Section(title=title, paragraphs=tuple(f"– {line}" for line in lines)))
    return found


def _seen(case: CaseFile, waits: Sequence[Mapping[str, Any]], options: PackOptions) -> Section:
    """The strip with what was found, and the steps of the concern that took longest under the pack's standard."""
    own = [wait for wait in waits if wait["standard"] == options.standard]
    which = f", fetus {case.fetus}" if len(case.fetuses) > 1 else ""
    name = standard_name(options.standard)
    if own:
        wait = max(own, key=lambda row: sum(part["minutes"] for part in row["parts"]))
        told = f"{words(wait['trigger']).capitalize()} under {name}; minutes are from when it could be recognised."
    else:
        wait, told = {"points": []}, f"No concern under {name}."
    table = SEEN_WHEN.filled(seen_when(wait, rows_of(case.frame("assessments"))))
    return Section(
        title=f"What was seen when{which}",
        paragraphs=(told,),
        pictures=(strips.findings_strip(case, options.standard, options),),
        tables=(table,) if table.rows else (),
    )


def seen_when(wait: Mapping[str, Any], written: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The steps that were reached, in order of time, and whatever staff wrote down from the pattern to the last part.

    `wait`: of `waits_in_parts`; without `parts` there was no concern. `written`: assessments of the same fetus.
    """
    found = [dict(point) for point in wait["points"] if point["at_s"] is not None]
    if wait["points"]:
        start_s, end_s = wait["parts"][0]["from_s"], wait["parts"][-1]["to_s"]
        as_such = {point["at_s"] for point in found if point["step"] == "recorded"}
        for row in written:
            if start_s <= row["at_s"] <= end_s and not (row["at_s"] in as_such and row["standard"] == wait["standard"]):
                minutes = (row["at_s"] - wait["recognisable_s"]) / 60.0
                said = f"written down: {row['category']}"
                if row["standard"] != wait["standard"]:
                    said += f" ({standard_name(row['standard'])})"
                found.append({"step": None, "said": said, "at_s": row["at_s"], "minutes": minutes})
    return sorted(found, key=lambda row: row["at_s"])


def learning(finding: Finding | None, noted: Sequence[Mapping[str, Any]]) -> list[str]:
    """The meeting's learning point, issues with stage and words, and factors; never a grade or an avoidability."""
    lines = [finding.learning_point] if finding and finding.learning_point else []
    for row in noted:
        stage = f", {row['stage']}" if row["stage"] else ""
        lines.append(f"{row['what']}{stage}" + (f": {row['note']}" if row["note"] else ""))
    factors = {*(finding.factors if finding else ()), *(row["factor"] for row in noted if row["factor"])}
    return [*lines, *([f"Contributed: {', '.join(sorted(factors))}"] if factors else [])]
