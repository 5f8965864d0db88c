"""What staff recorded at the time: was it every hour, by a second person, and was it what others see in the tracing?

Roles only, never a person; what could point at one is hidden.
"""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from statistics import median
from typing import Any

from audit.measures.clustered import share_of_sums
from audit.measures.linked_sums import hide_with_sums
from audit.measures.proportions import LEVEL
from audit.measures.suppression import is_small
from audit.months import NO_MONTH, is_span, within
from audit.questions.waits import NOT_GIVEN
from audit.response.hourly import HourlyAudit, hourly_audit
from audit.response.parts import rank
from audit.store import database
from audit.store.database import Record, records

HIDDEN = "hidden"
ALL = "all"
KINDS = ("under", "alike", "over")
_COUNTS = (*KINDS, "assessments")
COMPUTED, BLIND_READS = "computed", "blind reads"
SOURCE = (
    "NICE NG229 (2022, from memory): a documented systematic assessment at least every hour; Saving Babies' Lives (from"
    " memory): as often with a second person. Whole hours from the first sample to birth or the end of the tracing."
)


def document(con: database.Connection, *, period: str | None, least: int, unit: str | None = None) -> Record:
    """The hourly audit and the comparison of categories, of a month of birth.

    `period`: YYYY-MM; None = all. `least`: counts from 1 to `least - 1` of labours or assessments are hidden. `unit`:
    the one asked for, of a connection that sees all of them, as all less the others would tell it; None = all.
    Gives document: `assessments`, `standards` (that staff applied), `hours` (`hourly`), `calling` (`calling`); empty
    lists where nothing was recorded.
    """
    # of every month and unit: what one may tell rests on the others and on all of them together
    noted = records(con, "bedside/categories", {"period": None})
    labours = records(con, "bedside/hours", {"period": None})
    of_period = [row for row in noted if within(row["period"], period) and unit in (None, row["unit"])]
    return {
        "period": period,
        "assessments": len(of_period),
        "standards": sorted({row["standard"] for row in of_period}),
        "hours": hourly(labours, period=period, least=least, unit=unit) if of_period else [],
        "calling": calling(noted, period=period, least=least, unit=unit),
    }


def hourly(
    labours: Sequence[Record], *, period: str | None = None, least: int, unit: str | None = None
) -> list[Record]:
    """Share of labour hours with an assessment, in all and by shift.

    `labours`: records of `bedside/hours` of every month and unit. `period`, `least`, `unit`: as in `document`.
    Gives rows: group, labours (with at least one assessment), without (labours with none: not in any share, as their
    export may lack them), hours, assessed, second_person, and for both share, low, high (0 to 1, 95 %; hours of one
    labour are one cluster); longest_gap_min (of the group's labours), gap_over_hour (labours with a gap over an hour).
    A group of few labours says `hidden` and nothing else, and so does what would tell it: another shift, month or unit.
    """
    chosen = [row for row in labours if within(row["period"], period) and unit in (None, row.get("unit"))]
    shifts = sorted({_name(row["shift"]) for row in chosen}, key=lambda name: (name == NOT_GIVEN, name))
    groups = [ALL, *shifts] if len(shifts) > 1 else [ALL]
    hidden = _hidden_shifts(labours, period, unit, least)
    return [
        _hourly_row(name, [row for row in chosen if name in (ALL, _name(row["shift"]))], name in hidden)
        for name in groups
    ]


def _hidden_shifts(labours: Sequence[Record], period: str | None, unit: str | None, least: int) -> set[str]:
    """Shifts of what was asked for whose labours are hidden, `ALL` among them."""
    rows, asked = _asked(labours, period, unit)
    of_units = _have_units(rows)
    counts: Counter[tuple[_View, str]] = Counter()
    for row in rows:
        if row["times_s"]:
            for view in _views(row, of_units):
                counts.update(((view, ALL), (view, _name(row["shift"]))))
    names = {name for _, name in counts}
    sums = [
        {(view, name): -1 if name == ALL else 1 for name in names if (view, name) in counts}
        for view in {view for view, _ in counts}
    ]
    sums += [one for name in names for one in _over_views(counts, {view for view, _ in counts}, (name,))]
    small = [key for key, count in counts.items() if is_small(count, least)]
    gone = hide_with_sums(counts, sums, hidden=small, least=least, last=_all(counts))
    return {name for view, name in gone if view == asked}


