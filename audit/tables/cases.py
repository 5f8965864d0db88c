"""Tables of a month's cases and of what came in: to discuss, left out, missing, imports, rejects, signal."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from audit.tables.definition import Column, Kind, TableDefinition, counts, numbers, shares, texts
from audit.tables.episodes import CASE, FETUS, PERIOD, STANDARD
from audit.words import words

TO_DISCUSS = TableDefinition(
    "to_discuss",
    (
        CASE,
        *numbers(None, score="Score"),
        Column(
            "reasons",
            "Reasons (points)",
            value=lambda row: "\n".join(
                [*(f"{reason['text']} ({reason['points']:g})" for reason in row["reasons"]), *_risk_line(row)]
            ),
        ),
    ),
)


def _risk_line(row: Mapping[str, Any]) -> list[str]:
    """Risk factors below the reasons, without points; nothing where none was given."""
    risks = row.get("risk_factors")
    return [f"Risk factors: {', '.join(map(words, risks))}"] if risks else []


def presets(names: Sequence[str]) -> TableDefinition:
    """What each weighting lists: a case's place in the list of each, from 1."""
    return TableDefinition(
        "presets",
        (
            CASE,
            *(Column(name, words(name).capitalize(), Kind.NUMBER, 0, value=partial(_place_in, name)) for name in names),
            Column("first", "First for its outcome", Kind.YES_NO, value=lambda row: row["first"] or None),
        ),
        title="Place of each case under each weighting",
        empty="No weighting lists a case.",
    )


def _place_in(name: str, row: Mapping[str, Any]) -> Any:
    return row["places"][name]


REASONS = TableDefinition(
    "reasons",
    (
        CASE, PERIOD, *numbers(None, score="Score"), *texts(kind="Kind", reason="Reason"),
        *numbers(None, value="Value", points="Points"),
    ),
    empty="No reason was found.",
)  # fmt: skip
OTHERS = TableDefinition(
    "others", (CASE, PERIOD, Column("list", "Which"), Column("reason", "Why")), empty="There is no other case."
)
CASE_LIST = TableDefinition(
    "case_list",
    (
        CASE, *texts(list="List"), Column("reason", "Why it is on that list", width="large"),
        Column("concerns", "Concerns and answers", width="medium"), Column("outcome", "Outcome", width="medium"),
        *texts(shift="Shift", mode="Mode of birth", risk="Risk factors"), PERIOD,
    ),
    first_columns=("case_id", "list", "reason", "concerns", "outcome", "mode"),
)  # fmt: skip
MONTH_CASES = TableDefinition(
    "cases_of_the_month", (CASE, Column("list", "List"), Column("reason", "Why, without the outcome")),
    title="Every case of the month",
)  # fmt: skip
CATEGORIES = TableDefinition(
    "categories",
    (
        STANDARD,
        Column("category", "Category"),
        *numbers(minutes="Minutes", standard_minutes="Of minutes"),
        *shares(fraction="Share, %"),
        *numbers(tracings="Tracings with any"),
    ),
)
WAITING = TableDefinition("waiting", texts(what="What", state="How far", page="Page"), empty="Nothing waits.")
MISSING = TableDefinition(
    "missing",
    (
        Column("item", "Missing"),
        *numbers(cases="Cases without", labours="Of labours"),
        *shares(fraction="Share, %"),
    ),
)
MISSING_BY_CASE = TableDefinition(
    "missing_by_case", (CASE, PERIOD, Column("lacks", "Lacks")), empty="Every case is complete."
)
IMPORTS = TableDefinition(
    "imports",
    (
        *texts(Kind.MOMENT, imported_at="When (UTC)"),
        Column("source", "File"),
        *texts(Kind.CODE, kind="Kind", outcome="What became of it"),
        *counts(rows_accepted="Rows stored", rows_rejected="Kept out", rows_flagged="Remarks"),
        Column("message", "Message"),
    ),
    empty="Nothing was imported yet.",
)
SOURCES = TableDefinition(
    "sources",
    (
        *texts(Kind.CODE, kind="Kind"),
        *counts(files="Files", rows_accepted="Rows stored", rows_rejected="Rows kept out"),
    ),
    title="Files in the database",
    empty="No file was imported.",
)
REJECT_REASONS = TableDefinition(
    "reject_reasons",
    (
        *texts(Kind.SEVERITY, severity="Kept out or remark"),
        Column("column_name", "Column"),
        *counts(found="Rows", files="Files"),
        Column("example", "For example"),
    ),
)
REJECTS = TableDefinition(
    "rejects",
    (
        Column("source", "File"),
        *numbers(row_number="Row"),
        *texts(column_name="Column", value="Found", reason="Reason"),
        *texts(Kind.SEVERITY, severity="Kept out or remark"),
    ),
)
SIGNAL = TableDefinition(
    "signal",
    (
        CASE, FETUS, PERIOD, *numbers(1, hours="Hours"),
        *shares(seen_fraction="Signal used, %", last_hour_lost_fraction="Last hour not seen, %",
                bedside_lost_fraction="Lost at the bedside, %",
                toco_seen_fraction="Toco recorded, %"),
        *numbers(1, after_monitoring_minutes="After monitoring ended, min"),
        Column("state", "Reading"),
    ),
    first_columns=("case_id", "fetus", "period", "hours", "seen_fraction", "last_hour_lost_fraction",
                   "bedside_lost_fraction", "state"),
)  # fmt: skip
FAILED = TableDefinition("failed", (CASE, FETUS, PERIOD, Column("reason", "Why")), empty="No reading failed.")
STALE = TableDefinition("stale", (CASE, FETUS, Column("reason", "Why")), empty="Every reading is up to date.")
EDITIONS = TableDefinition("editions", (STANDARD, *texts(text="Text", edition="Edition in force")), title="Standards")
RUNS = TableDefinition(
    "runs",
    (
        Column("run_id", "Run", width="small"),
        Column("version", "Version"),
        Column("settings_sha256", "Settings (first 16)", value=lambda row: str(row["settings_sha256"])[:16]),
        *numbers(tracings="Tracings", failed="Failed"),
    ),
    title="Analysis runs behind the findings",
    empty="Nothing was analysed yet.",
)


def case_list_rows(listed: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Rows of CASE_LIST from those of `audit.questions.month_list`; without outcomes that column stays empty."""
    return [
        {
            **{name: row[name] for name in ("case_id", "period", "list", "reason")},
            **{name: values for name, values in row["facets"].items() if name != "list"},
            "concerns": [_concern_words(concern) for concern in row["concerns"]],
        }
        for row in listed
    ]


def _concern_words(concern: Mapping[str, Any]) -> str:
    trigger, answer = concern["trigger"][0], concern["answer"][0]
    return trigger if trigger == answer else f"{trigger}: {answer}"
