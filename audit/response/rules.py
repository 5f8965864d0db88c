"""The response clock's settings: which triggers, which events count as a response, within what time."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import msgspec

from audit.errors import SettingsError
from audit.response.types import Clock
from audit.setting_types import Count, Minutes, Name, Positive, Share, Table, TargetMinutes, Unfit, dotted
from audit.vocabulary import CATEGORIES, URGENCIES

# The triggers that the standards deliver; any other needs the categories it is made of.
# the end of the wait, and more of what may have caused the concern: never an answer to one
NEVER_ANSWERS = ("birth", "oxytocin_started", "oxytocin_increased")
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


class EventClasses(Table, frozen=True):
    """`[response.events]`: every event that can be recorded, by what it is to a concern."""

    test: tuple[Name, ...]
    conservative: tuple[Name, ...]
    amnioinfusion: tuple[Name, ...]
    escalation: tuple[Name, ...]
    decision: tuple[Name, ...]
    never_counts: tuple[Name, ...]


class InForceMinutes(Table, frozen=True):
    """`[response.decision_in_force]`: how long a decision for birth is in force, by its urgency."""

    urgency_1: Minutes
    urgency_2: Minutes
    urgency_3: Minutes
    urgency_4: Minutes
    not_given: Minutes

    def __post_init__(self) -> None:
        """Refuse a decision that waits the longer the more urgent it is. Raises Unfit."""
        if self.urgency_1 > self.urgency_2:
            raise Unfit("urgency_1", self.urgency_1, f"at most urgency_2 ({self.urgency_2:g} min)")

    def minutes(self, urgency: int | None) -> float:
        """The interval of one urgency, min."""
        return self.not_given if urgency is None else float(getattr(self, f"urgency_{urgency}"))

    @property
    def longest(self) -> float:
        """The longest of them, min."""
        return max(self.minutes(urgency) for urgency in (None, *URGENCIES))


class ChanceSettings(Table, frozen=True):
    """`[response.chance]`: how the share of answers that chance gives is drawn."""

    shifts: Positive
    seed: Count


class ReaderSettings(Table, frozen=True):
    """`[response.readers]`: the clocks that readers' reads start."""

    target_minutes: TargetMinutes
    counts: tuple[Name, ...]  # classes or events
    decided_by: Clock
    must_be_blind: bool
    categories: tuple[Name, ...]


class TriggerSettings(Table, frozen=True, kw_only=True):
    """One table of `[response.triggers]`; `categories` and `for_minutes` make a trigger of the unit's own."""

    target_minutes: TargetMinutes
    counts: tuple[Name, ...]  # classes or events
    decided_by: Clock = "first_act"
    in_use: bool = True
    source: str = ""
    categories: tuple[Name, ...] = ()
    for_minutes: Minutes = 0.0


@dataclass(frozen=True)
class TriggerRule:
    """One trigger under one standard: its target, its deciding clock and the events that count as a response."""

    standard: str
    trigger: str
    target_minutes: float
    counts: frozenset[str]  # event names
    decided_by: Clock = "first_act"
    in_use: bool = True
    source: str = ""
    categories: tuple[str, ...] = ()  # a unit's own trigger: these categories, ...
    for_minutes: float = 0.0  # ... without a break for so long


class ResponseSettings(Table, frozen=True, dict=True):
    """The table `[response]` with its tables `events`, `readers` and `triggers`; see the comments in the file."""

    end_after_clear_minutes: Minutes
    finding_gap_minutes: Minutes
    at_start_minutes: Minutes
    after_end_minutes: Minutes
    tracing_end_grace_minutes: Minutes
    note_rounding_minutes: Minutes
    assessed_from_fraction: Share
    order_tolerance_minutes: Minutes
    operative_modes: tuple[Name, ...]
    never_after_birth: tuple[Name, ...]
    decision_in_force: InForceMinutes
    chance: ChanceSettings
    events: EventClasses
    readers: ReaderSettings
    triggers: dict[str, TriggerSettings]

    def __post_init__(self) -> None:
        """Refuse classes, events, categories and triggers that mean nothing. Raises Unfit."""
        listed = [event for events in self.event_classes.values() for event in events]
        _all_of("never_after_birth", self.never_after_birth, listed, "an event listed in a class")
        for event in NEVER_ANSWERS:
            for name, events in self.event_classes.items():
                if event in events and name != "never_counts":
                    raise Unfit(f"events.{name}", event, "events that may answer a concern")
        # the first of each standard is normal, the last nothing that could be said
        every = [category for categories in CATEGORIES.values() for category in categories[1:-1]]
        one = f"one of {', '.join(dict.fromkeys(every))}"
        if not self.readers.categories:
            raise Unfit("readers.categories", [], one)
        _all_of("readers.categories", self.readers.categories, every, one)
        self._check_counts("readers", self.readers.counts)
        for name, trigger in self.triggers.items():
            self._check_trigger(dotted("triggers", name), name, trigger)

    def _check_trigger(self, where: str, name: str, trigger: TriggerSettings) -> None:
        standard, _, short = name.partition("/")
        if not short or standard not in CATEGORIES:
            raise Unfit(where, name, 'a standard and a name, such as "nichd-2008/category_iii"')
        self._check_counts(where, trigger.counts)
        known = CATEGORIES[standard][1:-1]
        _all_of(f"{where}.categories", trigger.categories, known, f"one of {', '.join(known)}")
        if (standard, short) not in BUILT_IN and not trigger.categories:
            raise Unfit(f"{where}.categories", [], "categories and for_minutes, since the trigger is the unit's own")

    def _check_counts(self, where: str, counts: tuple[str, ...]) -> None:
        classes = self.event_classes
        known = [*classes, *(event for events in classes.values() for event in events)]
        expected = f"a class ({', '.join(classes)}) or an event listed in one"
        if not counts:
            raise Unfit(f"{where}.counts", [], expected)
        _all_of(f"{where}.counts", counts, known, expected)
        if never := self._events(counts) & {*NEVER_ANSWERS}:
            raise Unfit(f"{where}.counts", min(never), "events that may answer a concern")
        if not self._events(counts):
            raise Unfit(f"{where}.counts", list(counts), "a class with at least one event: nothing could answer")

    @cached_property
    def event_classes(self) -> dict[str, frozenset[str]]:
        """The events of each class, by the class's name."""
        return {name: frozenset(events) for name, events in msgspec.structs.asdict(self.events).items()}

    @cached_property
    def operative_words(self) -> frozenset[str]:
        """The words of an operative mode of birth, in lower case."""
        return frozenset(word.lower() for word in self.operative_modes)

    @cached_property
    def rules(self) -> Mapping[tuple[str, str], TriggerRule]:
        """The rule of each trigger, by standard and name."""
        found = {}
        for name, trigger in self.triggers.items():
            standard, _, short = name.partition("/")
            values = {**msgspec.structs.asdict(trigger), "counts": self._events(trigger.counts)}
            found[standard, short] = TriggerRule(standard, short, **values)
        return found

    @cached_property
    def reader(self) -> TriggerRule:
        """The rule of the clocks that reads start."""
        readers = self.readers
        counts = self._events(readers.counts)
        return TriggerRule("", "reader", readers.target_minutes, counts, readers.decided_by)

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

    def _events(self, counts: tuple[str, ...]) -> frozenset[str]:
        return frozenset().union(*(self.event_classes.get(name, {name}) for name in counts))


def _all_of(key: str, found: tuple[str, ...], known: list[str] | tuple[str, ...], expected: str) -> None:
    for name in found:
        if name not in known:
            raise Unfit(key, name, expected)
