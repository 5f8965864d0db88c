"""Make a month's pack: gather, draw, and write PDF, HTML, slides and tables."""

import json
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from audit import house_style
from audit import months as months_
from audit.errors import AuditError, UsageError
from audit.pack import bedside_sections, equity_section, front, methods, reach, trends_pages
from audit.pack.agenda import agenda_of, month_table
from audit.pack.case_jobs import Report, draw_cases, jobs_of
from audit.pack.feedback import feedback_pdf
from audit.pack.methods import accuracy_lines
from audit.pack.model import Pack, Section
from audit.pack.options import PackOptions
from audit.pack.outside import NOTHING, Untold, untold
from audit.pack.put_in_place import make_folder, put_in_place
from audit.pack.summary import summary_table
from audit.pack.to_html import html_text
from audit.pack.to_pdf import pdf_bytes
from audit.pack.to_slides import pptx_bytes
from audit.people import actions, family_questions, findings, issues, log, meetings
from audit.people import agenda as people_agenda
from audit.questions import (
    agreed,
    agreement,
    bedside,
    coverage,
    delays,
    equity,
    hidden,
    issue_chain,
    merged_labours,
    stale,
    trends,
)
from audit.questions.action_effects import effects
from audit.settings import Settings, settings_for
from audit.store import database, one_unit, people_database, published, seal
from audit.store.database import records
from audit.store.published import Source
from audit.tables.agreement import PUBLISHED
from audit.tables.definition import Table
from audit.tables.meeting import EFFECT_CAUTION, EFFECTS
from audit.tables.renderers import to_csv
from audit.words import number_of


@dataclass(frozen=True)
class Written:
    """Where a pack went."""

    folder: Path
    files: tuple[Path, ...]
    cases: int
    note: str | None = None  # what must be said of the state that was printed
    out_of_date: str | None = None  # how far its readings are missing or out of date, as it says itself

    def __str__(self) -> str:
        return f"{number_of(self.cases, 'case')}, {len(self.files)} files in {self.folder}"


def write_pack(
    db: Path,
    *,
    period: str,
    out: Path,
    options: PackOptions | None = None,
    unit: str | None = None,
    made_on: str | None = None,
    workers: int | None = None,
    progress: Report | None = None,
) -> Written:
    """Write the pack of a month into a folder.

    Parameters
    ----------
    db : the database; its published copy is read, so that a running command is not waited for.
    period : month of birth, YYYY-MM, or a span of months as `months.twelve` gives it; of a span no case is named and
        small counts are hidden, as for outside the unit.
    out : folder, made when it is not there. Files of the same names are replaced one by one, each whole or not at all.
    options : None = as the unit's settings say.
    unit : code of the unit whose cases are counted, where there are several; None = all. Only for outside and for a
        span of months: agenda, findings and actions are those of all units' meeting.
    made_on : the date printed on the pack, YYYY-MM-DD; None = today. The same database, options and date give the
        same bytes.

    Raises
    ------
    UsageError : a period that is no month, a unit without cases, one unit's pack with a meeting in it, or a report for
        outside that overlaps with others (`pack.reach`).
    AuditError : no database, or no case of that month.
    """
    months_.checked_months(period)
    if months_.is_span(period):
        options = (options or PackOptions.of(settings_for(db))).changed(for_outside=True)
    if unit is not None and not (options is not None and options.for_outside):
        raise UsageError(
            "unit: found a pack with a meeting, expected one for outside (--for-outside, --year): its meeting, cases"
            " and actions are those of all units together"
        )
    make_folder(out)
    with house_style.written(house_style.of(settings_for(db).locale)):
        whole = published.required(db, wait_s=published.GLANCE_S)
        if options is not None:
            with published.open_for_question(whole) as con:
                reach.checked(period, unit, one_unit.units(con), options)
        copy = replace(whole, unit=unit)
        pack = gather(db, copy, period=period, options=options, made_on=made_on, workers=workers, progress=progress)
        outside = "_outside" if options is not None and options.for_outside else ""
        name = "_".join([months_.words(period).replace(" ", "_"), *([unit] if unit else [])])
        stem = f"pack_{name}{outside}"
        files: dict[str, bytes] = {
            f"{stem}.pdf": pdf_bytes(pack),
            f"{stem}.html": html_text(pack).encode("utf-8"),
            f"{stem}.pptx": pptx_bytes(pack),
        }
        if options is not None and options.feedback and not options.for_outside:
            for case_id in dict.fromkeys(case.case_id for case in pack.cases):
                files[f"feedback_{name}/{case_id}.pdf"] = feedback_pdf(db, copy, case_id, made_on=made_on)
        files |= {f"tables_{name}{outside}/{table}": content for table, content in csv_files(pack).items()}
        files[f"anchor_{name}{outside}.json"] = _anchor(db, whole)
        return Written(out, put_in_place(out, files), len(pack.cases), copy.note, pack.out_of_date)


