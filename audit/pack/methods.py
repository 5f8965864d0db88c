"""The page on methods: what was counted, by which standards, settings and run, from which files, how well it reads."""

from collections.abc import Mapping, Sequence
from typing import Any

from audit.charts import palette
from audit.pack.model import Cell, Column, Section, Table, number, table
from audit.settings import Settings

CAUTION = (
    "Retrospective review by licensed clinicians. Not for care in progress, not a medical device; local guidelines"
    " decide."
)
EDITIONS: dict[str, str] = {
    "nichd-2008": "Macones et al., the 2008 NICHD workshop report on electronic fetal monitoring; three tiers",
    "figo-2015": "Ayres-de-Campos et al., FIGO consensus guidelines on intrapartum fetal monitoring, 2015",
    "nice-ng229": "NICE guideline NG229, Fetal monitoring in labour, December 2022",
}
BLIND = (
    "Readers see bare strips in an order of their own, without case, outcome, events, findings or other readers'"
    " reads; some strips come twice. Outcomes are opened after the reads; the moment is kept in the log."
)


def methods_section(
    runs: Sequence[Mapping[str, Any]],
    sources: Sequence[Mapping[str, Any]],
    settings: Settings,
    *,
    log_head: str | None,
    accuracy: Sequence[str],
) -> Section:
    """Standards with editions, settings, runs, files, and what is known of the reading's accuracy."""
    changed = f"changed by the unit: {', '.join(settings.overridden)}" if settings.overridden else "as packaged"
    chain = [f"Hash of the newest entry of the log of what people wrote: {log_head}."] if log_head else []
    return Section(
        title="Methods and sources",
        paragraphs=(
            CAUTION,
            BLIND,
            *accuracy,
            f"Settings in force: SHA-256 {settings.sha256}; {changed}.",
            *chain,
        ),
        tables=(_editions_table(settings), _runs_table(runs), _sources_table(sources)),
    )


def _editions_table(settings: Settings) -> Table:
    columns = (Column("standard", "Standard"), Column("text", "Text"), Column("edition", "Edition in force"))
    rows: list[list[Cell]] = [
        [palette.standard_name(name), words, settings.table(name).get("edition")] for name, words in EDITIONS.items()
    ]
    return table("editions", "Standards", columns, rows)


def _runs_table(runs: Sequence[Mapping[str, Any]]) -> Table:
    columns = (
        Column("run_id", "Run"),
        Column("version", "Program version"),
        Column("settings", "Settings SHA-256, first 16"),
        number("tracings", "Tracings"),
        number("failed", "Failed"),
    )
    rows: list[list[Cell]] = [
        [row["run_id"], row["version"], str(row["settings_sha256"])[:16], row["tracings"], row["failed"]]
        for row in runs
    ]
    return table("runs", "Analysis runs behind the findings", columns, rows, empty="Nothing was analysed yet.")


def _sources_table(sources: Sequence[Mapping[str, Any]]) -> Table:
    columns = (
        Column("kind", "Kind"),
        number("files", "Files"),
        number("rows_accepted", "Rows stored"),
        number("rows_rejected", "Rows kept out"),
    )
    rows: list[list[Cell]] = [
        [palette.words(row["kind"]), row["files"], row["rows_accepted"], row["rows_rejected"]] for row in sources
    ]
    note = "All months. Rows kept out are listed with their reasons on the page 'Data quality'."
    return table("sources", "Files in the database", columns, rows, note=note, empty="No file was imported.")
