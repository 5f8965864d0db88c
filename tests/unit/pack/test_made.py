"""Which packs the page can know of. Our own rules: no source."""

import json

import pytest

from audit.pack import made
from audit.people import agenda
from audit.store import people_database, published
from tests import page_databases


@pytest.fixture(scope="module")
def db(tmp_path_factory):
    db = page_databases.small_database(tmp_path_factory.mktemp("made"))
    agenda.add(db, "2031-04", "C-001", who="lead")
    return db


def state(db):
    return published.source(db).state


def put(folder, name, anchor, *, pack=True):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"anchor_{name}.json").write_text(json.dumps(anchor) if isinstance(anchor, dict) else anchor)
    if pack:
        (folder / f"pack_{name}.pdf").write_bytes(b"on paper")


def test_packs_that_commands_wrote_beside_the_database_are_found_by_their_anchors(db):
    beside = db.parent / "packs" / "spring"
    for name in ("2031-05", "2031-05_outside", "2031-05x"):
        put(beside, name, {"change_mark": state(db), "log_entries": 0})
    put(db.parent / "of_another_unit", "2031-05", {"change_mark": "another", "log_entries": 0})
    put(db.parent / "spoilt", "2031-05", "no anchor")
    put(db.parent / "thrown_away", "2031-05", {"change_mark": state(db), "log_entries": 0}, pack=False)
    found = {pack.name: pack for pack in made.packs_of(db, "2031-05", state(db))}
    assert set(found) == {"2031-05", "2031-05_outside"}
    assert found["2031-05"].folder == beside
    assert found["2031-05"].newer == ()
    assert found["2031-05_outside"].is_for_outside
    assert not found["2031-05"].is_for_outside


def test_a_pack_says_what_is_newer_than_it_is(db):
    put(db.parent / "older", "2031-04", {"change_mark": "of an older state", **people_database.anchor(db)})
    (pack,) = made.packs_of(db, "2031-04", state(db))
    assert pack.newer == (made.CHANGED,)
    agenda.add(db, "2031-04", "C-002", who="lead")
    (pack,) = made.packs_of(db, "2031-04", state(db))
    assert pack.newer == (made.ENTERED, made.CHANGED)
