"""Who may do what: the table in the code is the one in DEVELOPERS.md, and no write goes round it. Our own rule."""

import re
import shutil
from pathlib import Path

import pytest

from audit.errors import NotAllowedError
from audit.people import (
    actions,
    agenda,
    agreed,
    batches,
    disclosures,
    family_questions,
    findings,
    handout,
    issues,
    log,
    meetings,
    packs,
    permissions,
    phases,
    reads,
    strip_marks,
    take_in,
    undo,
)
from audit.people.batches import Plan, Window
from audit.people.permissions import PERMISSIONS, ROLES, Deed
from audit.people.reads import Read
from audit.store import people_database

MAPPING = '[import.mapping.ward]\nkind = "cases"\ncolumns = {case_id = "Nr", period = "Month"}\n'
ROOT = Path(__file__).resolve().parents[3]
WHO = {"lead": "lead", "chair": "chair", "reader": "reader:R1", "viewer": "viewer"}
PLAN = Plan("March", "figo-2015", (Window("C-1", "A", 0.0, 1800.0),), ("R1",), seed=1)
# Each write that people do, with its deed; a new one fails `test_every_way_to_write_is_tried`.
WRITES = {
    agenda.add: (Deed.KEEP_AGENDA, lambda db, who: agenda.add(db, "2031-03", "C-9", who=who)),
    agenda.remove: (Deed.KEEP_AGENDA, lambda db, who: agenda.remove(db, "2031-03", "C-1", who=who)),
    agenda.reorder: (Deed.KEEP_AGENDA, lambda db, who: agenda.reorder(db, "2031-03", ["C-2", "C-1"], who=who)),
    agenda.move: (Deed.KEEP_AGENDA, lambda db, who: agenda.move(db, "2031-03", "C-2", -1, who=who)),
    agenda.draw: (Deed.KEEP_AGENDA, lambda db, who: agenda.draw(db, "2031-03", ["C-8"], 1, 1, who=who)),
    agenda.take_back_draw: (Deed.KEEP_AGENDA, lambda db, who: agenda.take_back_draw(db, "2031-03", ["C-1"], who=who)),
    findings.save: (
        Deed.HOLD_MEETING,
        lambda db, who: findings.save(db, "2031-03", "C-1", findings.Finding(went_well="All"), who=who),
    ),
    actions.add: (
        Deed.KEEP_ACTIONS,
        lambda db, who: actions.add(db, "2031-03", "Do it", owner_role="x", due_period="2031-04", who=who),
    ),
    actions.change: (
        Deed.KEEP_ACTIONS,
        lambda db, who: actions.change(db, 1, who=who, period="2031-04", state="done"),
    ),
    meetings.save: (
        Deed.HOLD_MEETING,
        lambda db, who: meetings.save(db, "2031-03", meetings.Meeting("2031-04-02"), who=who),
    ),
    issues.add: (
        Deed.HOLD_MEETING,
        lambda db, who: issues.add(db, "2031-03", "C-1", issues.Issue("other"), who=who),
    ),
    issues.change: (Deed.HOLD_MEETING, lambda db, who: issues.change(db, 1, issues.Issue("late"), who=who)),
    issues.remove: (Deed.HOLD_MEETING, lambda db, who: issues.remove(db, 1, who=who)),
    family_questions.add: (
        Deed.KEEP_AGENDA,
        lambda db, who: family_questions.add(db, "2031-03", "C-1", "Why then?", who=who),
    ),
    family_questions.change: (Deed.HOLD_MEETING, lambda db, who: family_questions.change(db, 1, answer="So", who=who)),
    family_questions.remove: (Deed.KEEP_AGENDA, lambda db, who: family_questions.remove(db, 1, who=who)),
    agreed.save: (
        Deed.HOLD_MEETING,
        lambda db, who: agreed.save(db, "2031-03", "C-2", "A", "figo-2015", agreed.Agreed(True), who=who),
    ),
    agreed.remove: (
        Deed.HOLD_MEETING,
        lambda db, who: agreed.remove(db, "2031-03", "C-1", "A", "figo-2015", who=who),
    ),
    # the third entry of the log below is the action
    undo.undo: (Deed.HOLD_MEETING, lambda db, who: undo.undo(db, 3, who=who)),
    strip_marks.add: (
        Deed.MARK_STRIPS,
        lambda db, who: strip_marks.add(db, "C-1", "A", 60, "here", who=who),
    ),
    strip_marks.remove: (Deed.MARK_STRIPS, lambda db, who: strip_marks.remove(db, 1, who=who)),
    phases.add: (Deed.CHANGE_PRACTICE, lambda db, who: phases.add(db, "2031-02", "Two rounds", who=who)),
    phases.remove: (Deed.CHANGE_PRACTICE, lambda db, who: phases.remove(db, "2031-01", who=who)),
    disclosures.record: (
        Deed.SEE_OUTCOMES,
        lambda db, who: disclosures.record(db, "C-1", who=who, place="case"),
    ),
    disclosures.record_shown: (
        Deed.SEE_OUTCOMES,
        lambda db, who: disclosures.record_shown(db, ["C-1"], who=who),
    ),
    batches.make: (Deed.KEEP_BATCHES, lambda db, who: batches.make(db, PLAN, who=who)),
    batches.close: (Deed.KEEP_BATCHES, lambda db, who: batches.close(db, 1, who=who, incomplete=True)),
    batches.reopen: (Deed.KEEP_BATCHES, lambda db, who: batches.reopen(db, 1, who=who)),
    handout.take_back: (
        Deed.KEEP_BATCHES,
        lambda db, who: handout.take_back(
            db, 1, "strip,reader,category\n1,R1,normal\n", file_name="reads.csv", who=who
        ),
    ),
    reads.save: (Deed.READ_STRIPS, lambda db, who: reads.save(db, 1, 1, "R1", Read("normal"), who=who)),
    take_in.start: (Deed.TAKE_IN, lambda db, who: take_in.start(db, {"a.csv": b"x"}, who=who, run=lambda _: 0)),
    take_in.keep: (Deed.TAKE_IN, lambda db, who: take_in.keep(db, "ward", MAPPING, who=who)),
    packs.asked_for: (Deed.MAKE_PACK, lambda db, who: packs.asked_for(db, "2031-03", [], who=who)),
}


