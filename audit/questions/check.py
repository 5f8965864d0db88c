"""Verify a database: schema version, orphans, unit ranges, stale readings."""

from dataclasses import dataclass, field
from pathlib import Path

from audit.analysis.job import stale_tracings
from audit.people import log
from audit.settings import Settings
from audit.store import database


@dataclass
class CheckReport:
    """What was looked at and what was found."""

    version: int
    counts: dict[str, int] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    stale: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        """0 when nothing was found, 1 otherwise."""
        return 1 if self.problems or self.stale or self.failed else 0

    def lines(self, most: int = 50) -> list[str]:
        """The report as text; long lists are cut, with the total."""
        text = [f"schema version {self.version}"]
        text += [f"{count} {name}" for name, count in self.counts.items()]
        for title, found in (
            ("problems", self.problems),
            ("readings that are missing or out of date; run analyse", self.stale),
            ("tracings that could not be read", self.failed),
        ):
            text.append(f"{len(found)} {title}")
            text += [f"  {item}" for item in found[:most]]
            if len(found) > most:
                text.append(f"  and {len(found) - most} more")
        return text


def check(db: Path, settings: Settings) -> CheckReport:
    """Look through a database without changing it. Raises what `store.open_for_reading` raises."""
    with database.open_for_reading(db) as con:
        report = CheckReport(version=database.schema_version(con))
        for row in database.rows(con, "check/counts").itertuples():
            report.counts[str(row.name)] = int(row.count)
        for name in ("check/orphans", "check/ranges"):
            for row in database.rows(con, name).itertuples():
                where = row.case_id if row.fetus is None or row.fetus != row.fetus else f"{row.case_id} {row.fetus}"
                report.problems.append(f"{where}: {row.problem}")
        report.stale = [f"{case_id} {fetus}: {why}" for case_id, fetus, why in stale_tracings(con, settings)]
        for row in database.rows(con, "check/failed").itertuples():
            report.failed.append(f"{row.case_id} {row.fetus}: {row.reason}")
    report.problems += log.verify(db)
    return report
