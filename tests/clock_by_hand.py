"""One concern and its clock, set by hand: times in minutes after recognition."""

from audit.response.responses import labour_of, respond
from audit.response.rules import BUILT_IN
from audit.response.types import CareEvent, Episode, Response
from audit.settings import load_settings

SETTINGS = load_settings().response
TRIGGERS = sorted(BUILT_IN)
PATHOLOGICAL = ("figo-2015", "pathological")  # target 15 min, escalation decides
SUSPICIOUS = ("figo-2015", "suspicious_persistent")  # target 30 min, the first act decides
PROLONGED = ("nichd-2008", "prolonged_deceleration")  # target 6 min, escalation decides
BEGUN = -20.0  # minutes: the pattern's start
AT_S = 7261.25  # recognition, on no whole minute


def clock(
    *events: tuple[float, str] | tuple[float, str, int | None],
    trigger: tuple[str, str] = PATHOLOGICAL,
    end: float = 120.0,
    open_end: bool = False,
    birth: float | None = 180.0,
    tracing_end: float | None = None,
    mode: str | None = "spontaneous",
    recorded: bool = True,
    second_stage: float | None = None,
    shift_s: float = 0.0,
) -> Response:
    at_s = AT_S + shift_s
    episode = Episode(*trigger, at_s + 60 * BEGUN, at_s, at_s + 60 * end, open_end)
    if tracing_end is None:
        tracing_end = birth if birth is not None else max(end, 0.0)
    (response,) = respond(
        [episode],
        labour_of(
            [CareEvent(at_s + 60 * minute, *event) for minute, *event in events],
            birth_s=None if birth is None else at_s + 60 * birth,
            second_stage_s=None if second_stage is None else at_s + 60 * second_stage,
            mode_of_birth=mode,
            tracing_end_s=at_s + 60 * tracing_end,
            events_recorded=recorded,
            settings=SETTINGS,
        ),
    )
    return response
