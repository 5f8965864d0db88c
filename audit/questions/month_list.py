"""Every case of a month on one list that can be narrowed, so that each number of a page leads to the cases behind it.

Without outcomes nothing of the list depends on how a newborn was: it rests on `cases_to_discuss` asked without them, is
in the order of the case ids, and its facets hold none.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from audit import words
from audit.questions import counted
from audit.questions.cases_to_discuss import fetuses_of
from audit.questions.outcome_reasons import outcome_reasons
from audit.questions.reason_types import Rules
from audit.response.agreed import DELAYED
from audit.settings import Settings
from audit.store import database
from audit.store.database import Record, records

# by what a list is narrowed, with the words above the choice; the names stand in addresses
OF_CASE = {
    "list": "List",
    "shift": "Shift",
    "mode": "Mode of birth",
    "risk": "Risk factor",
    "category": "Worst category",
    "any_category": "Category of any minute",
    "lacks": "Missing",
}
OF_CONCERN = {"trigger": "Concern", "answer": "How it was answered", "stage": "Stage of labour"}
OUTCOME = {"outcome": "Outcome"}
# where a figure led here: of `counted`
COUNTED = {"counted": "Counted among", "step": "Step of the wait", "act": "Act judged", "file": "Came from"}
_OF_ONE = (*OF_CONCERN, "step")  # what must hold for one and the same concern
ANY, NO_CONCERN, NOT_GIVEN, NONE = "any concern", "no concern", "not given", "none"
DELAYED_WORDS = "late or no response"
AT_START = "already there when the recording began"
NOT_RECORDED, NOTHING_OF_IT = "not recorded", "none of these"


def document(
    con: database.Connection,
    settings: Settings,
    discussed: Record,
    *,
    period: str | None,
    standard: str,
    figures: Collection[str] = (),
) -> list[Record]:
    """Every case of a month with the list it is on, why, and what it can be found by.

    `discussed`: the document of `cases_to_discuss` of that period; asked without outcomes, the list has none either.
    `period`: month of birth, YYYY-MM; None = all. `standard`: whose concerns and categories count. `figures`: names of
    COUNTED that are asked for, each of which takes a little longer.
    Gives rows: case_id, period, list, reason, `facets` (name of OF_CASE, OUTCOME or COUNTED -> values in words) and
    `concerns` (one per episode: name of OF_CONCERN, or `step` -> values in words), by case id.
    """
    facts = records(con, "find/case_facts", {"period": period})
    episodes = records(con, "response/delays", {"period": period, "standard": standard, "case_id": None})
    outcomes: dict[str, list[str]] = {}
    if discussed["with_outcome"]:
        rules = Rules(settings.find, settings.cord_gas)
        outcomes = outcomes_of(fetuses_of(con, settings.find, period), rules)
    if "step" in figures:
        steps = counted.steps_of(con, settings, period=period, standard=standard)
        episodes = [{**row, "steps": steps.get(counted.concern(row), [])} for row in episodes]
    found = entries(discussed, facts, episodes, standard=standard, outcomes=outcomes)
    for name, of in (("counted", counted.of_cases), ("act", counted.acts_of), ("file", counted.files_of)):
        if name in figures:
            among = of(con, settings, period=period, standard=standard)
            for row in found:
                row["facets"][name] = among.get(row["case_id"], [NONE])
    return found


def entries(
    discussed: Record,
    facts: Sequence[Record],
    episodes: Sequence[Record],
    *,
    standard: str,
    outcomes: Mapping[str, Sequence[str]],
) -> list[Record]:
    """The list of `document`.

    `discussed`: as there. `facts`: rows of `find/case_facts`. `episodes`: rows of `response/delays` of the standard.
    `outcomes`: of `outcomes_of`; empty while they are hidden.
    Gives rows: as of `document`.
    """
    placed = _places(discussed)
    concerns: dict[str, list[Record]] = defaultdict(list)
    for row in episodes:
        concerns[row["case_id"]].append(_concern(row))
    found = []
    for row in facts:
        case_id = row["case_id"]
        place, why = placed.get(case_id, ("nothing to discuss", ""))
        facets = {
            "list": [place],
            "shift": [words.words(row["shift"] or NOT_GIVEN)],
            "mode": [words.words(row["mode_of_birth"] or NOT_GIVEN)],
            "risk": _risks(row["risk_factors"]),
            "category": _under(standard, row["worst"]),
            "any_category": _under(standard, row["seen"]),
            "lacks": row["lacks"] or [NONE],
        }
        if outcomes:
            facets["outcome"] = list(outcomes.get(case_id, [NOT_RECORDED]))
        none = {name: [NO_CONCERN] for name in (*OF_CONCERN, "step")}
        found.append(
            {
                "case_id": case_id,
                "period": row["period"],
                "list": place,
                "reason": why,
                "facets": facets,
                "concerns": concerns.get(case_id, [none]),
            }
        )
    return found


def _places(discussed: Record) -> dict[str, tuple[str, str]]:
    found: dict[str, tuple[str, str]] = {}
    cases, left_out, others = (discussed[name] for name in ("cases", "left_out", "others"))
    for case in cases:
        texts = "; ".join(reason["text"] for reason in case["reasons"])
        found[case["case_id"]] = ("to discuss", f"score {case['score']:g}: {texts}")
    found |= {row["case_id"]: ("left out", row["reason"]) for row in left_out}
    return found | {row["case_id"]: (row["list"], row["reason"]) for row in others}


def _concern(row: Record) -> Record:
    answer = [words.status_words(row["status"])]
    if row["status"] in DELAYED:
        answer.append(DELAYED_WORDS)
    if row["at_start"]:
        answer.append(AT_START)
    return {
        "trigger": [words.words(row["trigger"]), ANY],
        "answer": answer,
        "stage": [words.words(row["stage"] or NOT_GIVEN)],
        **({"step": row["steps"]} if "steps" in row else {}),
    }


def _under(standard: str, named: Sequence[str]) -> list[str]:
    return [name.removeprefix(f"{standard} ") for name in named if name.startswith(f"{standard} ")]


def _risks(coded: str | None) -> list[str]:
    if coded is None:
        return [NOT_GIVEN]
    return [words.words(name) for name in coded.split()] or [NONE]


def outcomes_of(fetuses: Sequence[Record], rules: Rules) -> dict[str, list[str]]:
    """What became of the newborns of each case, in words.

    `fetuses`: rows of the query `find/cases`. `rules`: the limits of the settings.
    Gives outcomes: case id -> kinds of `outcome_reasons` in words; `none of these`; `not recorded`.
    """
    found: dict[str, dict[str, None]] = defaultdict(dict)
    for row in fetuses:
        kinds = [words.words(reason.kind) for reason in outcome_reasons(row, rules)]
        nothing = NOTHING_OF_IT if row["has_outcome"] else NOT_RECORDED
        found[row["case_id"]] |= dict.fromkeys(kinds or [nothing])
    return {case_id: list(kinds) for case_id, kinds in found.items()}


def options(listed: Sequence[Record], name: str) -> list[str]:
    """The values that a list can be narrowed to by a name, in order."""
    if name in _OF_ONE:
        return sorted({value for row in listed for concern in row["concerns"] for value in concern.get(name, [])})
    return sorted({value for row in listed for value in row["facets"].get(name, [])})


def born(listed: Sequence[Record], first: str | None, last: str | None) -> list[Record]:
    """The cases of a span of months, both included; None leaves an end open, and without a month is in no span."""
    if first is None and last is None:
        return list(listed)
    return [row for row in listed if row["period"] and (first or "") <= row["period"] <= (last or row["period"])]


def chosen(listed: Sequence[Record], wanted: Mapping[str, str]) -> list[Record]:
    """The cases that have every wanted value; what is asked of a concern must hold for one and the same."""
    of_concern = {name: value for name, value in wanted.items() if name in _OF_ONE}
    of_case = {name: value for name, value in wanted.items() if name not in _OF_ONE}
    return [
        row
        for row in listed
        if _has(row["facets"], of_case) and any(_has(concern, of_concern) for concern in row["concerns"])
    ]


def _has(values: Mapping[str, Sequence[str]], wanted: Mapping[str, str]) -> bool:
    return all(value in values.get(name, ()) for name, value in wanted.items())