def _anchor(db: Path, copy: Source) -> bytes:
    """What `check` can hold the database and the log against later: kept with the pack, outside both."""
    with published.open_for_reading(copy) as con:
        kept = {**seal.anchor(con), **people_database.anchor(db)}
    return json.dumps(kept, indent=1).encode()


def gather(
    db: Path,
    copy: Source,
    *,
    period: str,
    options: PackOptions | None = None,
    made_on: str | None = None,
    workers: int | None = None,
    progress: Report | None = None,
) -> Pack:
    """Everything a pack holds, drawings included; `copy` answers, other parameters and errors as `write_pack`."""
    settings = settings_for(db)
    chosen = options or PackOptions.of(settings)
    # open until the last case is drawn, so that the copy stays where the workers look for it
    with published.open_for_reading(copy) as con:
        counts = records(con, "pack/counts", {"period": period, "standard": chosen.standard})[0]
        if not counts["cases"]:
            why = merged_labours.sentence(con, period) or _months_there(con)
            raise AuditError(f"period: there is no case of {months_.words(period)}; {why}")
        agenda = [] if chosen.for_outside else agenda_of(db, con, settings, period, chosen)
        out_of_date = stale.document(con, settings, period=period)
        counted = coverage.document(con, period)
        if chosen.for_outside:
            counted = coverage.suppressed(con, counted, period, least=chosen.min_cell)
        every = () if chosen.for_outside else (front.agenda_table(agenda), month_table(con, settings, period))
        gone = NOTHING
        if chosen.for_outside:
            names = [name for name, _ in front.COUNTS]
            gone = untold(con, period, standard=chosen.standard, names=names, least=chosen.min_cell)
        sections, in_full, others = _sections(db, con, settings, period, chosen, gone)
        unread = database.rows(con, "month/hidden", {"period": period})
        runs, sources = records(con, "data_quality/runs"), records(con, "pack/sources")
        jobs = jobs_of(db, con, copy, settings, chosen, period, enumerate(agenda, start=1)) if agenda else []
        cases = draw_cases(jobs, workers=workers, progress=progress)
    outside = ", for outside the unit" if chosen.for_outside else ""
    of = months_.words(period) if copy.unit is None else f"{months_.words(period)}, unit {copy.unit}"
    kind = "Annual report" if months_.is_span(period) else "Review"
    date = made_on or datetime.now(UTC).date().isoformat()
    return Pack(
        period=period,
        title=f"{kind} of labours of {of}{outside}",
        made_on=date,
        paper=chosen.paper,
        footer=_footer(of, date, runs, chosen, out_of_date),
        out_of_date=stale.told(out_of_date, period, counts=not chosen.for_outside),
        caution=methods.CAUTION,
        cover=front.cover(
            of,
            chosen,
            agenda,
            on_agenda=0 if chosen.for_outside else len(people_agenda.items(db, period)),
            drawn={case.case_id for case in cases},
            summary=None
            if chosen.for_outside
            else summary_table(
                agenda, findings.in_period(db, period), issues.in_period(db, period), actions.agreed_in(db, period)
            ),
            out_of_date=stale.told(out_of_date, period, counts=not chosen.for_outside),
            held="" if chosen.for_outside else _held(db, settings, period),
            annual=months_.is_span(period),
        ),
        sections=(
            front.rests_on(
                {**counts, "period": period},
                chosen,
                hidden_words=hidden.of_month(unread, with_counts=not chosen.for_outside),
                counted=counted,
                untold=gone,
            ),
            *sections,
        ),
        cases=tuple(cases),
        further_tables=(*every, *in_full),
        methods=methods.methods_section(
            runs,
            sources,
            settings,
            log_head=log.head(db),
            accuracy=accuracy_lines(db),
            published=others,
            copy_note=copy.note,
            counts=not chosen.for_outside,
        ),
    )


