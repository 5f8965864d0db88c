"""What may be taken out for work elsewhere: the unit's tables as they are, with what each column means."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc

from audit.store import database, people_database
from audit.vocabulary import EQUITY_FIELDS

# what is asked for -> tables of the database
TABLES: dict[str, tuple[str, ...]] = {
    "cases": ("cases", "outcomes"),
    "findings": ("decelerations", "accelerations", "contractions", "epochs", "burden"),
    "episodes": ("concern_episodes", "responses"),
    "reads": ("reads",),
    "events": ("care_events",),
    "actions": (),
    "minutes": ("minute_categories",),
}
ACTIONS = "actions"
# people's own columns have no comments in their store
_ACTION_WORDS = {
    "action_id": "number of the action",
    "period": "month of the meeting's cases, YYYY-MM",
    "case_id": "pseudonymous id of the case that it followed from; empty = none",
    "issue": "what could have been better, from which it follows, in words of the settings; empty = names none",
    "action": "what was agreed, in the unit's own words",
    "owner_role": "role that owns it, never a person",
    "due_period": "month it is due, YYYY-MM",
    "state": "open, started, done or dropped",
    "closed_period": "month it was closed, YYYY-MM; empty = not yet",
}
DICTIONARY = ("table", "column", "kind", "meaning")

_KEPT_IN = (*EQUITY_FIELDS, "content_sha256")


@dataclass(frozen=True)
class Out:
    """Tables by name, and the dictionary: rows of table, column, kind and meaning for each of their columns."""

    tables: dict[str, pa.Table]
    dictionary: list[tuple[str, str, str, str]]


def taken_out(
    con: database.Connection,
    db: Path,
    wanted: Sequence[str],
    period: str | None = None,
    *,
    of_one_unit: bool = False,
    out_of_date: str | None = None,
) -> Out:
    """The tables that are wanted, of one month's cases where one is given.

    `of_one_unit`: the connection sees one unit's cases, so that actions go with theirs; those of no case stay.
    `out_of_date`: how far what was found is not what an analysis would find now, which the dictionary begins with.
    """
    names = list(dict.fromkeys(name for each in wanted for name in TABLES[each]))
    cases = con.table("cases").to_arrow_table()
    here = cases if period is None else cases.filter(pc.equal(cases["period"], period))
    ids = here["case_id"].combine_chunks()
    found: dict[str, pa.Table] = {}
    for name in names:
        table = con.table(name).to_arrow_table()
        # five bands of one labour together can point at one person: they are compared, never handed out row by row; nor
        # is the hash of such a row, from which they could be found by trying each
        table = table.drop_columns([column for column in _KEPT_IN if column in table.column_names])
        table = table if period is None else table.filter(pc.is_in(table["case_id"], value_set=ids))
        by = [column for column in _ORDER if column in table.column_names]
        found[name] = table.sort_by([(column, "ascending") for column in by])
    said = {
        (row["table_name"], row["column_name"]): (row["kind"], row["meaning"] or "")
        for row in database.records(con, "store/dictionary")
    }
    dictionary = [(name, column, *said[name, column]) for name, table in found.items() for column in table.column_names]
    if ACTIONS in wanted:
        rows = people_database.ask(db, "actions_all")
        rows = [row for row in rows if period is None or row["period"] == period]
        if of_one_unit:
            seen = set(cases["case_id"].to_pylist())
            rows = [row for row in rows if row["case_id"] in seen]
        found[ACTIONS] = pa.table({name: pa.array([row.get(name) for row in rows]) for name in _ACTION_WORDS})
        dictionary += [(ACTIONS, name, "text or number", meaning) for name, meaning in _ACTION_WORDS.items()]
    said_first = [("", "", "", f"Out of date: {out_of_date}")] if out_of_date else []
    return Out(found, said_first + dictionary)


_ORDER = ("case_id", "fetus", "standard", "at_s", "onset_s", "start_s", "recognisable_s", "span", "trigger", "reader")
