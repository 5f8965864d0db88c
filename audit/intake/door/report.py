"""The report of one import: a line per file, its remarks, a summary and the exit code."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from audit.errors import EXIT_DONE, EXIT_REJECTS
from audit.intake.door.remarks import Remark
from audit.words import counted

Kind = Literal["tracing", "wfdb", "cases", "care_events", "reads", "assessments", "unit_months", "unknown"]
Outcome = Literal["stored", "replaced", "unchanged", "refused", "left_alone"]

SHOWN_PER_FILE = 5
_ROWS = {
    "tracing": "sample",
    "wfdb": "sample",
    "cases": "case",
    "care_events": "event",
    "assessments": "assessment",
    "unit_months": "month",
}


@dataclass(frozen=True)
class FileOutcome:
    """What became of one file. Rows of a tracing are the rows (samples) of its file.

    `source` and `number` stand for it wherever it is told of; `path` is for the caller only, who gave it.
    """

    source: str
    kind: Kind
    outcome: Outcome
    sha256: str = ""
    rows_accepted: int = 0
    rows_rejected: int = 0
    values_rejected: int = 0
    rows_flagged: int = 0
    message: str | None = None
    remarks: tuple[Remark, ...] = ()
    number: int = 0
    path: Path | None = field(default=None, repr=False, compare=False)
    part: str = ""  # of the file: a sheet, the annotations of a recording
    pseudonyms: frozenset[str] = field(default=frozenset(), repr=False)

    @property
    def label(self) -> str:
        """The file for a person: its place among those given, and its tag."""
        told = f"{self.source}, {self.part}" if self.part else self.source
        return told if self.source.startswith("file ") else f"file {self.number} ({told})"

    @property
    def has_rejects(self) -> bool:
        """Something of this file was kept out."""
        return self.outcome == "refused" or self.rows_rejected > 0 or self.values_rejected > 0

    @property
    def rejects(self) -> list[Remark]:
        """The remarks on what was kept out."""
        return [remark for remark in self.remarks if remark.severity == "rejected"]

    def lines(self) -> list[str]:
        """The file's line, then its first remarks."""
        if self.outcome == "left_alone":
            return [f"{self.label}: left alone: {self.message}"]
        if self.outcome == "refused" and not self.rows_rejected:
            remark = self.remarks[0].text(self.label) if self.remarks else f"{self.label}: {self.message}"
            return [f"{remark}. Nothing of this file was stored."]
        text = [f"{self.label}: {self.outcome}, {self._counts()}" + (f". {self.message}" if self.message else "")]
        text += [f"  {remark.severity}: {remark.text(self.label)}" for remark in self.remarks[:SHOWN_PER_FILE]]
        if len(self.remarks) > SHOWN_PER_FILE:
            text.append(f"  and {len(self.remarks) - SHOWN_PER_FILE:,} more, see the table import_rejects")
        return text

    def document(self) -> dict[str, Any]:
        """The file as a JSON document, with all its remarks."""
        names = ("number", "source", "part", "kind", "outcome", "sha256", "rows_accepted", "rows_rejected")
        remarks = [
            {
                "row": remark.row_number,
                "column": remark.column_name,
                "value": remark.value,
                "severity": remark.severity,
                "reason": remark.reason,
            }
            for remark in self.remarks
        ]
        named = {name: getattr(self, name) for name in (*names, "values_rejected", "rows_flagged", "message")}
        return {**named, "pseudonyms": len(self.pseudonyms), "remarks": remarks}

    def _counts(self) -> str:
        counts = [counted(self.rows_accepted, _ROWS.get(self.kind, "row"))]
        counts += [f"{counted(self.rows_rejected, 'row')} rejected"] if self.rows_rejected else []
        counts += [f"{counted(self.values_rejected, 'value')} rejected"] if self.values_rejected else []
        counts += [counted(self.rows_flagged, "remark")] if self.rows_flagged else []
        return ", ".join(counts)


def became(file: Any) -> dict[str, Any]:
    """What is kept, and told, of a file that was offered: of an outcome, or of what is known of one."""
    counts = ("rows_accepted", "rows_rejected", "values_rejected", "rows_flagged")
    return {name: getattr(file, name) for name in ("sha256", "kind", "outcome", *counts, "message")}


@dataclass(frozen=True)
class ImportReport:
    """What one import did, file by file in the order they were taken."""

    files: tuple[FileOutcome, ...] = ()
    dry_run: bool = False

    @property
    def exit_code(self) -> int:
        """0, or 3 when a file, row or value was rejected."""
        return EXIT_REJECTS if any(file.has_rejects for file in self.files) else EXIT_DONE

    @property
    def rows_accepted(self) -> int:
        """Rows stored, over all files."""
        return sum(file.rows_accepted for file in self.files)

    @property
    def rows_rejected(self) -> int:
        """Rows kept out, over all files that were not refused whole."""
        return sum(file.rows_rejected for file in self.files)

    @property
    def rows_flagged(self) -> int:
        """Remarks on what was stored, over all files."""
        return sum(file.rows_flagged for file in self.files)

    def count(self, outcome: Outcome) -> int:
        """Files with this outcome."""
        return sum(file.outcome == outcome for file in self.files)

    def lines(self) -> list[str]:
        """The whole report as text."""
        text = [line for file in self.files for line in file.lines()]
        return [*text, self.summary()]

    def document(self) -> dict[str, Any]:
        """The whole report as a JSON document."""
        return {
            "dry_run": self.dry_run,
            "exit_code": self.exit_code,
            "summary": self.summary(),
            "files": [file.document() for file in self.files],
        }

    def summary(self) -> str:
        """The last line of the report."""
        if not self.files:
            return "No files found."
        outcomes: tuple[Outcome, ...] = ("stored", "replaced", "unchanged", "refused", "left_alone")
        files = ", ".join(f"{self.count(each)} {each.replace('_', ' ')}" for each in outcomes if self.count(each))
        values = sum(file.values_rejected for file in self.files)
        text = (
            f"{counted(len(self.files), 'file')}: {files}. {counted(self.rows_accepted, 'row')} accepted,"
            f" {counted(self.rows_rejected, 'row')} and {counted(values, 'value')} rejected,"
            f" {counted(self.rows_flagged, 'remark')}."
        )
        renamed = len(frozenset().union(*(file.pseudonyms for file in self.files)))
        if renamed:
            text += (
                f" {counted(renamed, 'case id', are=True)} not of the unit's pattern and stored under a keyed pseudonym"
                " (see `pseudonym --help`)."
            )
        if any(file.has_rejects for file in self.files):
            text += " `which` names the file of a number or tag."
        if self.dry_run:
            return f"{text} Dry run: nothing was written."
        return f"{text} What was rejected is listed in the table import_rejects." if self.exit_code else text


@dataclass
class Stored:
    """Counts while a file's content is stored. `accepted` are rows that are in the store afterwards, new or not."""

    accepted: int = 0
    new: int = 0
    replaced: int = 0

    def outcome(self, kept_out: int) -> Outcome:
        """In one word: stored, replaced, unchanged or, when nothing of the file is in the store, refused."""
        if self.replaced:
            return "replaced"
        if self.new:
            return "stored"
        return "refused" if kept_out and not self.accepted else "unchanged"
