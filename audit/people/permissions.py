"""Who may do what: one table and one function, asked on the server at the moment something is done or shown.

The same table stands in DEVELOPERS.md in words; a test holds the two together.
"""

import re
from enum import StrEnum

from audit.errors import NotAllowedError, UsageError
from audit.vocabulary import ROLES

LEAD, CHAIR, READER, VIEWER = ROLES
# a command, or the one person of a unit that chose to be without passwords: whoever has the files may do everything
MACHINE = "unit"
_WHO = re.compile(rf"({LEAD}|{CHAIR}|{VIEWER}|{MACHINE}|{READER}:[A-Za-z0-9][A-Za-z0-9_-]{{0,11}})")


class Deed(StrEnum):
    """Everything that a page shows or stores, in the words that a refusal says."""

    SEE_MONTH = "see the months, their cases without outcomes, response times, trends, data quality and the settings"
    SEE_AGREEMENT = "see how far readers agree, and one's own leaning"
    SEE_EVERY_READ = "see the reads of single readers"
    SEE_LEANINGS = "see how every reader leans"
    MARK_STRIPS = "leave a mark on a strip, and take one off"
    SEE_OUTCOMES = "open outcomes, and see what tells of them"
    READ_STRIPS = "read the strips of one's own batches"
    KEEP_BATCHES = "make, hand out, take back and close batches"
    KEEP_AGENDA = "put cases on the agenda, and take them off"
    HOLD_MEETING = "hold the meeting and store its findings"
    KEEP_ACTIONS = "agree actions and set their state"
    CHANGE_PRACTICE = "enter a change of practice, or take one back"
    READ_LOG = "read the log"
    MAKE_PACK = "make the meeting pack and take it away"
    KEEP_PEOPLE = "make a reader known and give a PIN anew"
    TAKE_IN = "hand files over, try and start an import, keep a mapping"
    CHANGE_OWN_PIN = "change one's own PIN"


PERMISSIONS: dict[Deed, tuple[str, ...]] = {
    Deed.SEE_MONTH: (LEAD, CHAIR, VIEWER),
    Deed.SEE_AGREEMENT: ROLES,
    Deed.SEE_EVERY_READ: (LEAD, CHAIR, VIEWER),
    Deed.SEE_LEANINGS: (LEAD,),
    Deed.MARK_STRIPS: (LEAD, CHAIR, VIEWER),
    Deed.SEE_OUTCOMES: (LEAD, CHAIR),
    Deed.READ_STRIPS: (READER,),
    Deed.KEEP_BATCHES: (LEAD,),
    Deed.KEEP_AGENDA: (LEAD, CHAIR),
    Deed.HOLD_MEETING: (LEAD, CHAIR),
    Deed.KEEP_ACTIONS: (LEAD, CHAIR),
    Deed.CHANGE_PRACTICE: (LEAD,),
    Deed.READ_LOG: (LEAD, CHAIR),
    Deed.MAKE_PACK: (LEAD, CHAIR),
    Deed.KEEP_PEOPLE: (LEAD,),
    Deed.TAKE_IN: (LEAD,),
    Deed.CHANGE_OWN_PIN: ROLES,
}


def checked_who(who: str) -> str:
    """`lead`, `chair`, `viewer`, `reader:CODE`, or `unit` (at the machine itself). Raises UsageError for another."""
    if not _WHO.fullmatch(who):
        raise UsageError(
            f"who: found {who!r}, expected {LEAD}, {CHAIR}, {VIEWER} or {READER}:CODE, never a person's name"
        )
    return who


def role_of(who: str) -> str:
    """The role behind an entry of the log; `unit` for whoever is at the machine itself."""
    return checked_who(who).split(":")[0]


def may(role: str | None, deed: Deed) -> bool:
    """Does the table give this to the role? Nothing is given to nobody (None)."""
    return role == MACHINE or role in PERMISSIONS[deed]


def required(who: str | None, deed: Deed) -> str:
    """Who it is, where the table gives it to their role; None = nobody is signed in.

    Raises NotAllowedError, with nothing done, where it does not.
    """
    role = None if who is None else role_of(who)
    if who is None or not may(role, deed):
        found = "nobody is signed in" if who is None else f"you are signed in as {role}"
        raise NotAllowedError(f"to {deed} is for {roles_with(deed)}; {found}, so nothing was done")
    return who


def roles_with(deed: Deed) -> str:
    """The roles that may, as a sentence lists them."""
    *most, last = PERMISSIONS[deed]
    return f"{', '.join(most)} or {last}" if most else last
