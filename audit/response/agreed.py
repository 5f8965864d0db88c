"""The clock of what a meeting agreed: the same target and deciding act as the computed one. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from audit.response.acts import SLACK_S
from audit.response.types import Clock

AgreedStatus = Literal["in_time", "late", "none_recorded", "born_first", "no_concern"]
Change = Literal["unchanged", "called_delayed", "cleared"]
DELAYED = ("late", "none_recorded")


@dataclass(frozen=True)
class Mark:
    """A computed event struck out, or one added: a deceleration, a contraction, a stretch of the mother's rate."""

    deed: str  # struck_out or added
    kind: str  # deceleration, contraction or maternal_rate
    start_s: float
    end_s: float
    reason: str
    deceleration: str | None = None  # kind of an added deceleration


@dataclass(frozen=True)
class AgreedClock:
    """How the agreed clock ended. None = the meeting left it open."""

    status: AgreedStatus | None
    response_s: float | None = None
    response_event: str | None = None
    minutes_to_response: float | None = None  # negative: before it had to be recognised


def agreed_clock(
    *,
    concern: bool | None,
    recognisable_s: float | None,
    first_act: tuple[float, str] | None,
    escalation: tuple[float, str] | None,
    decided_by: Clock,
    target_minutes: float,
    birth_s: float | None,
) -> AgreedClock:
    """From the agreed recognisable minute to the agreed act of the deciding clock.

    Parameters
    ----------
    concern : False = there was nothing to answer. recognisable_s : s; None = left open.
    first_act, escalation : when (s) and what; None = the meeting found none. decided_by : which of the two decides.
    target_minutes : of the trigger that the agreed category belongs to. birth_s : s; None = unknown.

    Returns
    -------
    clock, with statuses as `responses.respond` gives them; exactly at the target is in time.
    """
    if concern is False:
        return AgreedClock("no_concern")
    if recognisable_s is None:
        return AgreedClock(None)
    deadline_s = recognisable_s + 60.0 * target_minutes + SLACK_S
    act = escalation if decided_by == "escalation" else first_act
    if act is not None and birth_s is not None and act[0] > birth_s + SLACK_S:
        act = None  # an act after birth answers nothing
    if act is None:
        born_first = birth_s is not None and birth_s <= deadline_s
        return AgreedClock("born_first" if born_first else "none_recorded")
    minutes = (act[0] - recognisable_s) / 60.0
    status: AgreedStatus = "in_time" if act[0] <= deadline_s else "late"
    return AgreedClock(status, act[0], act[1], minutes)


def change_of_verdict(agreed: AgreedStatus | None, computed: Sequence[str]) -> Change | None:
    """Whether the meeting turned 'delayed' round, and which way.

    `agreed`: of the agreed clock; None = left open. `computed`: statuses of the same fetus and standard.
    Gives change; None where the meeting left it open, or where nothing computed can be judged.

    Delayed = late or unanswered when the target passed, by any of the computed episodes.
    """
    if agreed is None or (computed and all(status == "not_assessable" for status in computed)):
        return None
    was, now = any(status in DELAYED for status in computed), agreed in DELAYED
    return "unchanged" if was == now else "called_delayed" if now else "cleared"
