"""The cases of a month worth discussing, each with its reasons and a score that adds up in the open; and controls.

Every case of the month is on one list that says why it is there: to discuss, left out, or among the others. Asked
without outcomes the answer is that of a month whose outcomes nobody knows: neither the cases listed, nor their order,
number or words depend on how a newborn was.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace

from audit import months
from audit.questions import merged_labours, risk_factors, stale
from audit.questions.controls import draw_controls, hindrances
from audit.questions.outcome_reasons import ALWAYS_FIRST, first_rank, without_outcome
from audit.questions.reason_types import Reason, Rules
from audit.questions.reasons import GAPS, reasons_of
from audit.setting_tables.find import FindOptions
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records
from audit.words import number_of

CANDIDATE = "unremarkable"
_NO_TRACING = {
    "none": "no tracing is stored",
    "not analysed": "its tracing has not been analysed",
    "failed": "its tracing could not be read",
}


def document(
    con: database.Connection,
    settings: Settings,
    *,
    period: str | None = None,
    with_outcome: bool = True,
    out_of_date: Record | None = None,
) -> Record:
    """The document of `find --json`; see the README for its fields.

    `period`: month of birth, YYYY-MM; None = all, `months.NO_MONTH` = the cases without one. `with_outcome`: False = as
    for somebody who must not learn how any newborn was; no controls are named then, since a control is known to be
    well. `out_of_date`: the document of `stale` of that period, where it is known already.
    Gives document: `weights`, the weighting in force; every case has its `risk_factors`, which weigh nothing; `cases`,
    deaths, cooling and encephalopathy first, then by score, each once whatever the number of fetuses; `controls`, drawn
    per month from `candidates`; `left_out`, cases that could not be judged by their tracing and why; `others`, every
    further case with why it is not listed; `considered`, how many cases there were; `unremarkable`, how many nothing
    was found of; `remarks`, what most of a month lacks; `without_month`, how many of the database no month can find;
    `note`, or None.
    Raises UsageError: a period that is no month.
    """
    months.checked_choice(period)
    rules = Rules(settings.find, settings.cord_gas)
    fetuses, episodes = rows_of(con, settings, period)
    without = sum(row["cases"] for row in records(con, "month/months") if row["period"] is None)
    found = judge(fetuses, episodes, rules, with_outcome=with_outcome)
    risk_factors.beside(found, risk_factors.given(con, period))
    return {
        "period": period,
        "with_outcome": with_outcome,
        "weights": settings.find.weights,
        **found,
        "without_month": without,
        "note": _note(period, found["considered"], without, merged_labours.sentence(con, period)),
        "stale": out_of_date or stale.document(con, settings, period=period),
    }


def rows_of(con: database.Connection, settings: Settings, period: str | None) -> tuple[list[Record], list[Record]]:
    """What the reasons rest on: rows of `find/cases`, and of `response/delays`, late ones first."""
    delays = records(con, "response/delays", {"period": period, "standard": None, "case_id": None})
    return fetuses_of(con, settings.find, period), delays


def fetuses_of(con: database.Connection, options: FindOptions, period: str | None) -> list[Record]:
    """Rows of `find/cases`: what is known of every newborn's labour of that month, None = of all."""
    names = ("least_seen_fraction", "bradycardia_below_bpm", "bradycardia_minutes")
    return records(con, "find/cases", {"period": period} | {name: getattr(options, name) for name in names})


def judge(fetuses: Sequence[Record], episodes: Sequence[Record], rules: Rules, *, with_outcome: bool = True) -> Record:
    """List, leave out or put among the others every case.

    `fetuses`: rows of the query `find/cases`. `episodes`: rows of the query `delays`, late ones first. `rules`: limits
    and points. `with_outcome`: as in `document`.
    Gives `cases`, `controls`, `candidates`, `left_out`, `others`, `considered`, `unremarkable`, `remarks`, as in
    `document`.
    """
    by_fetus: dict[tuple[str, str], list[Record]] = defaultdict(list)
    for episode in episodes:
        by_fetus[episode["case_id"], episode["fetus"]].append(episode)
    usual = usually_recorded(fetuses, rules.find.gap_counts_from_fraction)
    by_case: dict[str, list[Record]] = defaultdict(list)
    for fetus in fetuses:
        known = fetus if with_outcome else without_outcome(fetus)
        by_case[fetus["case_id"]].append({**known, "usually_recorded": usual[fetus["period"]]})
    found: dict[str, list[Record]] = {"cases": [], "left_out": [], "others": []}
    candidates: dict[str, list[str]] = defaultdict(list)
    for case_id, members in by_case.items():
        place, entry = _place(case_id, members, by_fetus, rules, with_outcome=with_outcome)
        found[place].append(entry)
        if place == "others" and entry["list"] == CANDIDATE:
            candidates[members[0]["period"] or ""].append(case_id)
    found["cases"].sort(key=lambda case: (_rank(case), -case["score"], case["case_id"]))
    controls = draw_controls(candidates, rules.find) if with_outcome else []
    for entry in found["others"]:
        if entry["case_id"] in controls:
            entry |= {"list": "control", "reason": "nothing found; drawn as a control"}
    return {
        "considered": len(by_case),
        "cases": found["cases"],
        "controls": controls,
        "candidates": sorted(case for cases in candidates.values() for case in cases) if with_outcome else [],
        "unremarkable": sum(len(cases) for cases in candidates.values()),
        "left_out": found["left_out"],
        "others": found["others"],
        "remarks": _remarks(usual, GAPS if with_outcome else GAPS - {"outcome"}),
    }


