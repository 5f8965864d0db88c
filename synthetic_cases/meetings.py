"""What the invented unit's meetings wrote: agendas, agreed clocks, issues with actions, and what families asked.

A meeting about a month takes the cases that waited longest. It knows what was planted, so that its clocks are the truth
to the minute; of labours for which a concern was computed and none was planted that meets the standard it says that
there was nothing to answer, so many that each month's clocks are enough for a point of a chart. Of the cases that it
discusses it strikes out the falls that the reading found where none was drawn, and adds those that it overlooked. Where
a concern under another standard stands on such a fall alone it discusses that too: its clock moves. One month also
draws cases at random, so that shares can be weighted back.
"""

import csv
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

from audit.people import actions, agenda, agreed, family_questions, findings, issues, meetings
from audit.people.agreed import Agreed
from audit.people.findings import Finding
from audit.people.issues import Issue
from audit.questions.agreed import run_again
from audit.questions.learning import to_draw_from
from audit.response.agreed import DELAYED, Mark
from audit.settings import Settings, settings_for
from audit.store import published
from audit.store.database import Connection, records
from synthetic_cases.scenario import CHANGE_MONTH, period

STANDARD = "figo-2015"
MOST_CASES = 4
OTHER = "nice-ng229"  # under which single falls may start a clock
SAMPLE_MONTH, SAMPLE = -2, 6  # which month, of those in order, draws how many cases at random
CLOCKS = 6  # a month; `[trends] denominator_min` asks for 5 before it shows a share
# the meeting about the month before the change agrees on it; the chart of the measure that it should move is Trends'
ACTION = "A second senior on the labour ward at night"
AIM = actions.Aim("answered_within_target", "rise", period(CHANGE_MONTH - 1))
_SENIOR = ("senior_called", "senior_at_bedside", "decision_for_birth")
_SLOWEST_FIRST = ("long_delay", "unrecorded", "slow", "prompt")
_ASKED = (
    ("Why did it take so long until somebody came?", "The senior was in theatre; nights have a second one now"),
    ("Was the heart rate looked at every hour?", "There are gaps in the record, and we say so"),
    ("Could the birth have been earlier?", None),
)
_IN_SIGHT = 0.9  # share of a drawn fall without artefact, from which the meeting sees it on the strip
_ARTEFACT_BPM = 40.0  # a fall this deep that nobody drew came of the sensor, a shallower one of where the baseline lay
_CALLED = {"suspicious_persistent": "suspicious"}  # every other trigger belongs to the worst category


@dataclass(frozen=True)
class Held:
    """What the meetings entered, counted."""

    agenda: int
    drawn: int
    clocks: int
    no_concern: int
    moved: int
    struck_out: int
    added: int
    issues: int
    family_questions: int


def hold(db: Path, folder: Path) -> Held:
    """Hold a meeting about every month of the unit that `write_unit` wrote to `folder` and that was analysed.

    Nothing is entered where an agenda stands already, so that a demo made again finds its meetings as they were.
    """
    cases = json.loads((folder / "truth" / "truth.json").read_text(encoding="utf-8"))["cases"]
    months = sorted({str(case["period"]) for case in cases})
    if any(agenda.items(db, month) for month in months):
        return Held(*(0 for _ in Held.__dataclass_fields__))
    with published.open_for_reading(published.required(db)) as con:
        delays = records(con, "response/delays", {"period": None, "standard": STANDARD, "case_id": None})
        computed = {row["case_id"]: row["status"] not in DELAYED for row in reversed(delays)}  # late ones come first
        chosen = {month: _chosen([case for case in cases if case["period"] == month], computed) for month in months}
        moved = _moved(con, settings_for(db), {case["case_id"]: case for case in cases})
        every = {month: to_draw_from(con, settings_for(db), month) for month in months[SAMPLE_MONTH:][:1]}
        discussed = {case["case_id"] for month in months for case in chosen[month]} | {*moved, *chain(*every.values())}
        marks = {case["case_id"]: _marks(con, case) for case in cases if case["case_id"] in discussed}
    called = _called(folder / "files" / "care_events.csv")
    entered = []
    for month in months:
        own = [case for case in cases if case["period"] == month]
        entered.append(_month(db, month, chosen[month], marks, called))
        entered.append(_unfounded(db, month, [case for case in own if case["case_id"] in moved], marks))
        entered.append(_at_random(db, month, own, every.get(month, []), marks, called))
    return Held(*(sum(getattr(one, name) for one in entered) for name in Held.__dataclass_fields__))


