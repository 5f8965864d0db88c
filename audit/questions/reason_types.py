"""What a reason for discussing a case is, and the settings that reasons need."""

from collections.abc import Mapping
from dataclasses import dataclass
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


@dataclass(frozen=True)
class Rules:
    """The settings tables that the reasons need."""

    find: FindOptions
    cord_gas: CordGasLimits

    @property
    def points(self) -> ReasonPoints:
        """Points by kind of reason."""
        return self.find.points
