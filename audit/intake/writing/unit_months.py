"""Put checked unit months into the store."""

import pyarrow as pa

from audit.intake.checks.unit_months import UnitMonthRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.formats.tables import UNIT_COUNTS
from audit.intake.writing.ledger import put
from audit.store import database


def write_unit_months(
    con: database.Connection, rows: list[UnitMonthRow], import_id: int, remarks: Remarks, *, replace: bool
) -> Stored:
    """Store the months inside the caller's transaction. One that contradicts a stored one is rejected unless `replace`.

    What is stored and what the file does not say stays.
    """
    stored = Stored()
    before = {(row["period"], row["unit"]): row for row in database.records(con, "intake/unit_months")}
    put_rows: list[dict[str, object]] = []
    for row in rows:
        known = before.get(row.key)
        given = {name: count for name, count in row.counts.items() if count is not None}
        differ = [] if known is None else [n for n in given if known[n] is not None and known[n] != given[n]]
        if differ and not replace:
            told = ", ".join(f"{name} {known[name]} (file: {given[name]})" for name in differ if known is not None)
            remarks.reject_row(
                row.row_number,
                f"{row.period} is stored with other counts: {told}; import with --replace to let this file take their"
                " place",
                differ[0],
                given[differ[0]],
            )
            continue
        stored.accepted += 1
        more = known is None or any(known[name] is None for name in given)
        stored.replaced += bool(differ)
        stored.new += not differ and more
        if differ or more:
            merged = {name: given.get(name, None if known is None else known[name]) for name in UNIT_COUNTS}
            put_rows.append({"period": row.period, "unit": row.unit, **merged, "import_id": import_id})
    put(con, "intake/put_unit_months", pa.Table.from_pylist(put_rows, _SCHEMA))
    return stored


_SCHEMA = pa.schema(
    [("period", pa.string()), ("unit", pa.string())]
    + [(name, pa.int32()) for name in UNIT_COUNTS]
    + [("import_id", pa.int64())]
)
