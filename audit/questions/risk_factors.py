"""Risk factors beside the cases of a list, and the list narrowed by one: shown and chosen by, never weighed."""

from collections.abc import Mapping, Sequence

from audit.errors import one_of
from audit.store import database
from audit.store.database import Record, records
from audit.vocabulary import RISK_FACTORS

LISTS = ("cases", "left_out", "others")
NONE = "none"
CHOICES = (*RISK_FACTORS, NONE)


def given(con: database.Connection, period: str | None) -> dict[str, list[str]]:
    """Case to its risk factors; empty = none, and a case of which nothing was said is left out."""
    return {
        row["case_id"]: row["risk_factors"].split() for row in records(con, "find/risk_factors", {"period": period})
    }


def beside(found: Mapping[str, Sequence[Record]], risks: Mapping[str, list[str]]) -> None:
    """Put `risk_factors` into every entry of the lists: coded words, empty = none, None = not given."""
    for name in LISTS:
        for entry in found[name]:
            entry["risk_factors"] = risks.get(entry["case_id"])


def only_with(found: Record, factor: str) -> Record:
    """The document of `find` with the cases alone that have a risk factor, or `none`; scores and places stay.

    Raises UsageError for a word that is none of them.
    """
    one_of("risk factor", factor, CHOICES)
    kept = {name: [row for row in found[name] if has(row["risk_factors"], factor)] for name in LISTS}
    return {**found, **kept, "risk_factor": factor}


def has(risks: Sequence[str] | None, factor: str) -> bool:
    """Whether a case has the factor; `none` asks for those of which it was said that they have none."""
    return risks is not None and (factor in risks or (factor == NONE and not risks))
