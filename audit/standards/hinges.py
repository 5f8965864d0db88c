"""What a category hangs on, in words: falls that could be of another kind, lengths that could lie beyond a limit."""

from audit.setting_types import Limit
from audit.standards.falls import Falls
from audit.standards.types import FloatArray, IntArray, TakenAs


def could_be(falls: Falls, which: IntArray, taken: TakenAs, limits: tuple[Limit, ...]) -> str:
    """The decelerations by which a category stands or falls, and what they could be."""
    if taken in ("longer", "shorter"):
        return _could_last(falls, which, taken, limits)
    if which.size == 1:
        (k,) = which.tolist()
        kind = "gradual" if falls.kind[k] == "unclassified" else falls.kind[k]
        return f"hinges on one {kind} deceleration whose fall of {falls.judged_fall_s[k]:.0f} s could be {taken}"
    low, high = falls.judged_fall_s[which].min(), falls.judged_fall_s[which].max()
    return f"hinges on {which.size} decelerations whose falls of {low:.0f} to {high:.0f} s could be {taken}"


def _could_last(falls: Falls, which: IntArray, taken: TakenAs, limits: tuple[Limit, ...]) -> str:
    if falls.near_ten_min[which].all():
        return _could_be_level(falls.duration_s[which], taken)
    beyond, lasting = falls.beyond_s(taken, limits)[which], falls.duration_s[which]
    span = f"{_min_s(lasting.min())} to {_min_s(lasting.max())}"
    if (beyond != beyond[0]).any():
        return f"hinges on {which.size} decelerations of {span}, each near a limit, that could be {taken}"
    limit = next(one for one in limits if one.value == beyond[0])
    inclusive, at = limit.symbol == ">=", _min_s(limit.value)
    past = f"last {at} or more" if inclusive else f"last more than {at}"
    short = f"be shorter than {at}" if inclusive else f"last {at} or less"
    could = f"could {past if taken == 'longer' else short}"
    if lasting.size == 1:
        return f"hinges on one deceleration of {_min_s(lasting[0])} that {could}"
    return f"hinges on {lasting.size} decelerations of {span} that {could}"


def _could_be_level(lasting_s: FloatArray, taken: TakenAs) -> str:
    count, span = lasting_s.size, f"{_min_s(lasting_s.min())} to {_min_s(lasting_s.max())}"
    if taken == "longer":
        could = "could last 10 min or more, and so be"
        if count == 1:
            return f"hinges on one deceleration of {_min_s(lasting_s[0])} that {could} a change of baseline"
        return f"hinges on {count} decelerations of {span} that {could} changes of baseline"
    if count == 1:
        return "hinges on one change of baseline of about 10 min that could be a deceleration"
    return f"hinges on {count} changes of baseline of about 10 min that could be decelerations"


def _min_s(seconds: float) -> str:
    """'45 s', '2 min', '2 min 04 s'."""
    minutes, rest = divmod(round(seconds), 60)
    if not minutes:
        return f"{rest} s"
    return f"{minutes} min {rest:02d} s" if rest else f"{minutes} min"
