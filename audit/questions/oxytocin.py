"""How oxytocin was used, labour by labour and month by month."""

from collections.abc import Sequence

import pandas as pd

from audit.figures import shown
from audit.measures.clustered import share_of_sums
from audit.measures.proportions import LEVEL
from audit.questions.waits import NOT_GIVEN
from audit.response.oxytocin import OxytocinUse, joined, on_oxytocin, oxytocin_use, tachysystole_spans
from audit.response.types import CareEvent
from audit.setting_types import Limit
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records
from audit.survival import share_within_target, survival_curve
from audit.words import hh_mm, number_of

SOURCE = (
    "NICE NG207 and ACOG Practice Bulletin 116 (from memory): less oxytocin for tachysystole or a concerning tracing,"
    " and no increase meanwhile. No minutes are published, so none is a target. Tachysystole: more than 5 contractions"
    " in 10 minutes, averaged over 30 (NICHD 2008)."
)
REASONS = ("concern", "tachysystole")
_SUMS = ("labours", "hours", "hours_in_tachysystole", "increases_in_concern", "increased_in")


def labours(con: database.Connection, settings: Settings, *, period: str | None, standard: str) -> list[Record]:
    """Each labour on oxytocin.

    `period`: month of birth, YYYY-MM; None = all. `standard`: whose concerns count.
    Gives records: case_id, period, shift and the fields of `OxytocinUse`; `waits` as dictionaries.
    """
    found = []
    for row in records(con, "response/oxytocin", {"period": period, "standard": standard}):
        use = oxytocin_use(
            [CareEvent(at_s, event) for at_s, event in zip(row["times_s"], row["events"], strict=True)],
            list(zip(row["concern_from_s"], row["concern_to_s"], strict=True)),
            tachysystole_spans(row["epoch_start_s"], row["epoch_rate"], settings.nichd_2008.tachysystole),
            end_s=row["end_s"],
            pattern_starts_s=row["concern_began_s"],
        )
        if use is not None:
            found.append({name: row[name] for name in ("case_id", "period", "shift")} | _record(use))
    return found


def _record(use: OxytocinUse) -> Record:
    # `dataclasses.asdict` copies every number of every wait, which for a unit-year took as long as the waits themselves
    return {**vars(use), "waits": [dict(vars(wait)) for wait in use.waits]}


def in_words(used: Record) -> str:
    """One labour's oxytocin in a sentence or two, from its record of `labours`."""
    raised = used["increases_in_concern"]
    text = (
        f"Oxytocin for {shown(used['hours'], 1)} h, {shown(used['hours_in_tachysystole'], 1)} h of it in tachysystole;"
        f" {'increased ' + number_of(raised, 'time') if raised else 'not increased'} in a concern."
    )
    for wait in used["waits"]:
        which = "the concern" if wait["reason"] == "concern" else "tachysystole"
        end = "it was reduced or stopped" if wait["reduced"] else "that or labour ended, not reduced"
        text += f" From {which} at {hh_mm(wait['from_s'])}: {shown(wait['minutes'], 0)} min until {end}."
    return text


def timeline(
    events: pd.DataFrame, epochs: pd.DataFrame, concerns: pd.DataFrame, *, end_s: float, limit: Limit
) -> list[Record]:
    """When oxytocin ran in one labour, was changed, and what lasted beside it; none where it did not run.

    Parameters
    ----------
    events : at_s, event. epochs : start_s, contractions_per_10_min. concerns : recognisable_s, end_s. end_s : birth, or
        the end of the tracing. limit : of tachysystole.

    Returns
    -------
    rows : label, from_s, to_s (the same of a change); lanes in order: on oxytocin, increased, reduced, in tachysystole,
        concern.
    """
    noted = [CareEvent(at_s, event) for at_s, event in zip(events["at_s"], events["event"], strict=True)]
    ran = on_oxytocin(noted, end_s)
    if not ran:
        return []
    rates = [None if pd.isna(rate) else float(rate) for rate in epochs["contractions_per_10_min"]]
    lanes: dict[str, list[tuple[float, float]]] = {"on oxytocin": ran}
    for name, event in (("increased", "oxytocin_increased"), ("reduced", "oxytocin_reduced")):
        lanes[name] = [(each.at_s, each.at_s) for each in noted if each.event == event and each.at_s <= end_s]
    lanes["in tachysystole"] = joined(tachysystole_spans(list(epochs["start_s"]), rates, limit))
    lanes["concern"] = joined(list(zip(concerns["recognisable_s"], concerns["end_s"], strict=True)))
    return [
        {"label": label, "from_s": float(from_s), "to_s": float(min(to_s, end_s))}
        for label, spans in lanes.items()
        for from_s, to_s in sorted(spans)
        if from_s <= end_s
    ]


