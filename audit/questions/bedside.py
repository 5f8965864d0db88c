"""What staff recorded at the time: was it every hour, by a second person, and was it what others see in the tracing?

Roles only, never a person; what could point at one is hidden.
"""

from collections import Counter
from collections.abc import Sequence
from statistics import median
from typing import Any

from audit.measures.clustered import share_of_sums
from audit.measures.suppression import hide_cells, hide_parts, is_small
from audit.questions.waits import LEVEL, NOT_GIVEN
from audit.response.hourly import HourlyAudit, hourly_audit
from audit.response.parts import rank
from audit.store import database
from audit.store.database import Record, records

HIDDEN = "hidden"
COMPUTED, BLIND_READS = "computed", "blind reads"
SOURCE = (
    "NICE NG229 (2022, from memory): a documented systematic assessment at least every hour; Saving Babies' Lives (from"
    " memory): as often with a second person. Whole hours from the first sample to birth or the end of the tracing."
)


def document(con: database.Connection, *, period: str | None, least: int) -> Record:
    """The hourly audit and the comparison of categories, of a month of birth.

    Parameters
    ----------
    period : YYYY-MM; None = all. least : counts from 1 to `least - 1` of labours or assessments are hidden.

    Returns
    -------
    document : `assessments`, `standards` (that staff applied),
        `hours` (`hourly`), `calling` (`calling`); empty lists where nothing was recorded.
    """
    noted = records(con, "bedside/categories", {"period": period})
    labours = records(con, "bedside/hours", {"period": period})
    return {
        "period": period,
        "assessments": len(noted),
        "standards": sorted({row["standard"] for row in noted}),
        "hours": hourly(labours, least=least) if noted else [],
        "calling": calling(noted, least=least),
    }


def hourly(labours: Sequence[Record], *, least: int) -> list[Record]:
    """Share of labour hours with an assessment, in all and by shift.

    Parameters
    ----------
    labours : records of `bedside/hours`. least : as in `document`.

    Returns
    -------
    rows : group, labours (with at least one assessment), without (labours with none: not in any share, as their export
        may lack them), hours, assessed, second_person, and for both share, low, high (0 to 1, 95 %; hours of one labour
        are one cluster); longest_gap_min (of the group's labours), gap_over_hour (labours with a gap over an hour).
    """
    shifts = sorted({_name(row["shift"]) for row in labours}, key=lambda name: (name == NOT_GIVEN, name))
    groups: list[tuple[str, list[Record]]] = [("all", list(labours))]
    if len(shifts) > 1:
        groups += [(name, [row for row in labours if _name(row["shift"]) == name]) for name in shifts]
    return [_hourly_row(name, own, least) for name, own in groups]


def _hourly_row(name: str, labours: Sequence[Record], least: int) -> Record:
    audits = [
        hourly_audit(row["times_s"], row["roles"], start_s=row["start_s"], end_s=row["end_s"])
        for row in labours
        if row["times_s"]
    ]
    row: Record = {"group": name, "labours": len(audits), "without": len(labours) - len(audits)}
    if is_small(len(audits), least):
        return row | {"labours": HIDDEN}
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


def calling(noted: Sequence[Record], *, least: int) -> list[Record]:
    """How often a role's category was milder or worse than the computed one, and than that of blind reads.

    Parameters
    ----------
    noted : records of `bedside/categories`. least : as in `document`.

    Returns
    -------
    rows : standard, assessor, against (computed, blind reads), assessments and labours that can be compared, under
        (milder than it), alike, over (worse), share_under, low_under, high_under and the same of over (0 to 1, 95 %;
        assessments of one labour are one cluster). A role with too few labours says `hidden` and nothing else; of the
        three counts a small one is hidden with its share, and so is what would tell it: the next smallest,
        and another role's.

    Notes
    -----
    Blind reads: the median category of first reads of the window around it; where it lies between two, none. A bedside
    category is of the moment, a read of its whole window: the two can differ without anybody being wrong.
    """
    compared: dict[tuple[str, str, str], list[tuple[str, int]]] = {}
    for row in noted:
        for against in (COMPUTED, BLIND_READS):
            if (steps := steps_worse(row, against)) is not None:
                key = (row["standard"], row["assessor"], against)
                compared.setdefault(key, []).append((row["case_id"], steps))
    rows = []
    for standard, against in sorted({(key[0], key[2]) for key in compared}):
        roles = sorted(key for key in compared if (key[0], key[2]) == (standard, against))
        shown = [key for key in roles if not role_hidden(compared[key], least)]
        counts = [list(_counts(compared[key]).values()) for key in shown]
        # the months' charts tell the totals over roles of the comparison with the computed category
        cells = hide_cells(counts, least=least) if against == COMPUTED else [hide_parts(c, least=least) for c in counts]
        told = dict(zip(shown, cells, strict=True))
        rows += [_calling_row(key, compared[key], told.get(key)) for key in roles]
    return sorted(rows, key=lambda row: (row["standard"], row["assessor"], row["against"]))


def role_hidden(found: Sequence[tuple[str, int]], least: int) -> bool:
    """Whether a role is left out whole: assessments (case, steps worse) in too few labours."""
    return is_small(len({case_id for case_id, _ in found}), least)


def _counts(found: Sequence[tuple[str, int]]) -> dict[str, int]:
    steps = [gap for _, gap in found]
    return {"under": sum(gap < 0 for gap in steps), "alike": steps.count(0), "over": sum(gap > 0 for gap in steps)}


def steps_worse(row: Record, against: str) -> int | None:
    """How many categories worse the bedside category is than the other (below 0: milder); None = not to be compared."""
    own = rank(row["standard"], row["category"])
    other = _rank_of(row["standard"], row["computed"]) if against == COMPUTED else _consensus(row)
    return None if own is None or other is None else own - other


def _calling_row(
    key: tuple[str, str, str], found: Sequence[tuple[str, int]], cells: Sequence[int | None] | None
) -> Record:
    standard, assessor, against = key
    row: Record = {"standard": standard, "assessor": assessor, "against": against}
    if cells is None:
        return row | {"assessments": HIDDEN, "labours": HIDDEN}
    wholes = Counter(case_id for case_id, _ in found)
    row |= {"assessments": len(found), "labours": len(wholes)}
    row |= {name: HIDDEN if cell is None else cell for name, cell in zip(_counts(found), cells, strict=True)}
    for field, sign in (("under", -1), ("over", 1)):
        if row[field] != HIDDEN:
            parts = Counter(case_id for case_id, gap in found if gap * sign > 0)
            share = share_of_sums([parts[name] for name in wholes], list(wholes.values()), level=LEVEL)
            low, high = share.interval or (None, None)
            row |= {f"share_{field}": share.share, f"low_{field}": low, f"high_{field}": high}
    return row


def _rank_of(standard: str, category: Any) -> int | None:
    return None if category is None else rank(standard, category)


def _consensus(row: Record) -> int | None:
    ranks = [found for found in (rank(row["standard"], each) for each in row["read"]) if found is not None]
    middle = median(ranks) if ranks else None
    return int(middle) if middle is not None and middle == int(middle) else None


def _name(value: Any) -> str:
    return NOT_GIVEN if value is None else str(value)
