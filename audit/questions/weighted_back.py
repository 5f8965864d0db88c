"""What meetings decided on cases drawn at random, weighted back to all cases that they were drawn from."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from audit import months
from audit.figures import shown
from audit.measures.proportions import LEVEL
from audit.measures.sampling import Drawn, share_of_all
from audit.response.agreed import DELAYED
from audit.store.database import Record
from audit.words import number_of

SHARES = {"delayed": "delayed as the meeting agreed", "changed": "verdict changed by the meeting"}


def of_agreed(clocks: Sequence[Record], agenda: Sequence[Mapping[str, Any]]) -> Record | None:
    """Shares of all labours from agreed clocks.

    `clocks`: rows of `agreed.agreed_row`. `agenda`: rows of `people.agenda.items`, of the same meetings.
    Gives document: `labours` (that the cases stand for), `certain`, `drawn` and `drawn_from` (cases), `months`,
    `shares` (measure, decided, events, share, low, high; 0 to 1, 95 %) and `sentence`. None where no case was drawn at
    random. A month counts once some of its drawn cases are decided, and of those taken before the draw.

    A case is delayed where any of its clocks is, of those that the meeting decided; likewise the verdict is changed.
    Cases that were on the agenda before a draw stand for themselves, drawn ones for all others; those put on
    afterwards do not count, since why they were taken is known and how likely that was is not.
    """
    draws: dict[tuple[str, bool], list[Mapping[str, Any]]] = defaultdict(list)
    for row in agenda:
        if row["probability"] is not None:
            draws[row["period"], row["drawn_from"] is not None].append(row)
    verdicts = {name: _verdicts(clocks, name) for name in SHARES}
    open_ones = {
        place[0] for place, rows in draws.items()
        if not any((place[0], row["case_id"]) in verdicts["delayed"] for row in rows)
    }  # fmt: skip
    decided = sorted({period for period, at_random in draws if at_random} - open_ones)
    if not decided:
        return None
    counted = {place: rows for place, rows in draws.items() if place[0] in decided}
    shares = [_share(name, counted, verdicts[name]) for name in SHARES]
    drawn = [row for (_, at_random), rows in counted.items() if at_random for row in rows]
    certain = sum(len(rows) for (_, at_random), rows in counted.items() if not at_random)
    drawn_from = sum(rows[0]["drawn_from"] for (_, at_random), rows in counted.items() if at_random)
    found = {
        "labours": certain + drawn_from, "certain": certain, "drawn": len(drawn), "drawn_from": drawn_from,
        "months": decided, "shares": [row for row in shares if row is not None],
    }  # fmt: skip
    return {**found, "sentence": _sentence(found)}


def _verdicts(clocks: Sequence[Record], name: str) -> dict[tuple[str, str], bool]:
    """By meeting and case: whether it has the trait; none where the meeting left it open."""
    found: dict[tuple[str, str], bool] = {}
    for row in clocks:
        said = row["status"] if name == "delayed" else row["change"]
        if said is not None:
            place = row["period"], row["case_id"]
            has = said in DELAYED if name == "delayed" else said != "unchanged"
            found[place] = found.get(place, False) or has
    return found


def _share(
    name: str,
    draws: Mapping[tuple[str, bool], Sequence[Mapping[str, Any]]],
    verdicts: Mapping[tuple[str, str], bool],
) -> Record | None:
    """None where some draw has no verdict."""
    parts = []
    for (period, at_random), rows in sorted(draws.items()):
        said = [verdicts[period, row["case_id"]] for row in rows if (period, row["case_id"]) in verdicts]
        stands_for = rows[0]["drawn_from"] if at_random else len(rows)
        if not said:
            return None
        parts.append(Drawn(stands_for, len(said), sum(said)))
    share, (low, high) = share_of_all(parts, LEVEL)
    decided, events = sum(one.decided for one in parts), sum(one.events for one in parts)
    return {"measure": name, "decided": decided, "events": events, "share": share, "low": low, "high": high}


def _sentence(found: Record) -> str:
    said = [
        f"{SHARES[row['measure']]} in {row['events']} of {number_of(row['decided'], 'case')} decided, so in"
        f" {shown(row['share'], 0, scale=100)} % of all (95 % interval {shown(row['low'], 0, scale=100)} to"
        f" {shown(row['high'], 0, scale=100)} %)"
        for row in found["shares"]
    ]
    before = f", beside {found['certain']} taken before for {'its' if found['certain'] == 1 else 'their'} reasons"
    return (
        f"Weighted back to {number_of(found['labours'], 'labour')} of {', '.join(map(months.words, found['months']))}"
        f" with a tracing that was read"
        f" ({number_of(found['drawn'], 'case')} of {found['drawn_from']} drawn at random"
        f"{before * bool(found['certain'])}): {'; '.join(said)}."
    )
