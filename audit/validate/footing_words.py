"""What the comparison on equal footing found, as JSON and as lines of text."""

from typing import Any

from audit.agreement.resampling import Estimate
from audit.validate.equal_footing import ClassShares, EqualFooting
from audit.vocabulary import THREE_TIERS

CLASS_NAMES = THREE_TIERS


def footing_json(found: EqualFooting) -> dict[str, Any]:
    """One comparison as a document; numbers that cannot be estimated are null with a note."""
    return {
        "panel": found.panel,
        "windows": found.windows,
        "kappa_linear": estimate_json(found.reading),
        "experts_mean": estimate_json(found.experts),
        "median_expert": estimate_json(found.median_expert),
        "best_expert": {"expert": found.best_name, **estimate_json(found.best_expert)},
        "over_mean_expert": estimate_json(found.over_mean),
        "over_median_expert": estimate_json(found.over_median),
        "over_best_expert": estimate_json(found.over_best),
        "chairs": [
            {
                "expert": name,
                "windows": chair.windows,
                "expert_kappa_linear": estimate_json(chair.expert),
                "computed_kappa_linear": estimate_json(chair.reading),
                "difference": estimate_json(chair.difference),
            }
            for name, chair in found.chairs.items()
        ],
        "classes": [
            {
                "category": name,
                "recall": estimate_json(ours.recall),
                "precision": estimate_json(ours.precision),
                "experts_recall": estimate_json(theirs.recall),
                "experts_precision": estimate_json(theirs.precision),
            }
            for name, ours, theirs in zip(CLASS_NAMES, found.reading_classes, found.expert_classes, strict=True)
        ],
    }


def estimate_json(value: Estimate) -> dict[str, Any]:
    """A figure with its interval."""
    note = {"note": value.note} if value.note else {}
    return {"estimate": value.value, "low": value.low, "high": value.high, **note}


def footing_lines(found: EqualFooting, *, short: bool = False) -> list[str]:
    """The same as text; `short` leaves out the single chairs."""
    lines = [
        _line(f"  against panels of {found.panel}, {found.windows} windows", found.reading),
        _line("  the experts in the same chairs, mean", found.experts),
        _line("  the median expert", found.median_expert),
        _line(f"  the best expert ({found.best_name})", found.best_expert),
        _line("  computed minus mean expert", found.over_mean, signed=True),
        _line("  computed minus median expert", found.over_median, signed=True),
        _line("  computed minus best expert", found.over_best, signed=True),
    ]
    for name, chair in () if short else found.chairs.items():
        words = f"    chair of {name} ({chair.windows} windows): expert {words_of(chair.expert)}"
        lines.append(
            f"{words:<62}computed {words_of(chair.reading)}, difference {words_of(chair.difference, signed=True)}"
        )
    for name, ours, theirs in zip(CLASS_NAMES, found.reading_classes, found.expert_classes, strict=True):
        lines.append(f"    {name:<14}computed {_shares(ours)}; experts {_shares(theirs)}")
    return lines


def _shares(shares: ClassShares) -> str:
    return f"recall {words_of(shares.recall)}, precision {words_of(shares.precision)}"


def _line(name: str, value: Estimate, *, signed: bool = False) -> str:
    return f"{name:<46}{words_of(value, signed=signed)}"


def words_of(value: Estimate, *, signed: bool = False) -> str:
    """An estimate with its interval in words."""
    return interval(value.value, value.low, value.high, "+.3f" if signed else ".2f")


def interval(value: float | None, low: float | None, high: float | None, form: str = ".2f") -> str:
    """A figure with its interval, as far as there is one, in words."""
    if value is None:
        return "cannot say"
    return f"{value:{form}}" if low is None or high is None else f"{value:{form}} ({low:{form}} to {high:{form}})"
