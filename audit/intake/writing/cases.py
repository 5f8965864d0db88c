"""Put checked rows of cases and outcomes into the store."""

import hashlib
import json
import math
from collections.abc import Sequence
from typing import Any

from audit.intake.checks.cases import CaseRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.formats.tables import CASE_FIELDS, OUTCOME_FIELDS
from audit.intake.writing.ledger import Into, KnownCase
from audit.intake.writing.tracings import birth_against_tracing
from audit.store import database

Row = dict[str, Any]


def write_cases(rows: Sequence[CaseRow], into: Into) -> Stored:
    """Store the rows. One that contradicts what is stored is rejected unless it replaces it.

    Columns that the file does not have keep what is stored.
    """
    stored, remarks, replace = Stored(), into.remarks, into.replace
    params = {"case_ids": sorted({row.case_id for row in rows if row.case_id in into.ledger.cases})}
    found = [database.records(into.con, f"intake/{name}_of", params) for name in ("cases", "outcomes")]
    cases = {row["case_id"]: row for row in found[0]}
    outcomes = {(row["case_id"], row["fetus"]): row for row in found[1]}
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
                into.add_history(row.case_id, "A", "cases", case["content_sha256"], merged["content_sha256"])
            put_cases[row.case_id] = merged
        if new_outcome or differ_outcome:
            merged = _merged(row.case_id, row.fetus, outcome, row.outcome, OUTCOME_FIELDS)
            if differ_outcome and outcome is not None:
                into.add_history(row.case_id, row.fetus, "cases", outcome["content_sha256"], merged["content_sha256"])
            put_outcomes.append(merged)
        stored.replaced += changed
        stored.new += not changed and (not given or new_outcome)
    into.put("intake/put_cases", list(put_cases.values()))
    into.put("intake/put_outcomes", put_outcomes)
    for case_id, merged in put_cases.items():
        known = {name: merged[name] for name in ("birth_s", "second_stage_s", "plurality", "unit")}
        into.ledger.cases[case_id] = KnownCase(True, **known)
    _check_births(rows, put_cases, into)
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
            reason = f"found {row.facts[name]} for fetus {row.fetus}; a case has one value, {_shown(case[name])} stays"
            remarks.flag(row.row_number, name, row.facts[name], reason)


def _merged(case_id: str, fetus: str | None, stored: Row | None, given: Row, names: tuple[str, ...]) -> Row:
    values = {name: given.get(name, None if stored is None else stored[name]) for name in names}
    text = json.dumps([case_id, fetus, values], sort_keys=True, default=str)
    key = {"case_id": case_id} if fetus is None else {"case_id": case_id, "fetus": fetus}
    return {**key, **values, "content_sha256": hashlib.sha256(text.encode()).hexdigest()}


def _check_births(rows: Sequence[CaseRow], written: dict[str, Row], into: Into) -> None:
    for row in rows:
        merged, span = written.get(row.case_id), into.ledger.case_span_s(row.case_id)
        if merged is not None and merged["birth_s"] is not None and span is not None:
            odd = birth_against_tracing(merged["birth_s"], span, into.options)
            into.remarks.flag(row.row_number, "birth_s", merged["birth_s"], odd)


def _shown(value: Any) -> str:
    return "not given" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