def _chosen(cases: Sequence[dict[str, Any]], computed: dict[str, bool]) -> list[dict[str, Any]]:
    """The cases that a month's meeting takes; `computed` says of each with a concern whether it was met in time."""
    waited = [case for case in cases if _known_s(case) is not None and "no_events" not in case["specials"]]
    waited.sort(key=lambda case: (_SLOWEST_FIRST.index(case["responses"][0]["pace"]), case["case_id"]))
    quiet = [case for case in cases if _known_s(case) is None and case["case_id"] in computed]
    quiet.sort(key=lambda case: (computed[case["case_id"]], case["case_id"]))
    chosen = waited[:MOST_CASES]
    return chosen + [case for case in quiet if "twins" not in case["specials"]][: CLOCKS - len(chosen)]


def _marks(con: Connection, case: dict[str, Any]) -> tuple[Mark, ...]:
    """What the meeting strikes out of a reading and adds to it; nothing where the tracing was not read."""
    place = {"case_id": case["case_id"]}
    if not any(row["fetus"] == "A" and row["state"] == "read" for row in records(con, "case/tracings", place)):
        return ()
    return marks_of(case["fetuses"]["A"], records(con, "case/decelerations", {**place, "fetus": "A"}))


def marks_of(drawn: dict[str, Any], found: Sequence[dict[str, Any]]) -> tuple[Mark, ...]:
    """Falls found where none was drawn, struck out, and those drawn in full sight and not found, added.

    `drawn`: what is true of a fetus, as `Truth.as_document`. `found`: decelerations of its reading: `onset_s`, `end_s`,
    `depth_bpm`.
    """

    def apart(one: dict[str, Any], others: Sequence[dict[str, Any]]) -> bool:
        return not any(one["onset_s"] < other["end_s"] and other["onset_s"] < one["end_s"] for other in others)

    falls = [*drawn["decelerations"], *(one for one in drawn["level_changes"] if one["to_bpm"] < one["from_bpm"])]
    seen = [one for one in drawn["decelerations"] if one["seen_fraction"] >= _IN_SIGHT]
    return (
        *(Mark("struck_out", "deceleration", one["onset_s"], one["end_s"],
               "artefact" if one["depth_bpm"] >= _ARTEFACT_BPM else "baseline_drawn_otherwise")
          for one in found if apart(one, falls)),
        *(Mark("added", "deceleration", one["onset_s"], one["end_s"], "event_not_found", one["kind"])
          for one in seen if apart(one, found)),
    )  # fmt: skip


def _moved(con: Connection, settings: Settings, cases: Mapping[str, dict[str, Any]]) -> set[str]:
    """Cases with nothing planted whose concern under the other standard goes with the falls that nobody drew."""
    found = set()
    for row in records(con, "response/delays", {"period": None, "standard": OTHER, "case_id": None}):
        case = cases[row["case_id"]]
        if row["fetus"] == "A" and not case["responses"] and _stands_on(marks := _marks(con, case), row):
            again = run_again(con, settings, row["case_id"], "A", OTHER, Agreed(marks=marks))
            if not again["rows"]:
                found.add(row["case_id"])
    return found


def _stands_on(marks: Sequence[Mark], episode: dict[str, Any]) -> bool:
    """Whether a fall that is struck out reaches to within a minute of where the concern had to be recognised."""
    at_s = episode["recognisable_s"]
    return any(mark.deed == "struck_out" and mark.start_s <= at_s <= mark.end_s + 60.0 for mark in marks)


def _month(
    db: Path,
    month: str,
    chosen: Sequence[dict[str, Any]],
    marks: dict[str, tuple[Mark, ...]],
    called: dict[str, list[Any]],
) -> Held:
    """What the meeting enters about the cases that it chose, and what it agrees on."""
    for case in chosen:
        agenda.add(db, month, case["case_id"], who="lead", question=_question(case))
    meetings.save(db, month, meetings.Meeting(None, {"obstetrician": 2, "midwife": 3, "neonatologist": 1}), who="chair")
    noted = _discussed(db, month, chosen, marks, called)
    if noted and month == period(CHANGE_MONTH - 2):
        number = actions.add(
            db, month, ACTION, owner_role="labour ward lead", due_period=AIM.from_period or month, who="chair",
            aim=AIM, issue_id=noted[0],
        )  # fmt: skip
        actions.change(db, number, who="chair", period=AIM.from_period or month, state="done")
    asked = _ask(db, month, chosen)
    return replace(_held(chosen, marks), issues=len(noted), family_questions=asked)


def _unfounded(db: Path, month: str, cases: Sequence[dict[str, Any]], marks: Mapping[str, tuple[Mark, ...]]) -> Held:
    """Concerns that stand on what was never there: struck out, and nothing to answer under that standard."""
    for case in cases:
        case_id = case["case_id"]
        agenda.add(db, month, case_id, who="lead", question="Does the concern stand?")
        reason = next(mark.reason for mark in marks[case_id] if mark.deed == "struck_out")
        clock = Agreed(concern=False, reason=reason, marks=marks[case_id])
        agreed.save(db, month, case_id, "A", OTHER, clock, who="chair")
    return replace(_held(cases, marks), moved=len(cases))


