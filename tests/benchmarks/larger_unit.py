"""A unit of many more labours out of a small one: each labour several times over, under other ids, in later months.

Run by hand: python -m tests.benchmarks.larger_unit DATABASE LARGER TIMES. The copies keep their waveforms, findings and
reads; every second one is born four months later, so that the invented unit's eight months become a year.
"""

import shutil
import sys
from pathlib import Path

from audit.store import database, people_database, published

LATER_MONTHS = 4
# rows of these are the unit's, or say what was done to it, not what is known of a labour
PARENTS = ["cases", "concern_episodes"]
NOT_COPIED = ("database_seal", "batch_cases", "content_history")


def main() -> None:
    small, larger, times = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
    shutil.copy(small, larger)
    shutil.copy(people_database.file_of(small), people_database.file_of(larger))
    with database.open_for_writing(larger) as con:
        found = con.execute(
            "select table_name, list(column_name order by column_index) from duckdb_columns() where not internal and"
            " table_name in (select table_name from duckdb_tables()) group by all having list_contains("
            "list(column_name), 'case_id')"
        ).fetchall()
        found.sort(key=lambda each: PARENTS.index(each[0]) if each[0] in PARENTS else len(PARENTS))
        con.execute("create temp table firsts as select case_id from cases")
        for table, columns in found:
            if table in NOT_COPIED:
                continue
            for k in range(1, times):
                con.execute(
                    f"insert into {table} select {_changed(columns, k)} from {table} where case_id in (from firsts)"
                )
    published.required(larger)


def _changed(columns: list[str], k: int) -> str:
    later = f"strftime(strptime(period, '%Y-%m') + interval {LATER_MONTHS * (k % 2)} month, '%Y-%m')"
    own = {
        "case_id": f"case_id || 'x{k}'",
        "episode_id": f"episode_id || 'x{k}'",
        "event_id": f"event_id || 'x{k}'",
        "period": later,
    }
    return ", ".join(own.get(column, column) for column in columns)


if __name__ == "__main__":
    main()