@pytest.fixture(scope="module")
def made_once(tmp_path_factory):
    db = tmp_path_factory.mktemp("made") / "unit.duckdb"
    for case_id in ("C-1", "C-2"):
        agenda.add(db, "2031-03", case_id, who="lead")
    actions.add(db, "2031-03", "Mark the clock", owner_role="x", due_period="2031-04", who="lead")
    phases.add(db, "2031-01", "Other paper", who="lead")
    issues.add(db, "2031-03", "C-1", issues.Issue("other"), who="lead")
    agreed.save(db, "2031-03", "C-1", "A", "figo-2015", agreed.Agreed(True), who="lead")
    strip_marks.add(db, "C-1", "A", 30, "there", who="lead")
    family_questions.add(db, "2031-03", "C-1", "Why?", who="lead")
    batches.make(db, PLAN, who="lead")
    return db.parent


@pytest.fixture
def db(made_once, tmp_path):
    return Path(shutil.copytree(made_once, tmp_path, dirs_exist_ok=True)) / "unit.duckdb"


def test_the_table_in_words_is_the_table_in_the_code():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Who may do what", 1)[1]
    heading, _, *rows = re.findall(r"^\|(.*)\|$", text.split("\n## ", 1)[0], flags=re.MULTILINE)
    said = {}
    for row in rows:
        what, *cells = (cell.strip() for cell in row.split("|"))
        said[what] = {role for role, cell in zip(ROLES, cells, strict=True) if cell == "yes"}
    assert [cell.strip() for cell in heading.split("|")] == ["what", *ROLES]
    assert said == {str(deed): set(roles) for deed, roles in PERMISSIONS.items()}
    assert set(PERMISSIONS) == set(Deed)


@pytest.mark.parametrize("deed", Deed)
def test_nobody_who_is_not_signed_in_may_do_anything(deed):
    assert not permissions.may(None, deed)
    with pytest.raises(NotAllowedError, match="nobody is signed in, so nothing was done"):
        permissions.required(None, deed)


@pytest.mark.parametrize("write", WRITES, ids=lambda write: f"{write.__module__.split('.')[-1]}.{write.__name__}")
@pytest.mark.parametrize("role", ROLES)
def test_a_write_is_done_or_refused_as_the_table_says(db, write, role):
    deed, done = WRITES[write]
    before = people_database.file_of(db).read_bytes(), log.entries(db)
    if role in PERMISSIONS[deed] or (write is reads.save and role == "lead"):  # the lead takes forms back
        done(db, WHO[role])
        assert log.entries(db)[-1]["who"] == WHO[role]
    else:
        with pytest.raises(NotAllowedError, match=f"you are signed in as {role}, so nothing was done"):
            done(db, WHO[role])
        assert (people_database.file_of(db).read_bytes(), log.entries(db)) == before


def test_a_reader_stores_reads_of_their_own_alone(db):
    for who in ("reader:R2", "chair", "viewer"):
        with pytest.raises(NotAllowedError):
            reads.save(db, 1, 1, "R1", Read("normal"), who=who)
    assert reads.latest(db, 1, 1, "R1") is None


def test_every_way_to_write_is_tried_and_begins_with_the_question_who_may():
    """The store's own transaction is opened in one place; whatever else writes goes through it."""
    rooms = sorted((ROOT / "audit" / "people").glob("*.py"))
    around = [
        file.name
        for file in [*rooms, *(ROOT / "dashboards").rglob("*.py"), *(ROOT / "audit").glob("pack/*.py")]
        if "database.writing(" in file.read_text(encoding="utf-8") and file.name != "writing.py"
    ]
    assert around == []
    tried = {(write.__module__, write.__name__) for write in WRITES}
    # what the machine does by itself, or what test_pins.py tries
    own = {"audit.people.absorb", "audit.people.access", "audit.people.accounts"}
    for file in rooms:
        module = f"audit.people.{file.stem}"
        if module in own:
            continue
        for body in re.split(r"^def ", file.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
            if "with writing(" in body:
                assert (module, body.split("(", 1)[0]) in tried


def test_no_page_says_itself_who_writes():
    """It is the session that says so, at the moment of the write."""
    for file in (ROOT / "dashboards").rglob("*.py"):
        text = file.read_text(encoding="utf-8")
        assert not re.search(r"""who=["']""", text), file
        assert "st.fragment" not in text.replace("st.fragment\n        def part", "") or file.name == "session.py", file