def _at_random(
    db: Path,
    month: str,
    cases: Sequence[dict[str, Any]],
    every: Sequence[str],
    marks: dict[str, tuple[Mark, ...]],
    called: dict[str, list[Any]],
) -> Held:
    """Cases drawn at random, decided like the others; left open where the truth is of two, or nothing was recorded."""
    if not every:
        return _held((), marks)
    drawn = agenda.draw(db, month, every, SAMPLE, 1, who="lead")["cases"]
    every_one = [case for case in cases if case["case_id"] in drawn]
    decided = [case for case in every_one if not {"no_events", "twins"} & set(case["specials"])]
    issues_noted = len(_discussed(db, month, decided, marks, called))
    return replace(_held(decided, marks), agenda=len(drawn), drawn=len(drawn), issues=issues_noted)


def _discussed(
    db: Path,
    month: str,
    cases: Sequence[dict[str, Any]],
    marks: Mapping[str, tuple[Mark, ...]],
    called: Mapping[str, list[Any]],
) -> list[int]:
    """The clock of each case and, where something was planted, what was found; the numbers of the issues."""
    noted = []
    for case in cases:
        clock = replace(_clock(case, called.get(case["case_id"], [])), marks=marks[case["case_id"]])
        agreed.save(db, month, case["case_id"], "A", STANDARD, clock, who="chair")
        if _known_s(case) is None:
            continue
        slow = case["responses"][0]["pace"] != "prompt"
        if slow:
            issue = Issue("escalated late", "first stage", "staffing and workload", "possibly avoidable")
            noted.append(issues.add(db, month, case["case_id"], issue, who="chair"))
        learnt = Finding(learning_point="Call when it is seen, not when it is sure")
        findings.save(db, month, case["case_id"], learnt if slow else Finding(went_well="Called early"), who="chair")
    return noted


def _held(cases: Sequence[dict[str, Any]], marks: Mapping[str, tuple[Mark, ...]]) -> Held:
    """Counts of cases with a clock each."""
    deeds = [mark.deed for case in cases for mark in marks[case["case_id"]]]
    return Held(
        agenda=len(cases),
        drawn=0,
        clocks=len(cases),
        no_concern=sum(_known_s(case) is None for case in cases),
        moved=0,
        struck_out=deeds.count("struck_out"),
        added=deeds.count("added"),
        issues=0,
        family_questions=0,
    )


def _question(case: dict[str, Any]) -> str:
    return "Was there anything to answer?" if _known_s(case) is None else "Was the answer soon enough?"


def _ask(db: Path, month: str, chosen: Sequence[dict[str, Any]]) -> int:
    """The family of the first case asks, each month one of three questions; the third is not yet answered."""
    if not chosen:
        return 0
    question, answer = _ASKED[int(month[-2:]) % len(_ASKED)]
    family_questions.add(db, month, chosen[0]["case_id"], question, answer=answer, who="lead")
    return 1


def _known_s(case: dict[str, Any]) -> float | None:
    """When the first planted pattern could be recognised under the meeting's standard."""
    if not case["responses"]:
        return None
    found = [at for name, at in case["responses"][0]["recognisable_s"].items() if name.startswith(STANDARD)]
    return min(found, default=None)


def _clock(case: dict[str, Any], events: Sequence[tuple[float, str]]) -> Agreed:
    known = _known_s(case)
    if known is None:
        return Agreed(concern=False, reason="kind_of_event")
    planted = case["responses"][0]
    own = {name: at for name, at in planted["recognisable_s"].items() if name.startswith(STANDARD)}
    trigger = min(own, key=lambda name: own[name]).partition("/")[2]
    first = None if planted["response_s"] is None else (planted["response_s"], planted["response_event"])
    senior = next(((at, event) for at, event in events if event in _SENIOR and at >= planted["pattern_start_s"]), None)
    return Agreed(
        concern=True,
        category=_CALLED.get(trigger, "pathological"),
        from_s=_minute(planted["pattern_start_s"]),
        recognisable_s=max(_minute(known), _minute(planted["pattern_start_s"])),
        first_act_s=None if first is None else float(round(first[0])),
        first_act_event=None if first is None else str(first[1]),
        escalation_s=None if senior is None else senior[0],
        escalation_event=None if senior is None else senior[1],
    )


def _minute(at_s: float) -> float:
    return 60.0 * float(at_s // 60.0)


def _called(file: Path) -> dict[str, list[tuple[float, str]]]:
    """The care events of each case, in order of time."""
    found: dict[str, list[tuple[float, str]]] = {}
    with file.open(encoding="utf-8", newline="") as rows:
        for row in csv.DictReader(rows):
            found.setdefault(row["case_id"], []).append((float(row["at_s"]), row["event"]))
    return {case_id: sorted(events) for case_id, events in found.items()}
