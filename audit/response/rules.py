"""The response clock's settings, typed and checked: which triggers, which events count, within what time."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audit.errors import SettingsError

# The triggers that the standards deliver; any other needs the categories it is made of.
BUILT_IN = frozenset(
    {
        ("nichd-2008", "prolonged_deceleration"),
        ("nichd-2008", "category_iii"),
        ("nichd-2008", "category_ii_persistent"),
        ("nichd-2008", "tachysystole_with_decelerations"),
        ("figo-2015", "pathological"),
        ("figo-2015", "suspicious_persistent"),
        ("figo-2015", "prolonged_deceleration"),
        ("nice-ng229", "pathological"),
        ("nice-ng229", "suspicious_persistent"),
        ("nice-ng229", "urgent_review"),
    }
)

_RULE_KEYS = {
    "target_minutes": float,
    "lead_minutes": float,
    "counts": list,
    "in_use": bool,
    "source": str,
    "categories": list,
    "for_minutes": float,
}


@dataclass(frozen=True)
class TriggerRule:
    """One trigger under one standard: its target, its lead window and the events that count as a response."""

    standard: str
    trigger: str
    target_minutes: float
    lead_minutes: float
    counts: frozenset[str]  # event names
    in_use: bool = True
    source: str = ""
    categories: tuple[str, ...] = ()  # a unit's own trigger: these categories, ...
    for_minutes: float = 0.0  # ... without a break for so long


@dataclass(frozen=True)
class ResponseSettings:
    """Everything the clock needs to know; see the comments in `settings.toml`."""

    end_after_clear_minutes: float
    short_episode_minutes: float
    flicker_gap_minutes: float
    after_end_minutes: float
    tracing_end_grace_minutes: float
    decision_in_force_minutes: float
    escalation_in_force_minutes: float
    order_tolerance_minutes: float
    operative_modes: frozenset[str]
    never_after_birth: frozenset[str]
    event_classes: Mapping[str, frozenset[str]]
    rules: Mapping[tuple[str, str], TriggerRule]
    reader: TriggerRule
    reader_must_be_blind: bool
    reader_categories: frozenset[str]

    def rule(self, standard: str, trigger: str) -> TriggerRule:
        """The rule of one trigger. Raises SettingsError when the settings hold none."""
        if trigger == self.reader.trigger:
            return self.reader
        try:
            return self.rules[standard, trigger]
        except KeyError:
            raise SettingsError(
                f'response.triggers: found no entry "{standard}/{trigger}"; add one with target_minutes and counts'
            ) from None

    def events_of(self, *names: str) -> frozenset[str]:
        """The events of the named classes."""
        return frozenset().union(*(self.event_classes[name] for name in names))


def response_settings(table: Mapping[str, Any]) -> ResponseSettings:
    """Read the settings table `response` with its tables `events`, `readers` and `triggers`.

    Raises SettingsError, naming the key, for a class or event that does not exist, a key that means nothing, or a
    time below zero.
    """
    classes = {name: frozenset(events) for name, events in table["events"].items()}
    readers = table["readers"]
    minutes = {key: _minutes(table[key], f"response.{key}") for key in _BASE_MINUTES}
    return ResponseSettings(
        **minutes,
        operative_modes=frozenset(mode.lower() for mode in table["operative_modes"]),
        never_after_birth=frozenset(table["never_after_birth"]),
        event_classes=classes,
        rules=_rules(table, classes),
        reader=_rule(
            "",
            "reader",
            {key: readers[key] for key in ("target_minutes", "lead_minutes", "counts")},
            classes,
            "response.readers",
        ),
        reader_must_be_blind=bool(readers["must_be_blind"]),
        reader_categories=frozenset(readers["categories"]),
    )


_BASE_MINUTES = (
    "end_after_clear_minutes",
    "short_episode_minutes",
    "flicker_gap_minutes",
    "after_end_minutes",
    "tracing_end_grace_minutes",
    "decision_in_force_minutes",
    "escalation_in_force_minutes",
    "order_tolerance_minutes",
)


def _rules(table: Mapping[str, Any], classes: Mapping[str, frozenset[str]]) -> dict[tuple[str, str], TriggerRule]:
    rules: dict[tuple[str, str], TriggerRule] = {}
    for name, values in table["triggers"].items():
        where = f'response.triggers."{name}"'
        standard, _, trigger = name.partition("/")
        if not trigger:
            raise SettingsError(f'{where}: expected a name such as "nichd-2008/category_iii"')
        rule = _rule(standard, trigger, values, classes, where)
        if (standard, trigger) not in BUILT_IN and not rule.categories:
            raise SettingsError(f"{where}: a trigger of your own needs categories and for_minutes")
        rules[standard, trigger] = rule
    return rules


def _rule(
    standard: str, trigger: str, values: Mapping[str, Any], classes: Mapping[str, frozenset[str]], where: str
) -> TriggerRule:
    for key, value in values.items():
        if key not in _RULE_KEYS:
            raise SettingsError(f"{where}.{key}: unknown key; expected one of {', '.join(_RULE_KEYS)}")
        kind = _RULE_KEYS[key]
        if kind is not float and not isinstance(value, kind):
            raise SettingsError(f"{where}.{key}: found {value!r}, expected {kind.__name__}")
    for key in ("target_minutes", "counts"):
        if key not in values:
            raise SettingsError(f"{where}: {key} is missing")
    known = frozenset().union(*classes.values())
    counts: set[str] = set()
    for entry in values["counts"]:
        if entry in classes:
            counts |= classes[entry]
        elif entry in known:
            counts.add(entry)
        else:
            raise SettingsError(
                f"{where}.counts: found {entry!r}, expected a class ({', '.join(classes)}) or an event listed in one"
            )
    return TriggerRule(
        standard=standard,
        trigger=trigger,
        target_minutes=_minutes(values["target_minutes"], f"{where}.target_minutes"),
        lead_minutes=_minutes(values.get("lead_minutes", 0.0), f"{where}.lead_minutes"),
        counts=frozenset(counts),
        in_use=values.get("in_use", True),
        source=values.get("source", ""),
        categories=tuple(values.get("categories", ())),
        for_minutes=_minutes(values.get("for_minutes", 0.0), f"{where}.for_minutes"),
    )


def _minutes(value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 24 * 60:
        raise SettingsError(f"{where}: found {value!r}, expected minutes from 0 to 1440")
    return float(value)
