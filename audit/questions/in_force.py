"""What is in force in this unit: its own settings beside the packaged ones, and where it leaves a published table."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any

from audit import words
from audit.setting_types import dotted
from audit.settings import Settings, load_settings
from audit.standards.registry import GuidelineRow, departures, guideline_rows


def own_settings(settings: Settings) -> list[dict[str, Any]]:
    """Every key that the unit's file sets, in the file's order, beside the packaged value; None = there is none."""
    now, packaged = dict(_leaves(settings.tables)), dict(_leaves(load_settings().tables))
    return [
        {"key": key, "in_force": now[key], "packaged": packaged.get(key)}
        for name in settings.overridden
        for key in now
        if _within(key, name)
    ]


def all_departures(settings: Settings) -> list[GuidelineRow]:
    """The limits in which the unit leaves a published figure, standard by standard."""
    return [row for name, table in settings.of_standards.items() for row in departures(name, table)]


def departure_lines(settings: Settings) -> list[str]:
    """The same in words, one sentence a limit; one sentence that says so where there is none."""
    found = [
        f"{words.standard_name(row.standard)}, {row.says}: {row.in_force} {row.unit} in force,"
        f" {row.published} published ({row.source})."
        for row in all_departures(settings)
    ]
    return found or ["Departures from the published tables of the standards: none."]


def published_table(settings: Settings, standard: str) -> list[dict[str, Any]]:
    """Every limit of one standard: what is in force, what was published and where."""
    return [
        {**asdict(row), "departs": row.departs} for row in guideline_rows(standard, settings.of_standards[standard])
    ]


def clock_rules(settings: Settings) -> list[dict[str, Any]]:
    """The response clock's rule for every trigger, with its source."""
    return [
        {
            "standard": rule.standard,
            "trigger": rule.trigger.replace("_", " "),
            "in_use": rule.in_use,
            "target_minutes": rule.target_minutes,
            "decided_by": rule.decided_by.replace("_", " "),
            "counts": ", ".join(sorted(event.replace("_", " ") for event in rule.counts)),
            "source": rule.source,
        }
        for rule in settings.response.rules.values()
    ]


def _leaves(table: Mapping[str, Any], where: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        name = dotted(where, key)
        if isinstance(value, Mapping):
            yield from _leaves(value, name)
        else:
            yield name, ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def _within(key: str, name: str) -> bool:
    return key == name or key.startswith(f"{name}.")
