"""The stages in which one tracing is read, what each is given, and which of them a change makes due again.

Reading, then the categories of each standard, then the clock; beside them the readers' windows, the second reading and
the burden. A stage is known by the hash of its code and of all that it is given: its facts and settings, and the hashes
of the stages before it. What has the same hash is not worked out again; its rows stay, and what later stages need of it
is kept.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

from audit.analysis.kept import layout
from audit.analysis.made_by import code_sha256
from audit.setting_types import plain
from audit.settings import AnalysisSettings
from audit.standards.registry import FORMER_STANDARDS, STANDARDS

READING, SECOND_READING, BURDEN, CLOCK = "reading", "second_reading", "burden", "clock"
OF_STANDARDS = tuple(STANDARDS)
# readers' windows under each standard, by its name; under a former one, those that were read by it
WINDOWS = {name: f"windows {name}" for name in (*STANDARDS, *FORMER_STANDARDS)}
EVERY = (READING, *OF_STANDARDS, *WINDOWS.values(), SECOND_READING, BURDEN, CLOCK)
# what a stage is built on: those it needs are read from what they kept, where they are not due themselves
NEEDS: dict[str, tuple[str, ...]] = {
    READING: (),
    **dict.fromkeys(OF_STANDARDS, (READING,)),
    **dict.fromkeys(WINDOWS.values(), (READING,)),
    SECOND_READING: (READING,),
    BURDEN: (READING,),
    CLOCK: OF_STANDARDS,
}
_OF_STANDARD = ("gestation_weeks", "second_stage_s", "period")
# The facts of the case that a stage may see; None = all. A stage is given no others, so its hash cannot miss one.
FACTS: dict[str, tuple[str, ...] | None] = {
    READING: ("gestation_weeks", "fhr_sensor", "toco_sensor"),
    **dict.fromkeys(OF_STANDARDS, _OF_STANDARD),
    **dict.fromkeys(WINDOWS.values(), _OF_STANDARD),
    SECOND_READING: _OF_STANDARD,
    BURDEN: ("birth_s", "second_stage_s", "fetuses"),
    CLOCK: None,
}
TABLES: dict[str, tuple[str, ...]] = {
    READING: ("contractions", "decelerations", "accelerations", "level_changes", "epochs"),
    **dict.fromkeys(OF_STANDARDS, ("minute_categories",)),
    **dict.fromkeys(WINDOWS.values(), ("window_categories",)),
    SECOND_READING: ("second_readings", "second_reading_lane", "second_reading_evidence"),
    BURDEN: ("burden",),
    CLOCK: ("concern_episodes", "responses", "reader_clocks", "possible_concerns"),
}
# The rooms whose code makes what a stage finds; that of the stages it is built on goes into its hash with theirs.
CODE: dict[str, tuple[str, ...]] = {
    READING: ("tracing",),
    **dict.fromkeys((*OF_STANDARDS, *WINDOWS.values()), ("standards",)),
    SECOND_READING: ("standards", "second_reading"),
    BURDEN: ("measures",),
    CLOCK: ("response",),
}
DERIVED = tuple(dict.fromkeys(table for stage in EVERY for table in TABLES[stage]))


def facts_for(stage: str, facts: Mapping[str, Any]) -> dict[str, Any]:
    """The facts of the case that the stage may see."""
    names = FACTS[stage]
    return {name: value for name, value in facts.items() if names is None or name in names}


def of_every_standard(facts: Mapping[str, Any]) -> dict[str, Any]:
    """The facts that each standard, the readers' windows and the second reading may see: the same for all."""
    return {name: value for name, value in facts.items() if name in _OF_STANDARD}


def spans_under(standard: str, reads: Iterable[Mapping[str, Any]]) -> list[tuple[float, float]]:
    """The windows that are judged under a standard, by start and end, s: every one that was read by anybody.

    Under a former standard those alone that were read by it.
    """
    former = standard in FORMER_STANDARDS
    spans = {(float(row["start_s"]), float(row["end_s"])) for row in reads if not former or row["standard"] == standard}
    return sorted(spans)


class Given:
    """What the stages of any tracing are given under some settings, as hashes."""

    def __init__(self, settings: AnalysisSettings) -> None:
        self._settings = settings
        self._tables = cache(self._tables_of)  # of few months, asked for once a tracing

    def sha256(
        self,
        *,
        case_id: str,
        leads: bool,
        stretches: str,
        facts: Mapping[str, Any],
        events: list[dict[str, Any]],
        windows: list[dict[str, Any]],
    ) -> dict[str, str]:
        """The hash of what each stage of one tracing is given, by the stage's name, in order."""
        births = [event["at_s"] for event in events if event["event"] == "birth"]
        of_case: dict[str, Any] = {
            READING: (stretches, leads),
            **{stage: spans_under(name, windows) for name, stage in WINDOWS.items()},
            SECOND_READING: [case_id, *((row["start_s"], row["end_s"]) for row in windows)],
            BURDEN: births,
            CLOCK: (case_id, events, windows),
        }
        found: dict[str, str] = {}
        for stage in EVERY:
            if stage == SECOND_READING and not self._settings.second_reading.file:
                found[stage] = _hash_of("not switched on")
                continue
            found[stage] = _hash_of(
                stage,
                self._tables(stage, facts.get("period")),
                facts_for(stage, facts),
                of_case.get(stage),
                [found[name] for name in NEEDS[stage]],
            )
        return found

    def _tables_of(self, stage: str, period: str | None) -> str:
        """What the settings say to a stage, for a month of birth."""
        settings = self._settings
        of_month = settings.of_standards_for(period)
        tables: dict[str, Any] = {
            READING: [settings.tracing],
            SECOND_READING: [settings.validate, settings.second_reading, *settings.of_standards.values()],
            BURDEN: [settings.burden],
            CLOCK: [settings.response],
            **{name: [of_month[name]] for name in OF_STANDARDS},
            **{stage: [of_month[name]] for name, stage in WINDOWS.items()},
        }
        return _hash_of(code_sha256(*CODE[stage]), layout(), [plain(table) for table in tables[stage]])


def due(given: Mapping[str, str], kept: Mapping[str, str]) -> frozenset[str]:
    """The stages that were not done with what they are given now (`given` and `kept`: hashes by stage)."""
    return frozenset(stage for stage in EVERY if kept.get(stage) != given[stage])


def needed(stages: frozenset[str]) -> frozenset[str]:
    """The stages of which those due need what was kept."""
    return frozenset(name for stage in stages for name in NEEDS[stage]) - stages


def from_samples(stages: frozenset[str], settings: AnalysisSettings) -> bool:
    """Whether these stages are given the samples themselves: a second reading reads them again, by phases."""
    return READING in stages or (SECOND_READING in stages and bool(settings.second_reading.file))


def _hash_of(*parts: Any) -> str:
    return hashlib.sha256(json.dumps(parts, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