# tables that stand beside each other: of a unit and a month, None: of all
_View = tuple[str | None, str | None]


def _asked(rows: Sequence[Record], period: str | None, unit: str | None) -> tuple[Sequence[Record], _View]:
    """Rows of all tables that stand beside each other, and which is asked for."""
    if is_span(period):
        return [row for row in rows if within(row["period"], period)], (unit, None)
    return rows, (unit, period)


def _have_units(rows: Sequence[Record]) -> bool:
    return any(row.get("unit") is not None for row in rows)


def _views(row: Record, of_units: bool) -> list[_View]:
    """The tables that a row is counted in."""
    month, unit = str(row["period"] or NO_MONTH), _name(row.get("unit"))
    own: list[_View] = [(None, None), (None, month)]
    return [*own, (unit, None), (unit, month)] if of_units else own


def _all(counts: Mapping[Any, int]) -> set[Any]:
    """Those of all units and months together: they are what most is asked of."""
    return {key for key in counts if key[0] == (None, None)}


def _over_views(counts: Mapping[Any, int], views: Collection[_View], line: tuple[Any, ...]) -> list[dict[Any, int]]:
    """The sums over months of a unit, and over units of a month, of one line of the tables."""
    sums = []
    for way in (0, 1):
        for fixed in {view[way] for view in views}:
            own = [view for view in views if view[way] == fixed and (view, *line) in counts]
            sums.append({(view, *line): -1 if view[1 - way] is None else 1 for view in own})
    return [one for one in sums if len(one) > 1]


def _hourly_row(name: str, labours: Sequence[Record], hidden: bool) -> Record:
    audits = [
        hourly_audit(row["times_s"], row["roles"], start_s=row["start_s"], end_s=row["end_s"])
        for row in labours
        if row["times_s"]
    ]
    if hidden:
        return {"group": name, "labours": HIDDEN}
    row: Record = {"group": name, "labours": len(audits), "without": len(labours) - len(audits)}
    gaps = [audit.longest_gap_minutes for audit in audits if audit.longest_gap_minutes is not None]
    row |= {"hours": sum(audit.hours for audit in audits), "longest_gap_min": max(gaps, default=None)}
    row["gap_over_hour"] = sum(gap > 60.0 for gap in gaps)
    for field in ("assessed", "second_person"):
        row |= _share(field, [getattr(audit, field) for audit in audits], audits)
    return row


def _share(field: str, counts: Sequence[int], audits: Sequence[HourlyAudit]) -> Record:
    found = share_of_sums(counts, [audit.hours for audit in audits], level=LEVEL)
    low, high = found.interval or (None, None)
    return {
        field: sum(counts),
        f"share_{field}": found.share, f"low_{field}": low, f"high_{field}": high,
    }  # fmt: skip


def calling(noted: Sequence[Record], *, period: str | None = None, least: int, unit: str | None = None) -> list[Record]:
    """How often a role's category was milder or worse than the computed one, and than that of blind reads.

    `noted`: records of `bedside/categories` of every month and unit. `period`, `least`, `unit`: as in `document`.
    Gives rows: standard, assessor, against (computed, blind reads), assessments and labours that can be compared, under
    (milder than it), alike, over (worse), share_under, low_under, high_under and the same of over (0 to 1, 95 %;
    assessments of one labour are one cluster). A role with too few labours says `hidden` and nothing else; of the three
    counts a small one is hidden with its share, and so is what would tell it: the next smallest, another role's, and
    another month's or unit's, since these add up to all of them.

    Blind reads: the median category of first reads of the window around it; where it lies between two, none. A bedside
    category is of the moment, a read of its whole window: the two can differ without anybody being wrong.
    """
    rows, asked = _asked(noted, period, unit)
    found = []
    for (standard, against), compared in sorted(_compared(rows).items()):
        whole, cells = _hidden_of_roles(compared, least)
        for view, role in sorted(key for key in compared if key[0] == asked):
            row: Record = {"standard": standard, "assessor": role, "against": against}
            gone = {name for name in _COUNTS if (view, role, name) in cells}
            found.append(_calling_row(row, compared[view, role], gone, whole=(view, role) in whole))
    return sorted(found, key=lambda row: (row["standard"], row["assessor"], row["against"]))


_Compared = dict[tuple[_View, str], list[tuple[str, int]]]  # by view and role: case, steps worse


