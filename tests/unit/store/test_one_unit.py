"""A connection that sees one unit's rows only. Common practice, no source; the counts are by hand."""

from dataclasses import replace

import pytest

from audit.errors import UsageError
from audit.store import database, one_unit, published
from tests.page_databases import small_database


@pytest.fixture(scope="module")
def two_units(tmp_path_factory):
    """The small database, its labours of March in U1 and the others in U2; what each unit counted beside it."""
    db = small_database(tmp_path_factory.mktemp("units"))
    with database.open_for_writing(db) as con:
        con.execute("update cases set unit = case period when '2031-04' then 'U1' else 'U2' end")
        con.execute("insert into unit_months (period, unit, births) values ('2031-04', 'U1', 9), ('2031-04', 'U2', 7)")
    return db


def counts(con):
    tables = ("cases", "labours", "episodes", "fetuses", "minute_categories", "reads", "unit_months")
    return {name: con.execute(f"select count(*) from {name}").fetchone()[0] for name in tables}


def test_two_units_are_the_whole_and_share_nothing(two_units):
    source = published.required(two_units)
    with published.open_for_reading(source) as con:
        whole, periods = counts(con), con.execute("select unit, count(*) from labours group by unit").fetchall()
    assert dict(periods) == {"U1": 3, "U2": 2}
    parts = []
    for unit in ("U1", "U2"):
        # on a cursor of the connection that the pages keep open, so one that has no unit must go on seeing all
        with published.open_for_question(replace(source, unit=unit)) as con:
            parts.append(counts(con))
            assert {row[0] for row in con.execute("select distinct period from labours").fetchall()} == (
                {"2031-04"} if unit == "U1" else {"2031-05"}
            )
    assert {name: parts[0][name] + parts[1][name] for name in whole} == whole
    assert parts[0]["cases"] == 3
    assert parts[0]["unit_months"] == 1
    with published.open_for_question(source) as con:
        assert counts(con) == whole


def test_a_unit_without_cases_is_refused_by_name(two_units):
    with published.open_for_reading(published.required(two_units)) as con:
        assert one_unit.units(con) == {"U1": 3, "U2": 2}
        with pytest.raises(UsageError, match=r"found 'U3', expected one of U1, U2"):
            one_unit.look_at(con, "U3")


def test_commands_of_one_unit_see_its_rows_only(two_units):
    with (
        pytest.raises(UsageError, match="'x; drop table cases'"),
        published.open_for_reading(replace(published.required(two_units), unit="x; drop table cases")),
    ):
        pass
