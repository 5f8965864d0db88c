"""Tables of an import's report: what became of each file, and what was kept out or remarked on, row by row."""

from collections.abc import Mapping
from typing import Any

from audit.tables.definition import Column, Kind, TableDefinition, counts, numbers, texts

TAKEN = TableDefinition(
    "files_taken_in",
    (
        *numbers(0, number="File"),
        *texts(Kind.CODE, kind="Kind", outcome="What became of it"),
        *counts(rows_accepted="Rows taken", rows_rejected="Rows kept out", rows_flagged="With a remark"),
        Column("message", "Message"),
    ),
    title="Files",
)
KEPT_OUT = TableDefinition(
    "kept_out_of_files",
    (
        *numbers(0, number="File", row="Row"),
        *texts(Kind.TEXT, column="Column"),
        *texts(Kind.SEVERITY, severity="Kept out or remark"),
        Column("reason", "What was found, what is expected"),
    ),
    title="Kept out, and remarks",
)


def taken(report: Mapping[str, Any]) -> list[dict[str, Any]]:
    """A row for each file of a report's document."""
    return [dict(file) for file in report.get("files", [])]


def kept_out(report: Mapping[str, Any]) -> list[dict[str, Any]]:
    """A row for each remark of a report's document."""
    return [{"number": file["number"], **remark} for file in report.get("files", []) for remark in file["remarks"]]
