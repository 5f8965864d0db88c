"""Time from recognition to response, with stretches that end before a response: curves, medians, tests, shares.

Times are in one unit (the program uses minutes) from one common start. A censored time says 'no response up to here,
then no longer seen'; it is never averaged with the others.
"""

from audit.survival.competing import (
    CumulativeIncidence,
    ShareWithinTarget,
    cumulative_incidence,
    share_within_target,
)
from audit.survival.curves import (
    SurvivalCurve,
    survival_curve,
    value_at,
)
from audit.survival.groups import LogRank, log_rank
from audit.survival.times import CENSORED

__all__ = [
    "CENSORED",
    "CumulativeIncidence",
    "LogRank",
    "ShareWithinTarget",
    "SurvivalCurve",
    "cumulative_incidence",
    "log_rank",
    "share_within_target",
    "survival_curve",
    "value_at",
]