def in_words_of(rows: Sequence[Record]) -> str:
    """Rows of `timeline` for who does not see them drawn."""
    lanes: dict[str, list[str]] = {}
    for row in rows:
        when = hh_mm(row["from_s"]) + ("" if row["to_s"] == row["from_s"] else f" to {hh_mm(row['to_s'])}")
        lanes.setdefault(row["label"], []).append(when)
    return "Oxytocin. " + "; ".join(f"{label}: {', '.join(times)}" for label, times in lanes.items())


def told(con: database.Connection, *, period: str | None, standard: str) -> list[Record]:
    """What merged summaries say: a row per unit and month, `waits` as in `labours`; parameters likewise."""
    found = []
    for row in records(con, "summaries/oxytocin", {"period": period, "standard": standard}):
        each = zip(row["reasons"], row["minutes"], row["reduced"], strict=True)
        waits = [{"reason": reason, "minutes": minutes, "reduced": reduced} for reason, minutes, reduced in each]
        found.append({name: row[name] for name in ("period", *_SUMS)} | {"waits": waits})
    return found


def by_month(used: Sequence[Record], merged: Sequence[Record] = ()) -> list[Record]:
    """Months in order, those without one last, and all of them first.

    `used`: records of `labours`. `merged`: records of `told`.
    Gives rows: group, labours, hours, hours_in_tachysystole, share_tachysystole, low_tachysystole, high_tachysystole (0
    to 1; labours are clusters, so that there is no interval with summaries, which do not tell them apart),
    increases_in_concern (and labours with one: `increased_in`), and for both reasons, concern and tachysystole:
    `R_waits`, `R_reduced`, `R_share`, `R_low`, `R_high` (0 to 1: reduced before it ended, also before it had to be
    recognised; Wilson 95 %) and `R_half_min` (minutes by which half were, had it gone on: Kaplan-Meier; None = not
    reached).
    """
    names = sorted({_name(row) for row in (*used, *merged)}, key=lambda name: (name == NOT_GIVEN, name))
    groups = [(None, "all"), *((name, name) for name in names)]
    found = []
    for asked, name in groups:
        own, others = ([row for row in rows if asked in (None, _name(row))] for rows in (used, merged))
        if own or others:
            found.append(_row(name, own, others))
    return found


def sums(used: Sequence[Record]) -> Record:
    """Labours, hours and increases of records of `labours`, added up."""
    return {
        "labours": len(used),
        "hours": sum(row["hours"] for row in used),
        "hours_in_tachysystole": sum(row["hours_in_tachysystole"] for row in used),
        "increases_in_concern": sum(row["increases_in_concern"] for row in used),
        "increased_in": sum(row["increases_in_concern"] > 0 for row in used),
    }


def _row(name: str, used: Sequence[Record], merged: Sequence[Record]) -> Record:
    own = sums(used)
    added: Record = {key: own[key] + sum(row[key] for row in merged) for key in _SUMS}
    low = high = None
    if merged:
        share = min(1.0, added["hours_in_tachysystole"] / added["hours"]) if added["hours"] else None
    else:
        found = share_of_sums(
            [row["hours_in_tachysystole"] for row in used], [row["hours"] for row in used], level=LEVEL
        )
        share, (low, high) = found.share, found.interval or (None, None)
    added |= {"share_tachysystole": share, "low_tachysystole": low, "high_tachysystole": high}
    waits = [wait for row in (*used, *merged) for wait in row["waits"]]
    for reason in REASONS:
        added |= _waits(reason, [wait for wait in waits if wait["reason"] == reason])
    return {"group": name} | added


def _waits(reason: str, waits: Sequence[Record]) -> Record:
    minutes, reduced = [wait["minutes"] for wait in waits], [wait["reduced"] for wait in waits]
    found: Record = {f"{reason}_waits": len(waits), f"{reason}_reduced": sum(reduced)}
    share = half = None
    interval: tuple[float | None, float | None] = (None, None)
    if waits:
        # what ended without a reduction is another end, not one that nobody followed
        ends = share_within_target(minutes, [1 if down else 2 for down in reduced], max(minutes), level=LEVEL)
        share, interval = ends.share, ends.interval or (None, None)
        curve = survival_curve(minutes, reduced, level=LEVEL)
        half = next((float(t) for t, free in zip(curve.time, curve.survival, strict=True) if free <= 0.5 + 1e-12), None)
    return found | {
        f"{reason}_share": share, f"{reason}_low": interval[0], f"{reason}_high": interval[1],
        f"{reason}_half_min": half,
    }  # fmt: skip


def _name(row: Record) -> str:
    return NOT_GIVEN if row["period"] is None else str(row["period"])
