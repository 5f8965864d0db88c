"""What a reason for discussing a case is, and the settings that reasons need."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from audit.measures.cord_gas import CordGasLimits
from audit.setting_tables.find import FindOptions, ReasonPoints

Record = Mapping[str, Any]


@dataclass(frozen=True)
class Reason:
    """One reason, with the value behind it and its points; `of_outcome` reasons stay hidden from blind readers."""

    kind: str
    text: str
    value: float | None
    points: float
    of_outcome: bool = False


# what a reason speaks of, and so by which factor of a preset its points are multiplied
GROUP_OF = {
    "late_response": "process",
    "no_response": "process",
    "oxytocin_during_concern": "process",
    "died": "outcome",
    "cooled": "outcome",
    "encephalopathy": "outcome",
    "seizures": "outcome",
    "acidosis": "outcome",
    "vein_acidosis": "outcome",
    "high_lactate": "outcome",
    "low_apgar": "outcome",
    "neonatal_unit_admission": "outcome",
    "transferred": "outcome",
    "bradycardia": "process",
    "maternal_rate": "record",
    "high_burden": "teaching",
    "readers_apart": "teaching",
    "bad_outcome_unremarkable_tracing": "teaching",
    "good_outcome_pathological_tracing": "teaching",
    "cord_gas_pair": "record",
    "signal_loss": "record",
    "tracing_stops": "record",
    "record_gap": "record",
}


@dataclass(frozen=True)
class Rules:
    """The settings tables that the reasons need."""

    find: FindOptions
    cord_gas: CordGasLimits

    @property
    def points(self) -> ReasonPoints:
        """Points by kind of reason."""
        return self.find.points

    def weighted(self, reason: Reason) -> Reason:
        """The same reason with the points that the weighting in force gives it."""
        factor = getattr(self.find.weights_in_force, GROUP_OF[reason.kind])
        return replace(reason, points=round(factor * reason.points, 6))

    @property
    def most_from_outcome(self) -> float:
        """Points that all reasons of one newborn's outcome together may give under the weighting in force."""
        return self.find.most_from_outcome * self.find.weights_in_force.outcome