def _compared(noted: Sequence[Record]) -> dict[tuple[str, str], _Compared]:
    found: dict[tuple[str, str], _Compared] = {}
    of_units = _have_units(noted)
    for row in noted:
        for against in (COMPUTED, BLIND_READS):
            if (steps := steps_worse(row, against)) is not None:
                of = found.setdefault((row["standard"], against), {})
                for view in _views(row, of_units):
                    of.setdefault((view, row["assessor"]), []).append((row["case_id"], steps))
    return found


def roles_told(noted: Sequence[Record], standard: str, least: int) -> dict[str, list[int]]:
    """By month the steps worse than computed of the roles that are not hidden whole: a total with those would tell."""
    compared = _compared([row for row in noted if row["standard"] == standard]).get((standard, COMPUTED), {})
    whole = _hidden_whole(compared, least)
    found: dict[str, list[int]] = {}
    for (view, role), pairs in compared.items():
        unit, month = view
        if unit is None and month is not None and (view, role) not in whole:
            found.setdefault(month, []).extend(steps for _, steps in pairs)
    return found


def _hidden_whole(compared: _Compared, least: int) -> set[tuple[_View, str]]:
    """Months and roles of so few labours, or that would tell of one by the sum of the months."""
    labours = {key: len({case_id for case_id, _ in pairs}) for key, pairs in compared.items()}
    small = [key for key, count in labours.items() if is_small(count, least)]
    views, roles = {view for view, _ in compared}, {role for _, role in compared}
    sums = [one for role in roles for one in _over_views(labours, views, (role,))]
    return hide_with_sums(labours, sums, hidden=small, least=least, last=_all(labours))


def _hidden_of_roles(compared: _Compared, least: int) -> tuple[set[tuple[_View, str]], set[tuple[_View, str, str]]]:
    """Months and roles that are hidden whole, and single counts that are.

    The months' charts tell totals over the roles that are not hidden whole; where one role alone called so, that total
    is its own and stays, being the unit's.
    """
    views, roles = {view for view, _ in compared}, {role for _, role in compared}
    whole = _hidden_whole(compared, least)
    counts = {(*key, name): count for key, pairs in compared.items() for name, count in _counts(pairs).items()}
    sums = [{(*key, name): 1 if name in KINDS else -1 for name in _COUNTS} for key in compared]
    sums += [one for role in roles for name in _COUNTS for one in _over_views(counts, views, (role, name))]
    gone = [key for key, count in counts.items() if key[:2] in whole or is_small(count, least)]
    return whole, hide_with_sums(counts, sums, hidden=gone, least=least, last=_all(counts))


def _counts(found: Sequence[tuple[str, int]]) -> dict[str, int]:
    steps = [gap for _, gap in found]
    parts = (sum(gap < 0 for gap in steps), steps.count(0), sum(gap > 0 for gap in steps), len(steps))
    return dict(zip(_COUNTS, parts, strict=True))


def steps_worse(row: Record, against: str) -> int | None:
    """How many categories worse the bedside category is than the other (below 0: milder); None = not to be compared."""
    own = rank(row["standard"], row["category"])
    other = rank(row["standard"], row["computed"] or "") if against == COMPUTED else _consensus(row)
    return None if own is None or other is None else own - other


def _calling_row(row: Record, found: Sequence[tuple[str, int]], gone: Collection[str], *, whole: bool) -> Record:
    if whole:
        return row | {"assessments": HIDDEN, "labours": HIDDEN}
    wholes = Counter(case_id for case_id, _ in found)
    row |= {"labours": len(wholes)}
    row |= {name: HIDDEN if name in gone else count for name, count in _counts(found).items()}
    for field, sign in (("under", -1), ("over", 1)):
        if row[field] != HIDDEN:
            parts = Counter(case_id for case_id, gap in found if gap * sign > 0)
            share = share_of_sums([parts[name] for name in wholes], list(wholes.values()), level=LEVEL)
            low, high = share.interval or (None, None)
            row |= {f"share_{field}": share.share, f"low_{field}": low, f"high_{field}": high}
    return row


def _consensus(row: Record) -> int | None:
    ranks = [found for found in (rank(row["standard"], each) for each in row["read"]) if found is not None]
    middle = median(ranks) if ranks else None
    return int(middle) if middle is not None and middle == int(middle) else None


def _name(value: Any) -> str:
    return NOT_GIVEN if value is None else str(value)
