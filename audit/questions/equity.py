"""Do waits and outcomes differ between bands of those who gave birth? Shares with intervals, small numbers hidden.

A row is hidden whole, with as many others as it takes so that the month's sums do not tell it. Differences are those to
the largest band that is shown, so that none of them speaks of a hidden one.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from audit.measures.proportions import difference_interval, wilson_interval
from audit.measures.suppression import hidden_rows
from audit.questions import units, waits
from audit.questions.trends import ANSWERED
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records
from audit.vocabulary import EQUITY_FIELDS

NOT_GIVEN = waits.NOT_GIVEN
# measure -> what it says, and whether it tells how newborns were
MEASURES: dict[str, tuple[str, bool]] = {
    ANSWERED: ("Concern episodes answered within target, of those that can be assessed.", False),
    **units.SHARES,
}
CAUTION = (
    "Not adjusted for anything: a difference asks why, and does not say. Intervals: Wilson's of a share, Newcombe's of"
    " a difference (Stat Med 1998;17:857-72 and 873-90); of the share answered, cumulative incidence with its own"
    " interval and the method of variance estimates recovery (Zou & Donner 2008). Of 20 such intervals one misses the"
    " truth by chance. Concerns of one labour are not independent, so theirs are too narrow."
)


@dataclass(frozen=True)
class _Row:
    """One band in one measure. `counts` are what is held against the smallest cell."""

    band: str
    numerator: int
    denominator: int
    share: float | None
    interval: tuple[float, float] | None
    counts: tuple[int, ...]
    half_answered_min: float | None = None


def document(
    con: database.Connection,
    settings: Settings,
    *,
    standard: str,
    period: str | None = None,
    with_outcome: bool = True,
    least: int = 1,
) -> dict[str, Any] | None:
    """Every field of which a band is given, and each measure by its bands.

    `period`: month or span of months of birth, None = all. `standard`: whose triggers are a concern. `with_outcome`:
    False leaves out what tells how newborns were. `least`: smallest cell shown, where it is above the unit's own.
    Gives none unless the unit switched it on. `fields`: each `field`, `labours` (band, labours) and `measures` (`name`,
    `says`, `of_outcome`, `reference`, `rows`: band, hidden, numerator, denominator, share, low, high,
    half_answered_min, difference, difference_low, difference_high); `level`, `min_cell`. Figures of a hidden row and
    those that cannot be given are None.
    """
    options = settings.equity
    if not options.compare:
        return None
    labours = units.labours(con, settings.trends, standard, period)
    times = [row for row in records(con, "response/times", {"period": period, "standard": standard}) if row["case_id"]]
    least = max(least, options.min_cell)
    found = []
    for field in EQUITY_FIELDS:
        of = {row["case_id"]: row[field] or NOT_GIVEN for row in labours}
        if set(of.values()) - {NOT_GIVEN}:
            found.append(_field(field, labours, times, of, settings, least, with_outcome=with_outcome))
    return {"fields": found, "level": settings.trends.interval_level, "min_cell": least}


def _field(
    field: str,
    labours: Sequence[Record],
    times: Sequence[Record],
    of: Mapping[str, str],
    settings: Settings,
    least: int,
    *,
    with_outcome: bool,
) -> dict[str, Any]:
    counted = Counter(of.values())
    # a band that the settings no longer list stays to be seen
    former = sorted(set(counted) - {*settings.equity.bands.of(field), NOT_GIVEN})
    bands = [band for band in (*settings.equity.bands.of(field), *former, NOT_GIVEN) if counted[band]]
    hidden = hidden_rows([(counted[band],) for band in bands], least=least)
    measures = []
    for name, (says, of_outcome) in MEASURES.items():
        if of_outcome and not with_outcome:
            continue
        if name == ANSWERED:
            rows = [_waited(band, [row for row in times if of.get(row["case_id"]) == band]) for band in bands]
        else:
            level = settings.trends.interval_level
            rows = [_share(band, [row[name] for row in labours if of[row["case_id"]] == band], level) for band in bands]
        gone = hidden_rows([row.counts for row in rows], least=least, already=hidden)
        measures.append({"name": name, "says": says, "of_outcome": of_outcome, **_shown(rows, gone)})
    told = [
        {"band": band, "hidden": k in hidden, "labours": None if k in hidden else counted[band]}
        for k, band in enumerate(bands)
    ]
    return {"field": field, "labours": told, "measures": measures}


def _share(band: str, values: Sequence[bool | None], level: float) -> _Row:
    known = [value for value in values if value is not None]
    events, total = sum(known), len(known)
    interval = wilson_interval(events, total, level) if total else None
    return _Row(band, events, total, events / total if total else None, interval, (events, total - events))


def _waited(band: str, times: Sequence[Record]) -> _Row:
    """Counted by episodes and by labours: five late answers in one labour are one labour's."""
    assessed = [row for row in times if row["wait_minutes"] is not None]
    in_time = [row["ended_by"] == "response" and row["wait_minutes"] <= row["target_minutes"] for row in assessed]
    late = {row["case_id"] for row, well in zip(assessed, in_time, strict=True) if not well}
    by_labour = (len({row["case_id"] for row in assessed} - late), len(late))
    if not times:
        return _Row(band, 0, 0, None, None, (0, 0, *by_labour))
    [group] = waits.wait_groups(times, None)
    interval = None if group.share_low is None or group.share_high is None else (group.share_low, group.share_high)
    counts = (group.within, group.assessed - group.within, *by_labour)
    return _Row(band, group.within, group.assessed, group.share, interval, counts, group.half_answered_min)


def _shown(rows: Sequence[_Row], hidden: set[int]) -> dict[str, Any]:
    told = [row for k, row in enumerate(rows) if k not in hidden and row.interval is not None and row.band != NOT_GIVEN]
    reference = max(told, key=lambda row: row.denominator, default=None)
    found = []
    for k, row in enumerate(rows):
        shown = k not in hidden
        low, high = row.interval if shown and row.interval is not None else (None, None)
        found.append(
            {"band": row.band, "hidden": not shown, "numerator": row.numerator if shown else None,
             "denominator": row.denominator if shown else None, "share": row.share if shown else None,
             "low": low, "high": high, "half_answered_min": row.half_answered_min if shown else None,
             **_difference(row if shown else None, reference)}
        )  # fmt: skip
    return {"reference": None if reference is None else reference.band, "rows": found}


def _difference(row: _Row | None, reference: _Row | None) -> dict[str, float | None]:
    names = ("difference", "difference_low", "difference_high")
    if row is None or reference is None or row is reference:
        return dict.fromkeys(names)
    if row.share is None or row.interval is None or reference.share is None or reference.interval is None:
        return dict.fromkeys(names)
    between = difference_interval(row.share, row.interval, reference.share, reference.interval)
    return dict(zip(names, (row.share - reference.share, *between), strict=True))