def _held(db: Path, settings: Settings, period: str) -> str:
    """When the meeting was held and by whom; empty before anything was noted."""
    meeting, options = meetings.of(db, period), settings.meeting
    words = meetings.words(meeting)
    if not words:
        return ""
    return f"{words}. {meetings.quorum(meeting, persons=options.quorum_persons, roles=options.quorum_roles)}"


def _sections(
    db: Path, con: database.Connection, settings: Settings, period: str, options: PackOptions, gone: Untold
) -> tuple[list[Section], list[Table], list[str]]:
    """The parts after the cover, tables of which paper shows a part only, and what others published of readers."""
    found = []
    monthly = trends.document(con, settings, db=db, standard=options.standard)
    last = months_.last_of(period)
    became = effects(monthly["measures"], actions.with_measure(db, last), last, level=settings.trends.interval_level)
    if not options.for_outside:
        found.append(front.actions_section(actions.for_meeting(db, period), actions.agreed_in(db, period), became))
        if asked_by_families := family_questions.in_period(db, period):
            found.append(front.family_section(asked_by_families))
    found.append(trends_pages.trends_section(monthly, period, options, settings.trends, gone))
    waited = delays.document(con, settings, period=period)
    found.append(front.response_section(waited, options, gone))
    noted = bedside.document(con, period=period, least=options.min_cell)
    found += bedside_sections.sections(waited["wait_parts"], noted, options, gone)
    of_meeting = agreed.document(con, db, settings, period=period)
    if of_meeting["clocks"] and not options.for_outside:
        found.append(front.agreed_section(of_meeting))
    if months_.is_span(period):
        if chain := issue_chain.rows(db, period, became, least=options.min_cell):
            found.append(front.chain_section(chain, options))
        told = options.outcome != "left_out"
        if not options.overlapping:
            compared = equity.document(
                con, settings, period=period, standard=options.standard, with_outcome=told, least=options.min_cell
            )
            found += equity_section.sections(compared)
    asked = agreement.question(con, period=period)
    read = agreement.document(con, asked, settings.agreement)
    if agreement.standards_read(con, None):
        found.append(front.agreement_section(read, options, gone))
    in_full = [] if options.for_outside or not became else [EFFECTS.filled(became, note=EFFECT_CAUTION)]
    if not (read and read["windows"]):
        return found, in_full, []
    return found, [*in_full, PUBLISHED.filled(read["published"])], front.published_lines(read)


def _footer(of: str, date: str, runs: list[dict[str, Any]], options: PackOptions, out_of_date: dict[str, Any]) -> str:
    run = runs[0]["run_id"] if runs else "none"
    version = runs[0]["version"] if runs else "–"
    shared = "for outside the unit" if options.for_outside else "for the unit's own meeting"
    many = "some" if options.for_outside else f"{out_of_date['stale']} of {out_of_date['tracings']}"
    state = f" · {many} readings missing or out of date" if out_of_date["stale"] else ""
    return f"Labours of {of} · run {run}, version {version}{state} · de-identified, {shared} · made {date}"


def _months_there(con: database.Connection) -> str:
    months = [row["period"] for row in records(con, "month/months") if row["period"]]
    if not months:
        return "no case has a month; import a cases file"
    return f"expected one of {', '.join(sorted(months)[-12:])}"


def csv_files(pack: Pack) -> dict[str, bytes]:
    """File name to bytes. Tables of the cases are put together by name, with the case in the first column."""
    grouped: dict[str, list[Table]] = {}
    for found in pack.tables():
        grouped.setdefault(found.name, []).append(found)
    return {f"{name}.csv": to_csv(tables, out_of_date=pack.out_of_date) for name, tables in sorted(grouped.items())}
