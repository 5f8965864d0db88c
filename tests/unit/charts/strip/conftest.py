"""Cases of the small database, as the page of a case loads them."""

import pytest

from audit.questions.case_file import load_case
from audit.store import database, published
from tests.page_databases import small_database


@pytest.fixture(scope="session")
def of_small(tmp_path_factory):
    """Load a case by its id and fetus: `of_small("C-003", "B")`."""
    db = small_database(tmp_path_factory.mktemp("strip"))

    def loaded(case_id, fetus="A"):
        with database.open_for_reading(published.current(db)) as con:
            return load_case(con, case_id, fetus)

    return loaded


@pytest.fixture(scope="session")
def case(of_small):
    return of_small("C-001")


@pytest.fixture(scope="session")
def twins(of_small):
    return of_small("C-003", "B")
