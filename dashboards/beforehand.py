"""What pages ask of the newest copy while nothing was chosen, asked once before anybody opens them.

Only what tells of no outcome. A page that is opened meanwhile waits for the same answer instead of working it out too.
"""

from collections.abc import Callable

from audit import house_style
from audit.agreement.scales import ITEMS
from audit.questions.agreement import Question
from audit.store import published
from dashboards import action_data, bedside_data, data
from dashboards.over_time import trends_parts


def newest() -> str | None:
    """Which copy is in force, from its record alone; None before there is one."""
    db = data.database()
    record = None if db is None else published.record_of(db)
    return None if record is None else record.copy


def work_out(is_over: Callable[[], bool] = lambda: False) -> None:
    """Ask, in the order of the menu, until it is over. Raises AuditError where pages would say why no answer is."""
    house_style.use(house_style.of(data.settings().locale))
    months = data.months()
    if not months or data.copy() is None:
        return
    month, standard = months[0], data.settings().trends.standard
    questions: list[Callable[[], object]] = [
        lambda: data.out_of_date(month),
        lambda: data.discuss(month, with_outcome=False),
        lambda: data.rows("month/counts", period=month),
        lambda: data.rows("month/statuses", period=month),
        lambda: data.rows("month/categories", period=month),
        lambda: data.rows("month/hidden", period=month),
        lambda: data.delays(month, standard),
        lambda: data.trends(standard, with_outcome=False),
        lambda: _first_case(month, standard),
        lambda: bedside_data.also_to_learn_from(month, with_outcome=False),
        lambda: bedside_data.bedside(month),
        lambda: bedside_data.wait_parts(month, standard),
        lambda: bedside_data.oxytocin(month, standard),
        lambda: _agreement(month),
        lambda: _charts(standard),
        lambda: data.rows("data_quality/missing", period=month),
        lambda: bedside_data.presets(month, with_outcome=False),
    ]
    for ask in questions:
        if is_over():
            return
        ask()


def _first_case(month: str, standard: str) -> None:
    """The strip with which the page of a case opens."""
    listed = data.discuss(month, with_outcome=False)["cases"]
    case = data.case_file(listed[0]["case_id"], None) if listed else None
    if case is not None:
        data.strip_payload(case.case_id, case.fetus, standard)


def _agreement(month: str) -> None:
    used = data.standards(month)
    if not used:
        return
    asked = Question(used[0], ITEMS[0], month)
    for answer in (data.document, data.apart, data.leanings, data.by_month, data.hindsight):
        answer(asked)


def _charts(standard: str) -> None:
    done = action_data.actions_taking_effect(standard)
    for measure in data.trends(standard, with_outcome=False)["measures"]:
        trends_parts.pictures_of(dict(measure), done)
