"""Which cases each weighting of the reasons would list, side by side, for a unit to choose from. Pure."""

from collections.abc import Sequence
from dataclasses import replace

from msgspec.structs import replace as with_changes

from audit.questions.cases_to_discuss import judge
from audit.questions.reason_types import Rules
from audit.setting_tables.find import AS_SET
from audit.store.database import Record


def names_of(rules: Rules) -> list[str]:
    """The points as they are set, then every preset by name in the order of the settings."""
    return [AS_SET, *rules.find.presets]


def side_by_side(fetuses: Sequence[Record], episodes: Sequence[Record], rules: Rules, *, with_outcome: bool) -> Record:
    """What each preset would list.

    `fetuses`, `episodes`, `rules`, `with_outcome`: as in `cases_to_discuss.judge`.
    Gives document: `in_force`, name of the weighting in force; `listed`, name to how many cases it lists; `cases`, one
    row per case that any of them lists: case_id, `first` (listed first under each, for a death, cooling or
    encephalopathy) and `places`, name to its place in that list from 1 or None, best place first.

    The factors are our choice; a case listed first is so under every weighting, whatever its points.
    """
    lists = {
        name: judge(
            fetuses, episodes, replace(rules, find=with_changes(rules.find, weights=name)), with_outcome=with_outcome
        )["cases"]
        for name in names_of(rules)
    }
    places = {name: {case["case_id"]: k for k, case in enumerate(cases, 1)} for name, cases in lists.items()}
    first = {case["case_id"] for cases in lists.values() for case in cases if case["always_first"]}
    rows: list[Record] = [
        {"case_id": case_id, "first": case_id in first, "places": {name: places[name].get(case_id) for name in places}}
        for case_id in sorted({case_id for found in places.values() for case_id in found})
    ]
    rows.sort(key=lambda row: sorted(place for place in row["places"].values() if place is not None))
    return {
        "in_force": rules.find.weights,
        "listed": {name: len(cases) for name, cases in lists.items()},
        "cases": rows,
    }
