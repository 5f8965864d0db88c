"""When the outcome of a case was opened, by whom: what was read before that moment was read blind."""

from collections.abc import Iterable
from pathlib import Path

from audit.people import log
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database


def record(db: Path, case_id: str, *, who: str, place: str, period: str | None = None) -> None:
    """Keep the moment. `place` is `meeting` or `case` (the case page); every opening is a row of its own."""
    with writing(db, who, Deed.SEE_OUTCOMES) as con:
        row = {"case_id": case_id, "period": period, "who": who, "at": log.utc_now(), "place": place}
        database.execute(con, "disclosure_add", row)
        log.append(con, who, "opened", "outcome", {"case_id": case_id}, new=row)


def record_shown(db: Path, case_ids: Iterable[str], *, who: str, deed: Deed = Deed.SEE_OUTCOMES) -> None:
    """Keep that the outcomes of these cases stood on a page, in a list or beside strips whose batch shows them."""
    with writing(db, who, deed) as con:
        log.append(con, who, "opened", "outcomes", {}, new={"case_ids": sorted(case_ids)})


def of_case(db: Path, case_id: str) -> list[database.Row]:
    """`opened_by, opened_at, place, period` of a case, the first opening first."""
    return database.ask(db, "disclosures_of_case", {"case_id": case_id})


def known_to_readers(db: Path) -> frozenset[tuple[str, str]]:
    """Reader and case wherever what was opened here until now told a reader of this unit the outcome."""
    return frozenset((row["reader"], row["case_id"]) for row in database.ask(db, "known_to_readers"))


def opened_in(db: Path, period: str) -> set[str]:
    """The cases whose outcome was opened in the meeting about this month."""
    return {row["case_id"] for row in database.ask(db, "disclosures_in_meeting", {"period": period})}
