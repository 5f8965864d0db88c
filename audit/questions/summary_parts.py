"""What a summary tells beside counts and waits, each part with what is small left out of it.

Agreement and decisions are told of a month where none of the counts that are asked about is small; the months where one
is are told together, without a month, where that leaves none small, and not at all otherwise. No time or area is a
single labour's: each is the mean of a group of neighbours from at least so many labours (`grouped_values.in_groups`),
on the same side of every limit.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from itertools import chain as joined
from itertools import pairwise
from typing import Any, TypeVar

from audit.agreement import pooled
from audit.agreement.options import AgreementOptions
from audit.agreement.pooled import Pair
from audit.agreement.scales import CATEGORIES
from audit.measures.grouped_values import in_groups
from audit.measures.suppression import hidden_rows, hides_share, is_small
from audit.questions import case_mix, chance, oxytocin
from audit.questions.agreement import Question, reads_and_computed
from audit.questions.bedside_measures import hours_of_months
from audit.questions.birth_times import births_decided, kind_of_birth
from audit.response.birth_intervals import LIMITS_MIN
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records

Hidden = list[dict[str, str]]
TOGETHER = "together"
_Part = TypeVar("_Part")


def areas(
    con: database.Connection, settings: Settings, told: Collection[str], least: int, hidden: Hidden
) -> list[Record]:
    """Deceleration areas of the last hour of the months told, in groups; a month with few of them is left out."""
    found = _by_period(records(con, "summaries/areas", {"least_seen_fraction": settings.trends.least_seen_fraction}))
    rows = []
    for period in sorted(found.keys() & set(told)):
        own = found[period]
        values = in_groups(
            [row["area_per_seen_hour_bpm_s"] for row in own], [row["case_id"] for row in own], least=least
        )
        if values is None:
            hidden.append({"period": period, "what": "deceleration areas"})
            continue
        rows += [
            {"period": period, "area_per_seen_hour_bpm_s": value, "tracings": n}
            for value, n in sorted(Counter(values).items())
        ]
    return rows


def waits_in_groups(concerns: Sequence[Record], least: int) -> list[Record] | None:
    """The waits of one month and standard with their times in groups; None where some of a class are of few labours.

    `concerns`: records of `response/times`. Their classes: in time, late, ended otherwise by the target, not followed
    to it, no time.

    Neighbours are those that took a like share of the target of their trigger, so each stays on its side of it.
    """
    classes: dict[str | None, list[Record]] = defaultdict(list)
    for row in concerns:
        classes[_class(row)].append(row)
    found = []
    for name, own in classes.items():
        of = [row["case_id"] for row in own]
        if is_small(len(set(of)), least):
            return None
        if name is None or least <= 1:
            found += own
            continue
        shares = in_groups([row["wait_minutes"] / row["target_minutes"] for row in own], of, least=least)
        assert shares is not None
        found += [row | {"wait_minutes": share * row["target_minutes"]} for row, share in zip(own, shares, strict=True)]
    return found


def shares_by_chance(con: database.Connection, standard: str, told: Collection[str]) -> list[Record]:
    """Answers in time as recorded and under each shift, by month and trigger: of the months whose waits are told."""
    by_trigger: dict[tuple[str, str], list[Record]] = defaultdict(list)
    for row in records(con, "response/delays", {"period": None, "standard": standard, "case_id": None}):
        if row["period"] in told:
            by_trigger[row["period"], row["trigger"]].append(row)
    rows = []
    for (period, trigger), own in sorted(by_trigger.items()):
        tally = chance.tally(own)
        rows.append({
            "period": period, "standard": standard, "trigger": trigger,
            "in_time": tally.in_time, "counted": tally.counted,
            "shifts_in_time": tally.shifts_in_time.tolist(), "shifts_counted": tally.shifts_counted.tolist(),
        })  # fmt: skip
    return rows


def oxytocin_used(
    con: database.Connection, settings: Settings, standard: str, told: Collection[str], least: int, hidden: Hidden
) -> tuple[list[Record], list[Record]]:
    """How oxytocin was used, by month, and how long until it was reduced; a month with a small count is left out."""
    used = _by_period(oxytocin.labours(con, settings, period=None, standard=standard))
    rows, waits = [], []
    for period in sorted(used.keys() & set(told)):
        sums = oxytocin.sums(used[period])
        tachysystole = sum(row["hours_in_tachysystole"] > 0 for row in used[period])
        shares = ((part, sums["labours"]) for part in (sums["increased_in"], tachysystole))
        lasted = _lasted(used[period], least)
        if lasted is None or any(hides_share(part, whole, least=least) for part, whole in shares):
            hidden.append({"period": period, "what": f"{standard}: oxytocin"})
            continue
        rows.append({"period": period, "standard": standard, **sums})
        waits += [
            {"period": period, "standard": standard, "reason": key[0], "minutes": key[1], "reduced": key[2], "waits": n}
            for key, n in sorted(Counter(lasted).items())
        ]
    return rows, waits


def _lasted(used: Sequence[Record], least: int) -> list[tuple[str, float, bool]] | None:
    """Reason, minutes in groups and whether oxytocin was reduced; None where one of these is of few labours."""
    own: dict[tuple[str, bool], list[tuple[float, str]]] = defaultdict(list)
    for row in used:
        for wait in row["waits"]:
            own[wait["reason"], bool(wait["reduced"])].append((wait["minutes"], row["case_id"]))
    found = []
    for (reason, reduced), each in own.items():
        minutes = in_groups([lasted for lasted, _ in each], [case_id for _, case_id in each], least=least)
        if minutes is None:
            return None
        found += [(reason, lasted, reduced) for lasted in minutes]
    return found


def decisions(con: database.Connection, told: Collection[str], least: int, hidden: Hidden) -> list[Record]:
    """Minutes from decision to birth by kind of birth and urgency."""
    cells: dict[tuple[str, int | None], list[Record]] = defaultdict(list)
    for row in births_decided(con, None):
        if row["case_id"] and row["period"] in told:
            cells[kind_of_birth(row), row["urgency"]].append(row)
    rows = []
    for (births, urgency), own in sorted(cells.items(), key=lambda cell: (cell[0][0], cell[0][1] or 0)):
        what = f"decision to birth, {births}, urgency {urgency or 'not given'}"
        for period, labours in _pieces(_by_period(own), _few_births(least), _joined, what, hidden):
            counted = Counter(_decided_in_groups(labours, least))
            rows += [
                {"period": period, "kind_of_birth": births, "urgency": urgency, "minutes": minutes, "labours": n}
                for minutes, n in sorted(counted.items(), key=lambda item: (item[0] is None, item[0] or 0.0))
            ]
    return rows


def _decided_in_groups(labours: Sequence[Record], least: int) -> list[float | None]:
    """Minutes from decision to birth of a piece that is not small, in groups between the published limits."""
    bands: dict[int, list[float]] = defaultdict(list)
    unknown = 0
    for row in labours:
        minutes = row["decision_to_birth_minutes"]
        if minutes is None:
            unknown += 1
        else:
            bands[sum(bool(row[f"within_{limit}"]) for limit in LIMITS_MIN)].append(minutes)
    found: list[float | None] = [None] * unknown
    for band in bands.values():
        minutes = in_groups(band, range(len(band)), least=least)  # a labour has one
        assert minutes is not None
        found += minutes
    return found


def _joined(parts: Sequence[Sequence[Record]]) -> list[Record]:
    return list(joined.from_iterable(parts))


def _few_births(least: int) -> Callable[[Sequence[Record]], bool]:
    def few(labours: Sequence[Record]) -> bool:
        known = [row for row in labours if row["decision_to_birth_minutes"] is not None]
        within = [sum(bool(row[f"within_{limit}"]) for row in known) for limit in LIMITS_MIN]
        between = [0, *within, len(known), len(labours)]
        return is_small(len(labours), least) or any(
            is_small(after - before, least) for before, after in pairwise(between)
        )

    return few


def agreement(
    con: database.Connection, options: AgreementOptions, told: Collection[str], least: int, hidden: Hidden
) -> list[Record]:
    """Counts of pairs of categories that readers chose, and of the consensus beside the computed reading.

    Small is a table with a cell that rests on few labours, however many pairs of reads it counts: the threshold rule
    of the Glossary of Statistical Disclosure Control (UNECE/Eurostat work session, 2005) counts who a cell is of. A
    cell is no sum of others, so hiding it alone would leave figures that no longer add up: the whole table goes.
    """

    def few(part: tuple[Counter[Pair], Counter[Pair]]) -> bool:
        _, labours = part
        return any(is_small(count, least) for count in labours.values())

    def added(parts: Sequence[tuple[Counter[Pair], Counter[Pair]]]) -> tuple[Counter[Pair], Counter[Pair]]:
        return sum((table for table, _ in parts), Counter[Pair]()), sum((own for _, own in parts), Counter[Pair]())

    rows = []
    for standard in CATEGORIES:
        tables = {}
        for period in sorted(told):
            reads, computed = reads_and_computed(con, Question(standard, pooled.ITEM, period))
            table = pooled.pair_counts(reads, computed, standard=standard, options=options)
            if table:
                behind = pooled.labours_behind(reads, computed, standard=standard, options=options)
                tables[period] = (table, behind)
        for of, (table, _) in _pieces(tables, few, added, f"{standard}: agreement", hidden):
            rows += [
                {"period": of, "standard": standard, "family": pair.family, "reads": pair.reads,
                 "category_a": pair.first, "category_b": pair.second, "pairs": count}
                for pair, count in sorted(table.items(), key=lambda item: str(item[0]))
            ]  # fmt: skip
    return rows


def hours(con: database.Connection, told: Collection[str], least: int, hidden: Hidden) -> list[Record]:
    """Whole hours of monitoring, those assessed, and those assessed by a second person, by month."""
    rows = []
    for period, (whole, assessed, second, labours) in hours_of_months(con, sorted(told)).items():
        few = is_small(labours, least)
        if few or hides_share(assessed, whole, least=least) or hides_share(second, whole, least=least):
            hidden.append({"period": period, "what": "hours assessed"})
        elif whole:
            rows.append({"period": period, "hours": whole, "assessed": assessed, "second_person": second})
    return rows


def by_case_mix(
    labours: Iterable[Mapping[str, Any]], measure: str, standard: str | None, least: int, hidden: Hidden
) -> list[Record]:
    """Labours and events by case mix, all months together; what is too small by itself is one row without case mix.

    `labours`: records of `units/labours` of which the measure is known, of months whose own counts of it are told, so
    that nothing follows from the difference. `measure`: its column.
    """
    counted: dict[tuple[str, ...], list[int]] = defaultdict(lambda: [0, 0])
    for row in labours:
        counted[case_mix.properties(row)][not row[measure]] += 1
    cells = sorted(counted.items())
    few = hidden_rows([counts for _, counts in cells], least=least) if cells else set()
    lumped = [sum(cells[k][1][column] for k in few) for column in (0, 1)]
    if any(is_small(count, least) for count in (*lumped, sum(lumped))):
        hidden.append({"period": TOGETHER, "what": f"{standard or 'every standard'}: {measure} by case mix"})
        return []
    rows: list[tuple[tuple[str, ...] | None, Sequence[int]]] = [
        (mix, counts) for k, (mix, counts) in enumerate(cells) if k not in few
    ]
    if few:
        hidden.append(
            {"period": TOGETHER, "what": f"{standard or 'every standard'}: {measure}, case mix of {sum(lumped)}"}
        )
        rows.append((None, lumped))
    return [
        {"standard": standard, "measure": measure, "case_mix": None if mix is None else list(mix),
         "labours": sum(counts), "events": counts[0]}
        for mix, counts in rows
    ]  # fmt: skip


def _class(concern: Record) -> str | None:
    """In which count of the share in time a concern is; None = without a time, so in none."""
    if concern["wait_minutes"] is None:
        return None
    left = concern["target_minutes"] - concern["wait_minutes"]
    if left < 0 or (left == 0 and concern["ended_by"] == "end_of_tracing"):
        return "late"
    return {"response": "in time", "end_of_tracing": "not followed"}.get(concern["ended_by"], "ended otherwise")


def _by_period(rows: Iterable[Record]) -> dict[str, list[Record]]:
    found: dict[str, list[Record]] = defaultdict(list)
    for row in rows:
        if row["period"] is not None:
            found[row["period"]].append(row)
    return dict(found)


def _pieces(
    by_period: Mapping[str, _Part],
    small: Callable[[_Part], bool],
    added: Callable[[Sequence[_Part]], _Part],
    what: str,
    hidden: Hidden,
) -> list[tuple[str | None, _Part]]:
    """Each month that is not small; the others added up, under None, where that is not small."""
    rest = [period for period in sorted(by_period) if small(by_period[period])]
    found: list[tuple[str | None, _Part]] = [
        (period, by_period[period]) for period in sorted(by_period) if period not in rest
    ]
    if not rest:
        return found
    whole = added([by_period[period] for period in rest])
    if small(whole):
        hidden += [{"period": period, "what": what} for period in rest]
    else:
        hidden += [{"period": period, "what": f"{what}: told with {len(rest) - 1} other months"} for period in rest]
        found.append((None, whole))
    return found
