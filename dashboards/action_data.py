"""What waits before a meeting, and what became of the measures that actions should move; see `dashboards/data.py`."""

import pandas as pd

from audit.people import actions
from audit.questions import to_do as people_waiting
from audit.questions.action_effects import effects, said
from audit.store.database import Record
from dashboards import data, place


def waiting(period: str) -> pd.DataFrame:
    """What waits for somebody; what people write is read at once, not from a cache."""
    month = None if period in (data.NO_MONTH, data.ALL_MONTHS) else period
    return data.frame(people_waiting.waiting(place.there(), month, action_effects(month) if month else ()))


def actions_taking_effect(standard: str) -> list[tuple[str, str]]:
    """Month and words of each action: the month named for its effect, else that in which it was called done.

    Whether its measure moved is told up to the newest month, under the standard chosen.
    """
    db = data.database()
    newest = max((month for month in data.months() if month != data.NO_MONTH), default=None)
    became = {row["action_id"]: row["verdict"] for row in action_effects(newest, standard)} if newest else {}
    every = [row for row in actions.everything(db) if row["state"] != "dropped"] if db is not None else []
    dated = [(row["from_period"] or (row["closed_period"] if row["state"] == "done" else None), row) for row in every]
    return sorted((month, said(row, became.get(row["action_id"]))) for month, row in dated if month)


def action_effects(period: str, standard: str | None = None) -> list[Record]:
    """What became of the measures that actions agreed up to a month should move; nothing where none names one.

    `standard` : None = as the settings say.
    """
    db, options = data.database(), data.settings().trends
    named = actions.with_measure(db, period) if db is not None else []
    if not named:
        return []
    measures = data.trends(standard or options.standard, with_outcome=False)["measures"]
    return effects(measures, named, period, level=options.interval_level)
