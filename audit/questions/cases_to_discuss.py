"""The cases of a month worth discussing, each with its reasons and a score that adds up in the open; and controls."""

import random
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace

from audit import months
from audit.questions import stale
from audit.questions.reasons import GAPS, Reason, Rules, reasons_of, unremarkable_tracing
from audit.setting_tables.find import FindOptions
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records

_NO_TRACING = {
    "none": "no tracing is stored",
    "not analysed": "its tracing has not been analysed",
    "failed": "its tracing could not be read",
}


def document(con: database.Connection, settings: Settings, *, period: str | None = None) -> Record:
    """The document of `find --json`; see the README for its fields.

    Parameters
    ----------
    period : month of birth, YYYY-MM; None = all, `months.NO_MONTH` = the cases without one.

    Returns
    -------
    document : `cases` by score, each once whatever the number of fetuses; `controls`, drawn per month from the
        unremarkable ones; `left_out`, cases that could not be judged by their tracing and why; `considered`, how many
        cases there were; `remarks`, what most of a month lacks; `without_month`, how many of the database no month
        can find; `note`, or None.

    Raises
    ------
    UsageError : a period that is no month.
    """
    months.checked_choice(period)
    rules = Rules(settings.find, settings.cord_gas)
    fetuses = records(con, "find/cases", {"period": period, "least_seen_fraction": settings.find.least_seen_fraction})
    episodes = records(con, "response/delays", {"period": period, "standard": None, "case_id": None})
    without = sum(row["cases"] for row in records(con, "month/months") if row["period"] is None)
    found = judge(fetuses, episodes, rules)
    return {
        "period": period,
        **found,
        "without_month": without,
        "note": _note(period, found["considered"], without),
        "stale": stale.document(con, settings, period=period),
    }


def judge(fetuses: Sequence[Record], episodes: Sequence[Record], rules: Rules) -> Record:
    """List, leave out or draw as control every case.

    Parameters
    ----------
    fetuses : rows of the query `find/cases`. episodes : rows of the query `delays`, late ones first.
    rules : limits and points.

    Returns
    -------
    `cases`, `controls`, `left_out`, `considered`, `remarks`, as in `document`.
    """
    by_fetus: dict[tuple[str, str], list[Record]] = defaultdict(list)
    for episode in episodes:
        by_fetus[episode["case_id"], episode["fetus"]].append(episode)
    usual = usually_recorded(fetuses, rules.find.gap_counts_from_fraction)
    by_case: dict[str, list[Record]] = defaultdict(list)
    for fetus in fetuses:
        by_case[fetus["case_id"]].append({**fetus, "usually_recorded": usual[fetus["period"]]})
    listed: list[Record] = []
    left_out: list[Record] = []
    unremarkable: dict[str, list[str]] = defaultdict(list)
    for case_id, members in by_case.items():
        reasons = _case_reasons(members, by_fetus, rules)
        missing = sorted({_NO_TRACING[row["tracing"]] for row in members if row["tracing"] in _NO_TRACING})
        grave = [reason for reason in reasons if reason.kind != "record_gap"]
        if missing and not grave:
            left_out.append({"case_id": case_id, "reason": "; ".join([*missing, *_failures(members)])})
            continue
        reasons += [Reason("record_gap", text, None, rules.points.no_tracing) for text in missing]
        score = _score(reasons)
        if score >= rules.find.list_from_score:
            listed.append(_case(case_id, members, score, reasons))
        elif not reasons and all(unremarkable_tracing(row, rules) for row in members):
            unremarkable[members[0]["period"] or ""].append(case_id)
    listed.sort(key=lambda case: (-case["score"], case["case_id"]))
    return {
        "considered": len(by_case),
        "cases": listed,
        "controls": draw_controls(unremarkable, rules.find),
        "unremarkable": sum(len(cases) for cases in unremarkable.values()),
        "left_out": left_out,
        "remarks": _remarks(usual),
    }


def usually_recorded(fetuses: Sequence[Record], from_fraction: float) -> dict[str | None, frozenset[str]]:
    """For each month, which of care events, outcome and birth time at least this share of its newborns has."""
    has: dict[str, Callable[[Record], bool]] = {
        "care events": lambda row: bool(row["has_care_record"]),
        "outcome": lambda row: bool(row["has_outcome"]),
        "birth time": lambda row: row["birth_s"] is not None,
    }
    by_month: dict[str | None, list[Record]] = defaultdict(list)
    for row in fetuses:
        by_month[row["period"]].append(row)
    return {
        month: frozenset(
            name for name, test in has.items() if sum(test(row) for row in rows) >= from_fraction * len(rows)
        )
        for month, rows in by_month.items()
    }


def _remarks(usual: Mapping[str | None, frozenset[str]]) -> list[str]:
    """What most of a month lacks: said once for the month, not of every case."""
    return [
        f"{month or 'cases without a month'}: most have no {name} recorded"
        for month, names in sorted(usual.items(), key=lambda item: item[0] or "")
        for name in sorted(GAPS - names)
    ]


def draw_controls(unremarkable: Mapping[str, Sequence[str]], options: FindOptions) -> list[str]:
    """A random sample of each month's unremarkable cases; the same month, cases and seed give the same sample."""
    drawn: list[str] = []
    for month in sorted(unremarkable):
        chance = random.Random(f"{options.controls_seed}/{month}")
        cases = sorted(unremarkable[month])
        drawn += sorted(chance.sample(cases, min(options.controls_per_month, len(cases))))
    return drawn


def _case_reasons(
    members: Sequence[Record], episodes: Mapping[tuple[str, str], Sequence[Record]], rules: Rules
) -> list[Reason]:
    """The reasons of all fetuses of a case; one that speaks of the labour is said once."""
    found: list[Reason] = []
    several = len(members) > 1
    for row in members:
        for reason in reasons_of(row, episodes.get((row["case_id"], row["fetus"]), ()), rules):
            if reason in found:
                continue
            of_labour = reason.kind == "record_gap" and not reason.of_outcome
            found.append(
                replace(reason, text=f"fetus {row['fetus']}: {reason.text}") if several and not of_labour else reason
            )
    return found


def _score(reasons: Sequence[Reason]) -> float:
    """Each kind once, with its heaviest."""
    heaviest: dict[str, float] = {}
    for reason in reasons:
        heaviest[reason.kind] = max(reason.points, heaviest.get(reason.kind, 0.0))
    return round(sum(heaviest.values()), 6)


def _case(case_id: str, members: Sequence[Record], score: float, reasons: Sequence[Reason]) -> Record:
    return {
        "case_id": case_id,
        "period": members[0]["period"],
        "fetuses": len(members),
        "score": score,
        "reasons": [asdict(reason) for reason in sorted(reasons, key=lambda reason: -reason.points)],
    }


def _failures(members: Sequence[Record]) -> list[str]:
    return sorted({str(row["failure"]) for row in members if row["failure"]})


def _note(period: str | None, considered: int, without_month: int) -> str | None:
    if considered:
        return None
    when = months.where(period)
    hint = f" {without_month} cases have no month of birth; leave out --period to see them." if without_month else ""
    return f"There are no cases {when}.{hint}"
