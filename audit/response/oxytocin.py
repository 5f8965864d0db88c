"""Oxytocin in one labour: hours on it, increases while a concern lasts, and how soon it was reduced. Pure.

NICE NG207 (2021, from memory): reduce or stop oxytocin for tachysystole or a concerning tracing, and do not increase
it; ACOG Practice Bulletin 116 (2010, from memory): less oxytocin first. No minutes are published: none is a target.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audit.response.types import CareEvent
from audit.setting_types import Limit

STARTED, STOPPED, REDUCED = "oxytocin_started", "oxytocin_stopped", "oxytocin_reduced"
UP = (STARTED, "oxytocin_increased")
Span = tuple[float, float]
SEGMENT_S = 600.0  # of which rates are told


@dataclass(frozen=True)
class OxytocinUse:
    """One labour's oxytocin. Times in hours and minutes; None = nothing to count from."""

    hours: float
    hours_in_tachysystole: float  # of these
    increases_in_concern: int
    waits: tuple["OxytocinWait", ...]


@dataclass(frozen=True)
class OxytocinWait:
    """From the moment a concern had to be recognised, or tachysystole began, while oxytocin ran.

    0 minutes where it was reduced or stopped before that, from the pattern's start on.
    """

    reason: str  # concern or tachysystole
    from_s: float
    minutes: float
    reduced: bool  # False: it ended, or birth came, before oxytocin was reduced or stopped


def tachysystole_spans(starts_s: Sequence[float], rates: Sequence[float | None], limit: Limit) -> list[Span]:
    """Half hours with too many contractions, from segments of 10 minutes.

    `starts_s`, `rates`: shape (segments,), s and contractions per 10 minutes; None = not to be told. `limit`: of the
    mean rate.
    Gives spans: of each three successive segments whose mean meets the limit; they overlap where it lasts longer. A
    half hour with a segment that cannot be told is in none.

    NICHD 2008 (Macones): more than five contractions in 10 minutes, averaged over 30 minutes.
    """
    found = []
    for k in range(len(starts_s) - 2):
        three = [rate for rate in rates[k : k + 3] if rate is not None]
        follow = starts_s[k + 2] - starts_s[k] <= 2 * SEGMENT_S + 1.0
        if follow and len(three) == 3 and limit.met_by(sum(three) / 3):
            found.append((starts_s[k], starts_s[k + 2] + SEGMENT_S))
    return found


def on_oxytocin(events: Sequence[CareEvent], end_s: float) -> list[Span]:
    """The spans in which oxytocin ran, half-open, s. An increase or reduction without a start begins one then.

    `events`: of one labour, any order. `end_s`: birth, or the end of what is known.
    Gives spans: in order, not overlapping; the last one is open until `end_s`.
    """
    spans: list[Span] = []
    since: float | None = None
    for event in sorted(events, key=lambda each: each.at_s):
        if event.at_s >= end_s:
            break
        if event.event in (*UP, REDUCED) and since is None:
            since = event.at_s
        elif event.event == STOPPED and since is not None:
            spans.append((since, event.at_s))
            since = None
    return spans if since is None else [*spans, (since, end_s)]


def oxytocin_use(
    events: Sequence[CareEvent],
    concerns: Sequence[Span],
    tachysystole: Sequence[Span],
    *,
    end_s: float,
    pattern_starts_s: Sequence[float] | None = None,
) -> OxytocinUse | None:
    """Hours on oxytocin, increases during concerns, and the wait until it was reduced.

    Parameters
    ----------
    events : of one labour, any order. concerns : spans from recognition to the concern's end, s.
    tachysystole : spans with it, s. end_s : birth, or the end of what is known.
    pattern_starts_s : when each concern's pattern began, s; None = when it had to be recognised.

    Returns
    -------
    use, or None where no oxytocin is recorded. A concern or tachysystole counts where oxytocin ran at its beginning or
    was started within it (then from that moment); the wait ends at the first reduction or stop, else at its end. As in
    the response clock, what was done from the pattern's start on is the best answer there is, 0 minutes, unless
    oxytocin was started or increased again before the concern had to be recognised.

    Raises
    ------
    ValueError : unequal lengths.
    """
    starts_s = [first_s for first_s, _ in concerns] if pattern_starts_s is None else pattern_starts_s
    running = on_oxytocin(events, end_s)
    if not running:
        return None
    ups = [event.at_s for event in events if event.event in UP and event.at_s < end_s]
    began_s: dict[float, float] = {}
    for (first_s, _), start_s in zip(concerns, starts_s, strict=True):
        began_s[first_s] = min(start_s, began_s.get(first_s, first_s))
    waits = _waits("concern", concerns, running, events, end_s, began_s)
    waits += _waits("tachysystole", tachysystole, running, events, end_s, {})
    return OxytocinUse(
        hours=sum(b - a for a, b in running) / 3600.0,
        hours_in_tachysystole=_overlap_s(running, joined(tachysystole)) / 3600.0,
        increases_in_concern=sum(any(a <= at < b for a, b in concerns) for at in ups),
        waits=tuple(sorted(waits, key=lambda wait: (wait.from_s, wait.reason))),
    )


def _waits(
    reason: str,
    spans: Sequence[Span],
    running: Sequence[Span],
    events: Sequence[CareEvent],
    end_s: float,
    began_s: Mapping[float, float],
) -> list[OxytocinWait]:
    downs = sorted(event.at_s for event in events if event.event in (REDUCED, STOPPED))
    found = []
    for first_s, last_s in joined(spans):
        until_s = min(last_s, end_s)
        if first_s < until_s and _less_before(began_s.get(first_s, first_s), first_s, running, events):
            found.append(OxytocinWait(reason, first_s, 0.0, True))
            continue
        ran = next((max(a, first_s) for a, b in running if a < until_s and b > first_s), None)
        if ran is None or ran >= until_s:
            continue
        down = next((at for at in downs if ran <= at <= until_s), None)
        stop_s = until_s if down is None else down
        found.append(OxytocinWait(reason, ran, (stop_s - ran) / 60.0, down is not None))
    return found


def _less_before(start_s: float, known_s: float, running: Sequence[Span], events: Sequence[CareEvent]) -> bool:
    """Whether oxytocin that ran was reduced or stopped between two times, and that was the last change in them."""
    changes = [each for each in events if start_s <= each.at_s < known_s and each.event in (*UP, REDUCED, STOPPED)]
    if not changes:
        return False
    last = max(changes, key=lambda each: (each.at_s, each.event in UP))
    return last.event not in UP and any(a < last.at_s <= b for a, b in running)


def joined(spans: Sequence[Span]) -> list[Span]:
    """The same time as spans that do not overlap."""
    found: list[Span] = []
    for first_s, last_s in sorted(spans):
        if found and first_s <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], last_s))
        elif last_s > first_s:
            found.append((first_s, last_s))
    return found


def _overlap_s(one: Sequence[Span], other: Sequence[Span]) -> float:
    return sum(max(0.0, min(b, d) - max(a, c)) for a, b in one for c, d in other)
