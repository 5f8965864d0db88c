"""Put checked rows of cases and outcomes into the store."""

import hashlib
import json
import math
from typing import Any

import pyarrow as pa

from audit.intake.checks.cases import CaseRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.formats.tables import CASE_FIELDS, OUTCOME_FIELDS
from audit.intake.writing.ledger import KnownCase, Ledger, add_history, put
from audit.intake.writing.tracings import birth_against_tracing
from audit.setting_tables.intake import ImportOptions
from audit.store import database
from audit.vocabulary import EQUITY_FIELDS

Row = dict[str, Any]
_TEXT = {
    "period",
    "onset_of_labour",
    "mode_of_birth",
    "shift",
    "fhr_sensor",
    "toco_sensor",
    "died",
    "risk_factors",
    "monitored_because",
    "unit",
    *EQUITY_FIELDS,
}
_TRUTHS = {"neonatal_unit_admission", "cooled", "seizures", "transferred"}
_WHOLE = {"parity", "plurality", "apgar_1", "apgar_5", "apgar_10", "encephalopathy_grade"}


def write_cases(
    con: database.Connection,
    ledger: Ledger,
    rows: list[CaseRow],
    remarks: Remarks,
    options: ImportOptions,
    *,
    replace: bool,
) -> Stored:
    """Store the rows inside the caller's transaction.

    A row that contradicts what is stored is rejected unless `replace`. Columns that the file does not have keep what
    is stored.
    """
    stored = Stored()
    params = {"case_ids": sorted({row.case_id for row in rows if row.case_id in ledger.cases})}
    known = bool(params["case_ids"])
    cases = {row["case_id"]: row for row in _dicts(con, "intake/cases_of", params)} if known else {}
    found = _dicts(con, "intake/outcomes_of", params) if known else []
    outcomes = {(row["case_id"], row["fetus"]): row for row in found}
    put_cases: dict[str, Row] = {}
    put_outcomes: list[Row] = []
    for row in rows:
        case, outcome = cases.get(row.case_id), outcomes.get((row.case_id, row.fetus))
        given = case is not None and case["content_sha256"] is not None
        differ = _differing(case, row.facts) if given and row.case_id not in put_cases else []
        if differ and row.fetus != "A" and outcome is None and not replace:
            _flag_twin(row, case, differ, remarks)
            differ = []
            facts = None
        else:
            facts = row.facts
        differ_outcome = _differing(outcome, row.outcome) if outcome is not None else []
        if (differ or differ_outcome) and not replace:
            _reject(row, case, outcome, differ, differ_outcome, remarks)
            continue
        stored.accepted += 1
        changed = bool(differ or differ_outcome)
        new_outcome = outcome is None and any(value is not None for value in row.outcome.values())
        if facts is not None and (not given or differ):
            merged = _merged(row.case_id, None, case, facts, CASE_FIELDS)
            if differ and case is not None:
                add_history(con, row.case_id, "A", "cases", case["content_sha256"], merged["content_sha256"])
            put_cases[row.case_id] = merged
        if new_outcome or differ_outcome:
            merged = _merged(row.case_id, row.fetus, outcome, row.outcome, OUTCOME_FIELDS)
            if differ_outcome and outcome is not None:
                add_history(con, row.case_id, row.fetus, "cases", outcome["content_sha256"], merged["content_sha256"])
            put_outcomes.append(merged)
        stored.replaced += changed
        stored.new += not changed and (not given or new_outcome)
    put(con, "intake/put_cases", _table(list(put_cases.values()), ("case_id", *CASE_FIELDS, "content_sha256")))
    put(con, "intake/put_outcomes", _table(put_outcomes, ("case_id", "fetus", *OUTCOME_FIELDS, "content_sha256")))
    for case_id, merged in put_cases.items():
        ledger.cases[case_id] = KnownCase(
            True, merged["birth_s"], merged["second_stage_s"], merged["plurality"], merged["unit"]
        )
    _check_births(ledger, rows, put_cases, remarks, options)
    return stored


def _differing(stored: Row | None, given: Row) -> list[str]:
    return [] if stored is None else [name for name, value in given.items() if not _same(stored[name], value)]


def _same(stored: Any, given: Any) -> bool:
    """Equal, or stored by an earlier version with the tail that 32 bits leave behind a decimal."""
    if isinstance(stored, float) and isinstance(given, float):
        return math.isclose(stored, given, rel_tol=1e-6, abs_tol=5e-5)
    return bool(stored == given)


def _reject(
    row: CaseRow, case: Row | None, outcome: Row | None, differ: list[str], differ_outcome: list[str], remarks: Remarks
) -> None:
    parts = [f"{name} {_shown(case[name])} (file: {_shown(row.facts[name])})" for name in differ if case is not None]
    parts += [
        f"{name} {_shown(outcome[name])} (file: {_shown(row.outcome[name])})"
        for name in differ_outcome
        if outcome is not None
    ]
    column = [*differ, *differ_outcome][0]
    reason = (
        f"case {row.case_id}, fetus {row.fetus} is stored with other values: {', '.join(parts)}; import with --replace"
        " to let this file take their place"
    )
    if "unit" in differ and case is not None and case["unit"] is not None:
        # another unit's labour under the same id: taking its place would lose a labour
        unit, file = case["unit"], _shown(row.facts["unit"])
        column = "unit"
        reason = f"case {row.case_id} is stored for unit {unit} (file: {file}); expected ids that no two units share"
    remarks.reject_row(row.row_number, reason, column, row.case_id)


def _flag_twin(row: CaseRow, case: Row | None, differ: list[str], remarks: Remarks) -> None:
    for name in differ:
        if case is not None and row.facts[name] is not None:
            remarks.flag(
                row.row_number,
                name,
                row.facts[name],
                f"found {row.facts[name]} for fetus {row.fetus}; a case has one value, {_shown(case[name])} stays",
            )


def _merged(case_id: str, fetus: str | None, stored: Row | None, given: Row, names: tuple[str, ...]) -> Row:
    values = {name: given.get(name, None if stored is None else stored[name]) for name in names}
    text = json.dumps([case_id, fetus, values], sort_keys=True, default=str)
    key = {"case_id": case_id} if fetus is None else {"case_id": case_id, "fetus": fetus}
    return {**key, **values, "content_sha256": hashlib.sha256(text.encode()).hexdigest()}


def _check_births(
    ledger: Ledger, rows: list[CaseRow], written: dict[str, Row], remarks: Remarks, options: ImportOptions
) -> None:
    for row in rows:
        merged, span = written.get(row.case_id), ledger.case_span_s(row.case_id)
        if merged is None or merged["birth_s"] is None or span is None:
            continue
        sentence = birth_against_tracing(merged["birth_s"], span, options)
        if sentence is not None:
            remarks.flag(row.row_number, "birth_s", merged["birth_s"], sentence)


def _dicts(con: database.Connection, query: str, params: dict[str, Any]) -> list[Row]:
    cursor = database.execute(con, query, params)
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _table(rows: list[Row], names: tuple[str, ...]) -> pa.Table:
    return pa.table({name: pa.array([row[name] for row in rows], _type(name)) for name in names})


def _type(name: str) -> pa.DataType:
    if name in _TEXT or name in ("case_id", "fetus", "content_sha256"):
        return pa.string()
    if name in _WHOLE:
        return pa.int32()
    return pa.bool_() if name in _TRUTHS else pa.float64()


def _shown(value: Any) -> str:
    return "not given" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
