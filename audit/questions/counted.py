"""In which figures of the pages each case is counted, so that a figure can be followed to its cases.

The names are those of the list of all cases (`month_list.COUNTED`); each is made by the question that makes the figure,
so a list and its figure cannot be of different cases.
"""

from collections import defaultdict
from collections.abc import Iterator

from audit import words
from audit.questions import act_effect, birth_times, oxytocin, wait_parts
from audit.response.hourly import hourly_audit
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records

ON_OXYTOCIN, IN_TACHYSYSTOLE = "on oxytocin", "oxytocin in tachysystole"
INCREASED, NOT_REDUCED = "oxytocin increased in a concern", "oxytocin not reduced in a concern"
ASSESSED, OVER_AN_HOUR, NOT_ASSESSED = "assessed at the time", "over an hour between assessments", "not assessed"
READ = "read by a reader"
OF_CASES = "files of cases"
AUSCULTATED = "auscultation gave way to monitoring"
HALF_HIDDEN = "half or more of the last 30 min without a category"
SIGNAL_STEP = 0.1
Concern = tuple[str, str, str, str, float]  # case, fetus, standard, trigger, when it was recognisable
_LONGEST = "longest"
_HOW = {
    "": "all that came to it", "reached": "went on", "passed_over": "passed over", "resolved": "pattern ended first",
    "birth": "born first", "end_of_tracing": "not followed", _LONGEST: "longest part of the wait",
}  # fmt: skip


def of_cases(
    con: database.Connection, settings: Settings, *, period: str | None, standard: str
) -> dict[str, list[str]]:
    """What each case is counted among.

    `period`: month of birth, YYYY-MM; None = all. `standard`: whose concerns and categories count.
    Gives counted: case id -> names, each once; a case that none of these figures counts is left out.
    """
    found: dict[str, dict[str, None]] = defaultdict(dict)
    for row in oxytocin.labours(con, settings, period=period, standard=standard):
        found[row["case_id"]] |= dict.fromkeys(_oxytocin(row))
    for row in records(con, "bedside/hours", {"period": period}):
        found[row["case_id"]] |= dict.fromkeys(_hours(row))
    for row in birth_times.births_decided(con, period):
        if row["case_id"] is None:
            continue  # of a merged summary: counted, and nobody here can open it
        births = birth_times.kind_of_birth(row)
        urgency = birth_times.urgency_words(row["urgency"])
        found[row["case_id"]] |= dict.fromkeys([decided(births, birth_times.EVERY), decided(births, urgency)])
    for row in records(con, "data_quality/signal", {"period": period}):
        found[row["case_id"]] |= {signal_words(row["seen_fraction"]): None}
    for row in records(con, "find/case_facts", {"period": period}):
        if "reads by a reader" not in (row["lacks"] or []):
            found[row["case_id"]] |= {READ: None}
        if row["auscultated"]:
            found[row["case_id"]] |= dict.fromkeys([AUSCULTATED, auscultated(row["monitored_because"])])
    for row in records(con, "find/half_hidden", {"period": period, "standard": standard}):
        found[row["case_id"]] |= {HALF_HIDDEN: None}
    return {case_id: list(names) for case_id, names in found.items() if names}


def steps_of(
    con: database.Connection, settings: Settings, *, period: str | None, standard: str
) -> dict[Concern, list[str]]:
    """Which rows of the parts of waits count each concern: `concern` -> names, as `came_to` gives them."""
    waits = wait_parts.waits_in_parts(con, settings.response, period=period, standard=standard)
    return {concern(wait): _steps(wait) for wait in waits}


def concern(row: Record) -> Concern:
    """Which concern a row is about, of any list of concerns."""
    return row["case_id"], row["fetus"], row["standard"], row["trigger"], row["recognisable_s"]


def _steps(wait: Record) -> list[str]:
    found = [name for part in wait["parts"] for name in (came_to(part["until"]), came_to(part["until"], part["end"]))]
    return found + ([] if wait["longest"] is None else [came_to(wait["longest"], _LONGEST)])


def came_to(step: str, how: str = "") -> str:
    """The name of the concerns of a row of `wait_parts.summary`, or of those of one of its counts.

    `how`: an end of `wait_parts.CODES`, or `longest`; "" for all that came to it.
    """
    return f"{wait_parts.STEP_WORDS[step]}: {_HOW[how]}"


def acts_of(con: database.Connection, settings: Settings, *, period: str | None, standard: str) -> dict[str, list[str]]:
    """Which rows of the effect of acts count each labour: case id -> names, as `judged` gives them."""
    found: dict[str, list[str]] = defaultdict(list)
    for (act, measure), labours in act_effect.labours_judged(con, settings, period=period, standard=standard).items():
        for case_id in labours:
            found[case_id].append(judged(act, measure))
    return dict(found)


def files_of(
    con: database.Connection, settings: Settings, *, period: str | None, standard: str
) -> dict[str, list[str]]:
    """Which files brought something of each case: case id -> names, as `file_words` gives them."""
    found: dict[str, list[str]] = defaultdict(list)
    for row in records(con, "find/case_facts", {"period": period}):
        if "row in the cases file" not in (row["lacks"] or []):
            found[row["case_id"]].append(OF_CASES)
    for row in records(con, "find/files_of_cases", {"period": period}):
        found[row["case_id"]].append(row["source"])
    return dict(found)


def file_words(source: str, kind: str | None) -> str:
    """The name of the cases of a file; files of cases have one together, since a later one may replace rows."""
    return OF_CASES if kind == "cases" else source


def judged(act: str, measure: str) -> str:
    """The name of the labours of a row of `act_effect.by_act`."""
    return f"{words.words(act)}: {act_effect.MEASURE_WORDS[measure]}"


def _oxytocin(row: Record) -> Iterator[str]:
    yield ON_OXYTOCIN
    if row["hours_in_tachysystole"] > 0:
        yield IN_TACHYSYSTOLE
    if row["increases_in_concern"] > 0:
        yield INCREASED
    if any(wait["reason"] == "concern" and not wait["reduced"] for wait in row["waits"]):
        yield NOT_REDUCED


def _hours(row: Record) -> Iterator[str]:
    if not row["times_s"]:
        yield NOT_ASSESSED
        return
    yield ASSESSED
    audit = hourly_audit(row["times_s"], row["roles"], start_s=row["start_s"], end_s=row["end_s"])
    if audit.longest_gap_minutes is not None and audit.longest_gap_minutes > 60.0:
        yield OVER_AN_HOUR


def auscultated(reason: str | None) -> str:
    """The name of the labours in which auscultation gave way to continuous monitoring for a coded reason."""
    return f"{AUSCULTATED}: {'no reason given' if reason is None else words.words(reason)}"


def decided(births: str, urgency: str) -> str:
    """The name of the labours of a row of `birth_times.shares_within`."""
    return f"decision for birth, {births}" + ("" if urgency == birth_times.EVERY else f", {urgency}")


def signal_step(share: float) -> int:
    """The step of 10 % that a share of signal used (0 to 1) is in; all of it is in the last."""
    return min(int(share / SIGNAL_STEP + 1e-9), 9)


def signal_words(share: float | None) -> str:
    """The name of the tracings of a bar of the signal's picture; None = not read."""
    if share is None:
        return "tracing not read"
    step = signal_step(share)
    return f"signal used {10 * step}–{10 * step + 10} %"
