"""From issues to actions to effects: counted by hand, with small counts gone."""

from pathlib import Path

from audit.people import actions, issues
from audit.people.issues import Issue
from audit.questions import issue_chain

YEAR = "2031-01/2031-12"


def test_issues_and_what_followed_are_counted_and_small_counts_hidden(db: Path) -> None:
    for k in range(12):
        number = issues.add(db, f"2031-{k % 6 + 1:02d}", f"C-{k}", Issue("recognised late"), who="chair")
        if k < 6:
            aim = actions.Aim("hours_assessed", "rise", "2031-08") if k < 5 else None
            actions.add(
                db, f"2031-{k % 6 + 1:02d}", "Rounds", owner_role="x", due_period="2031-09", who="chair",
                issue_id=number, aim=aim,
            )  # fmt: skip
    for k in range(10):
        issues.add(db, "2031-03", f"C-{k}", Issue("escalated late"), who="chair")
    issues.add(db, "2032-01", "C-9", Issue("escalated late"), who="chair")  # another year
    for number in range(1, 6):
        actions.change(db, number, who="chair", period="2031-07", state="done")
    effects = [{"action_id": number, "verdict": "moved as meant"} for number in range(1, 6)]
    first, second = issue_chain.rows(db, YEAR, effects, least=5)
    counts = ("issues", "with_action", "actions", "done", "with_measure", "as_meant")
    assert (first["what"], [first[name] for name in counts]) == ("recognised late", [12, 6, 6, 5, 5, 5])
    assert (second["what"], [second[name] for name in counts]) == ("escalated late", [10, 0, 0, 0, 0, 0])
    # four of five moved: what follows is hidden, the issues stay
    told = issue_chain.rows(db, YEAR, effects[:4], least=5)[0]
    assert [told[name] for name in counts] == [12, 6, None, None, None, None]
    # one more issue of a third kind takes another kind with it
    issues.add(db, "2031-04", "C-1", Issue("record incomplete"), who="chair")
    hidden = {row["what"]: row["hidden"] for row in issue_chain.rows(db, YEAR, effects, least=5)}
    assert hidden["record incomplete"]
    assert sum(hidden.values()) >= 2
