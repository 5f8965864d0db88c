"""What else a unit learns from: good care by rule, near misses as a class of their own, and a random sample."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from audit.measures.sampling import random_sample
from audit.questions.cases_to_discuss import fetuses_of
from audit.questions.wait_parts import waits_in_parts
from audit.response.agreed import DELAYED
from audit.setting_tables.find import FindOptions
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records


def document(
    con: database.Connection,
    settings: Settings,
    *,
    period: str | None,
    with_outcome: bool,
    sample: int = 0,
    seed: int = 1,
) -> Record:
    """Good care, near misses (with outcomes only) and, where asked for, a random sample.

    `period`: month of birth, YYYY-MM; None = all. `sample`: how
    many cases to draw; 0 = none. `seed`: another one draws others.
    Gives document: `good_care` and `near_miss`, rows of case_id and reasons; `sample`, or None.
    """
    waits = waits_in_parts(con, settings.response, period=period)
    episodes = records(con, "response/delays", {"period": period, "standard": None, "case_id": None})
    fetuses = fetuses_of(con, settings.find, period)
    return {
        "good_care": good_care(waits, episodes, settings.find),
        "near_miss": near_misses(fetuses, episodes, settings.find) if with_outcome else [],
        "sample": random_sample(_read(fetuses), sample, seed) if sample else None,
    }


def to_draw_from(con: database.Connection, settings: Settings, period: str | None) -> list[str]:
    """Cases that a random sample is drawn from: those of the period with a tracing that was read."""
    return _read(fetuses_of(con, settings.find, period))


def _read(fetuses: Sequence[Record]) -> list[str]:
    return sorted({row["case_id"] for row in fetuses if row["tracing"] == "read"})


def good_care(waits: Sequence[Record], episodes: Sequence[Record], options: FindOptions) -> list[Record]:
    """Cases in which a concern was met early, by rule.

    `waits`: records of `wait_parts.waits_in_parts`. `episodes`: rows of the query `response/delays`.
    `options`: the minutes of good care.
    Gives rows: case_id, reasons, by case. A case with any late or unanswered concern, under any standard, is none of
    them.

    Recorded as such soon after it was recognisable; a senior called soon after that, or before it had to be
    recognised; a decision for birth while the concern lasted and within its target.
    """
    delayed = {row["case_id"] for row in episodes if row["status"] in DELAYED}
    found: dict[str, dict[str, None]] = defaultdict(dict)
    for wait in waits:
        if wait["case_id"] not in delayed:
            found[wait["case_id"]] |= dict.fromkeys(_good(wait, options))
    in_time = [row for row in episodes if row["status"] == "in_time" and row["case_id"] not in delayed]
    for row in in_time:
        if row["response_event"] == "decision_for_birth":
            found[row["case_id"]]["decided on birth within the target"] = None
    return [{"case_id": case_id, "reasons": list(reasons)} for case_id, reasons in sorted(found.items()) if reasons]


def _good(wait: Record, options: FindOptions) -> list[str]:
    soon_min, call_min = options.good_care_recorded_minutes, options.good_care_called_minutes
    at = {point["step"]: point["minutes"] for point in wait["points"] if point["minutes"] is not None}
    said = []
    if "recorded" in at and at["recorded"] <= soon_min:
        said.append(f"recorded as such within {soon_min:g} min of being recognisable")
    known = max(at.get("recorded", 0.0), 0.0)
    if "escalated" in at and at["escalated"] < 0:
        said.append("a senior was called before it had to be recognised")
    elif "escalated" in at and at["escalated"] <= known + call_min:
        said.append(f"a senior was called within {call_min:g} min")
    return said


def near_misses(fetuses: Sequence[Record], episodes: Sequence[Record], options: FindOptions) -> list[Record]:
    """Cases that ended well and might not have.

    `fetuses`: rows of the query `find/cases`. `episodes`: rows of the query `response/delays`. `options`: limits of pH
    and Apgar score, and of how long a concern lasted.
    Gives rows: case_id, reasons: acidosis (arterial pH under the mildest tier) in a newborn that was well, after a
    long concern; or a good outcome after a late answer or none.

    Well: alive, not admitted, cooled, transferred or with seizures, no encephalopathy, an Apgar score at 5 minutes that
        is not low. What is not known is not taken for well: at least the Apgar score must be given. Our definition.
    """
    by_fetus: dict[tuple[str, str], list[Record]] = defaultdict(list)
    for row in episodes:
        by_fetus[row["case_id"], row["fetus"]].append(row)
    found: dict[str, list[str]] = defaultdict(list)
    for fetus in fetuses:
        own = by_fetus[fetus["case_id"], fetus["fetus"]]
        if not _well(fetus, options):
            continue
        ph = fetus["cord_artery_ph"]
        longest = max(((row["end_s"] - row["recognisable_s"]) / 60 for row in own if row["end_s"]), default=0.0)
        if ph is not None and ph < options.acidosis_ph_below[-1] and longest >= options.near_miss_concern_minutes:
            found[fetus["case_id"]].append(
                f"pH {ph:.2f} in a newborn that was well, after a concern of {longest:.0f} min"
            )
        if (ph is None or ph >= options.good_outcome_ph_from) and any(row["status"] in DELAYED for row in own):
            found[fetus["case_id"]].append("a good outcome after a late answer or none")
    return [{"case_id": case_id, "reasons": reasons} for case_id, reasons in sorted(found.items())]


def _well(fetus: Mapping[str, object], options: FindOptions) -> bool:
    apgar = fetus["apgar_5"]
    harmed = ("died", "cooled", "seizures", "transferred", "neonatal_unit_admission", "encephalopathy_grade")
    return isinstance(apgar, int) and apgar >= options.low_apgar_5_below[-1] and not any(fetus[name] for name in harmed)
