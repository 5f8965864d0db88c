"""Cautions as sentences with their times, beside the other notes of a reading."""

from audit.tracing.types import Caution, Deceleration

# A shorter silence at the end of a tracing is not worth a sentence.
WORTH_SAYING_S = 60.0


def end_of_monitoring(monitored_until_s: float, duration_s: float) -> tuple[Caution, ...]:
    """That both transducers came off before the tracing ends; none where they stayed on.

    `monitored_until_s`, `duration_s`: s from the first sample.
    """
    after_s = duration_s - monitored_until_s
    if after_s < WORTH_SAYING_S:
        return ()
    unknown = float("nan")
    text = (
        f"Heart rate and toco both end {after_s / 60:.0f} min before the tracing does: monitoring had ended, which is"
        " no loss of signal at the bedside."
    )
    return (Caution("monitoring_ended", monitored_until_s, duration_s, unknown, unknown, text, "monitoring ended"),)


def sentences(
    cautions: tuple[Caution, ...], decelerations: tuple[Deceleration, ...], start_s: float
) -> tuple[str, ...]:
    """What a reader must know before trusting the reading, with the times on the case's clock.

    `start_s`: of the tracing's first sample on the case's clock; cautions count from that sample.
    """
    found = [f"{_hh_mm(start_s + c.start_s)} to {_hh_mm(start_s + c.end_s)}: {c.text}" for c in cautions]
    lost = [d.unseen_duration_s for d in decelerations if d.at_least]
    if lost:
        which = "one deceleration" if len(lost) == 1 else f"{len(lost)} decelerations"
        found.append(f"Of {which} {sum(lost):.0f} s were not seen: depth and area there are at least what is given.")
    return tuple(found)


def _hh_mm(seconds: float) -> str:
    minutes = round(abs(seconds)) // 60
    return f"{'-' if seconds <= -60 else ''}{minutes // 60:02d}:{minutes % 60:02d}"
