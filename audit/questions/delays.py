"""The response clock of a month as one document: every concern episode, late ones first, and who agrees."""

from audit import months
from audit.errors import one_of
from audit.questions import chance, stale, wait_parts
from audit.response.responses import NOTHING_RECORDED
from audit.settings import Settings, editions
from audit.store import database
from audit.store.database import Record, records
from audit.words import number_of

STATUSES = ("late", "none_recorded", "not_assessable", "born_first", "resolved", "under_way", "in_time")


def document(
    con: database.Connection, settings: Settings, *, period: str | None = None, standard: str | None = None
) -> Record:
    """The document of `delays --json`; see the README for its fields.

    `period`: month of birth, YYYY-MM; None = all, `months.NO_MONTH` = the cases without one. `standard`: one of those
    with triggers; None = all.
    Gives document: `episodes` late first, then by wait; `counts` per status, with those of merged summaries (`merged`);
    `chance`: the share in time beside that of chance; `wait_parts` per standard: each part of the wait; `possible`:
    concerns that falls at a limit alone could make, in none of the others; `at_start`: how many were there when the
    recording began; `cases` and `analysed` of the period; `note` says why there is nothing, or nothing to judge, else
    None.
    Raises UsageError: a period that is no month, or an unknown standard.
    """
    months.checked_choice(period)
    known = sorted({rule.standard for rule in settings.response.rules.values()})
    one_of("standard", standard, known)
    asked = {"period": period, "standard": standard}
    episodes = records(con, "response/delays", {**asked, "case_id": None})
    waits = wait_parts.waits_in_parts(con, settings.response, period=period, standard=standard)
    _join(episodes, waits)
    told = {row["status"]: row["episodes"] for row in records(con, "summaries/statuses", asked)}
    untold = untold_words(con, period, standard)
    listed = [row for row in records(con, "month/months") if months.within(row["period"], period)]
    cases = sum(row["cases"] for row in listed)
    analysed = sum(row["analysed"] for row in listed)
    note = _note(period, cases, analysed, episodes, sum(told.values()), of_summaries=bool(untold))
    return {
        "period": period,
        "standard": standard,
        "editions": {name: text for name, text in editions(settings).items() if name in known},
        "cases": cases,
        "analysed": analysed,
        "counts": {
            status: sum(row["status"] == status for row in episodes) + told.get(status, 0) for status in STATUSES
        },
        "merged": sum(told.values()),
        "at_start": sum(row["at_start"] for row in episodes),
        "chance": chance.document(episodes, chance.told(con, period, standard)),
        "wait_parts": {
            name: wait_parts.summary([wait for wait in waits if wait["standard"] == name])
            for name in (known if standard is None else [standard])
        },
        "note": " ".join(filter(None, (note, untold))) or None,
        "stale": stale.document(con, settings, period=period),
        "possible": records(con, "response/possible", {**asked, "case_id": None}),
        "episodes": episodes,
    }


def _join(episodes: list[Record], waits: list[Record]) -> None:
    """Give each episode its steps and the parts between them; none where it is in no share."""
    names = ("case_id", "fetus", "standard", "trigger", "recognisable_s")
    by_key = {tuple(wait[name] for name in names): wait for wait in waits}
    for row in episodes:
        own = by_key.get(tuple(row[name] for name in names))
        row |= {"points": [], "parts": [], "longest_part": None}
        if own is not None:
            row |= {"points": own["points"], "parts": own["parts"], "longest_part": own["longest"]}


def untold_words(con: database.Connection, period: str | None, standard: str | None) -> str:
    """That merged summaries tell no wait of some months of units, which is not that nobody waited; "" where none is."""
    (row,) = records(con, "summaries/untold_waits", {"period": period, "standard": standard})
    if not row["unit_months"]:
        return ""
    return (
        f"Of {number_of(row['unit_months'], 'month')} of merged units no wait is told, since too few labours stood"
        " behind it or there was none: that does not mean that there was no concern."
    )


def _note(
    period: str | None, cases: int, analysed: int, episodes: list[Record], merged: int, *, of_summaries: bool
) -> str | None:
    when = months.where(period)
    if episodes and all(row["note"] == NOTHING_RECORDED for row in episodes):
        return f"No care events are recorded for any case {when} with a concern episode: no response can be judged."
    if episodes:
        return None
    if merged:
        return (
            f"{merged} concern episodes {when} are of merged summaries: counts and waits, no single ones to list. Where"
            " a summary grouped its waits, medians and curves come near those of the labours; shares in time are exact."
        )
    if of_summaries:
        return None  # said by what they do not tell
    if not cases:
        return f"There are no cases {when}."
    if not analysed:
        return f"None of the {cases} cases {when} has been analysed; run `intrapartum-audit analyse`."
    return f"No concern episode was found in the {number_of(analysed, 'analysed case')} {when}."
