"""Put checked unit months into the store."""

from collections.abc import Sequence
from typing import Any

from audit.intake.checks.unit_months import UnitMonthRow
from audit.intake.door.report import Stored
from audit.intake.formats.tables import UNIT_COUNTS
from audit.intake.writing.ledger import Into
from audit.store import database


def write_unit_months(rows: Sequence[UnitMonthRow], into: Into) -> Stored:
    """Store the months. One that contradicts a stored one is rejected unless it replaces it.

    What is stored and what the file does not say stays.
    """
    stored = Stored()
    before = {(row["period"], row["unit"]): row for row in database.records(into.con, "intake/unit_months")}
    put_rows: list[dict[str, Any]] = []
    for row in rows:
        known = before.get(row.key)
        given = {name: count for name, count in row.counts.items() if count is not None}
        differ = [] if known is None else [n for n in given if known[n] is not None and known[n] != given[n]]
        if differ and not into.replace:
            told = ", ".join(f"{name} {known[name]} (file: {given[name]})" for name in differ if known is not None)
            reason = f"{row.period} is stored with other counts: {told}; import with --replace to let this file"
            into.remarks.reject_row(row.row_number, f"{reason} take their place", differ[0], given[differ[0]])
            continue
        stored.accepted += 1
        more = known is None or any(known[name] is None for name in given)
        stored.replaced += bool(differ)
        stored.new += not differ and more
        if differ or more:
            merged = {name: given.get(name, None if known is None else known[name]) for name in UNIT_COUNTS}
            put_rows.append({"period": row.period, "unit": row.unit, **merged, "import_id": into.import_id})
    into.put("intake/put_unit_months", put_rows)
    return stored