def _place(
    case_id: str,
    members: Sequence[Record],
    episodes: Mapping[tuple[str, str], Sequence[Record]],
    rules: Rules,
    *,
    with_outcome: bool,
) -> tuple[str, Record]:
    """The list that a case belongs to, and its entry there."""
    reasons = _case_reasons(members, episodes, rules)
    missing = sorted({_NO_TRACING[row["tracing"]] for row in members if row["tracing"] in _NO_TRACING})
    grave = [reason for reason in reasons if reason.kind != "record_gap"]
    failures = {str(row["failure"]) for row in members if row["failure"]}
    if missing and not grave:
        return "left_out", {"case_id": case_id, "reason": "; ".join([*missing, *sorted(failures)])}
    reasons += [Reason("record_gap", text, None, rules.points.no_tracing) for text in missing]
    reasons = [rules.weighted(reason) for reason in reasons]
    score = score_of(reasons, rules.most_from_outcome)
    if score >= rules.find.list_from_score or first_rank(reasons) < len(ALWAYS_FIRST):
        return "cases", _case(case_id, members, score, reasons)
    entry: Record = {"case_id": case_id, "period": members[0]["period"]}
    if reasons:
        texts = "; ".join(reason.text for reason in reasons)
        why = f"{score:g} of the {rules.find.list_from_score:g} points from which cases are listed: {texts}"
        return "others", entry | {"list": "below the score", "reason": why}
    why_not = hindrances(members, rules, with_outcome=with_outcome)
    if why_not:
        return "others", entry | {"list": "nothing to discuss", "reason": "; ".join(["nothing found", *why_not])}
    return "others", entry | {"list": CANDIDATE, "reason": "nothing found"}


def _rank(case: Record) -> int:
    return ALWAYS_FIRST.index(case["always_first"]) if case["always_first"] else len(ALWAYS_FIRST)


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


def _remarks(usual: Mapping[str | None, frozenset[str]], asked: frozenset[str]) -> list[str]:
    """What most of a month lacks: said once for the month, not of every case."""
    return [
        f"{month or 'cases without a month'}: most have no {name} recorded"
        for month, names in sorted(usual.items(), key=lambda item: item[0] or "")
        for name in sorted(asked - names)
    ]


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


def score_of(reasons: Sequence[Reason], most_from_outcome: float) -> float:
    """Each kind once, with its heaviest; what stems from the outcome up to a limit, or the heaviest of it alone.

    One sick newborn has a low pH, a low Apgar, is admitted and cooled: that is one piece of news, not five.
    """
    heaviest: dict[str, float] = {}
    of_outcome: dict[str, bool] = {}
    for reason in reasons:
        # a missing outcome and a missing event are of one kind, and the heavier of them counts
        if reason.points > heaviest.get(reason.kind, -1.0):
            heaviest[reason.kind], of_outcome[reason.kind] = reason.points, reason.of_outcome
    outcome = [points for kind, points in heaviest.items() if of_outcome[kind]]
    rest = sum(points for kind, points in heaviest.items() if not of_outcome[kind])
    capped = max([min(sum(outcome), most_from_outcome), *outcome], default=0.0)
    return round(rest + capped, 6)


def _case(case_id: str, members: Sequence[Record], score: float, reasons: Sequence[Reason]) -> Record:
    place = first_rank(reasons)
    return {
        "case_id": case_id,
        "period": members[0]["period"],
        "fetuses": len(members),
        "score": score,
        "always_first": ALWAYS_FIRST[place] if place < len(ALWAYS_FIRST) else None,
        "reasons": [asdict(reason) for reason in sorted(reasons, key=lambda one: (first_rank([one]), -one.points))],
    }


def _note(period: str | None, considered: int, without_month: int, of_summaries: str) -> str | None:
    if considered or of_summaries:
        return of_summaries or None
    when = months.where(period)
    some = f"{number_of(without_month, 'case')} {'has' if without_month == 1 else 'have'} no month of birth"
    hint = f" {some}; leave out --period to see them." if without_month else ""
    return f"There are no cases {when}.{hint}"
