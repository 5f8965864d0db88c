"""The model card of a fitted second reading: what it was fitted on, how good it is, what it must not be used for."""

from typing import Any

from audit.validate.compare import CLASSES
from audit.validate.footing_words import CLASS_NAMES, estimate_json, footing_json
from audit.validate.readings import REPORTING, TUNING
from audit.validate.second import SecondOnFolder
from audit.version import __version__

PURPOSE = (
    "What the experts whose reads it was fitted on would most likely have said of a window of a tracing: a second"
    " reading beside the reading by rules, for retrospective review by licensed clinicians."
)
NOT_FOR = (
    "care in progress: it is not a medical device, and local guidelines decide",
    "taking the place of the reading by rules or of a person's read",
    "predicting a newborn's pH or outcome: it was fitted on experts' opinions of strips, not on outcomes",
    "tracings unlike those it was fitted on (preterm, twins, antenatal, other sensors or rates) without a look at its"
    " evidence",
    "being handed on, unless the licence of the data it was fitted on allows it: the numbers of its windows are inside",
)
METHOD = (
    "Gaussian process regression of the mean of the experts' classes (0 normal, 1 suspicious, 2 pathological) on"
    " numbers of the window, numbers of the hour that ends with it and fixed random convolutions of that hour, each the"
    " mean over the readings of the tracing's phases at 1 Hz (four of 4 Hz);"
    " cumulative-logit calibration on out-of-fold scores; the class is the middle expert's."
)
DATA = (
    "Recordings and expert_evaluations.csv of the folder given: the open intrapartum database (Chudacek et al. 2014)"
    " with the classes of obstetricians (Hruban et al. 2015) under the FIGO classes of 1986"
)
ALONE = "; recordings of the tuning part alone"


def card_of(found: SecondOnFolder, settings_sha256: str, part: str = REPORTING) -> dict[str, Any]:
    """The card of what was fitted on a folder, or on its tuning part alone, to be written into its file."""
    votes = [int((found.experts.codes == code).sum()) for code in range(CLASSES)]
    return {
        "version": __version__,
        "purpose": PURPOSE,
        "must_not_be_used_for": list(NOT_FOR),
        "method": METHOD,
        "data": DATA + (ALONE if part == TUNING else ""),
        "windows": found.fitted_on[0],
        "recordings": found.fitted_on[1],
        "experts": len(found.experts.experts),
        "expert_classes": dict(zip(CLASS_NAMES, votes, strict=True)),
        "settings_sha256": settings_sha256,
        "figures": figures_json(found),
    }


def figures_json(found: SecondOnFolder) -> dict[str, Any]:
    """How good it is: agreement with intervals, calibration, classes off by two."""
    all_of = found.against_all
    return {
        "basis": found.basis,
        "windows": all_of.windows,
        "not_assessable": all_of.not_assessable,
        "kappa_linear_against_all_experts": estimate_json(all_of.kappa_linear),
        "agreement_with_all_experts": estimate_json(all_of.agreement),
        "confusion": [list(row) for row in all_of.confusion],
        "off_by_two_classes": found.off_by_two,
        "equal_footing": None if found.equal is None else footing_json(found.equal),
        "calibration_by_fifths": [
            {
                "category": CLASS_NAMES[one.category],
                "predicted": round(one.predicted, 4),
                "observed": round(one.observed, 4),
                "windows": one.windows,
            }
            for one in found.fifths
        ],
    }
