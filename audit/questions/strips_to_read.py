"""Strips for blind reading: where they are cut, and how they are drawn so that they tell nothing but the signal."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from audit.people.batches import Window
from audit.questions import cases_to_discuss
from audit.questions.chosen_windows import ChosenWindow
from audit.settings import Settings
from audit.store import database
from audit.store.database import records
from audit.words import hh_mm

AROUND_CONCERN, BEFORE_END = "around the concern", "the last stretch"
PLACES = (AROUND_CONCERN, BEFORE_END)
# min, lengths to choose from; 60 holds the longest limit of the standards, 50 min of reduced variability (FIGO 2015)
LENGTHS = (20, 30, 60)
# of the strip lies before the moment the concern could be recognised, the rest after it; our choice
_SHARE_BEFORE = 5 / 6
# a strip shorter than this cannot be read under any of the standards; 10 minutes, the shortest segment of NICHD 2008
_SHORTEST_S = 600.0


@dataclass(frozen=True)
class Proposal:
    """Windows for a batch, the cases that gave none, each with the reason, and how many controls were asked for."""

    windows: tuple[Window, ...]
    left_out: tuple[str, ...]
    controls_asked: int = 0

    @property
    def controls(self) -> int:
        """Controls among the strips: labours, not fetuses."""
        return len({window.case_id for window in self.windows if window.control})

    @property
    def few_controls(self) -> str | None:
        """The sentence for a batch with fewer controls than asked for: its readers can guess that a strip is a case."""
        if self.controls >= self.controls_asked:
            return None
        return (
            f"{self.controls} of {self.controls_asked} controls could be drawn: a control has nothing to discuss, a"
            " good recorded outcome and the end of its tracing seen; the month has no more such labours. Readers of"
            " this batch know that most strips are cases."
        )


def propose(
    con: database.Connection,
    settings: Settings,
    *,
    period: str,
    case_ids: Sequence[str],
    standard: str,
    place: str,
    controls: int,
    minutes: float | None = None,
    chosen: Sequence[ChosenWindow] = (),
) -> Proposal:
    """Cut one strip per fetus of the given cases, and of as many controls of the month.

    Parameters
    ----------
    case_ids : the cases to read, for example the agenda. place : one of PLACES; a case without a concern is cut before
        its end either way, and so are controls.
    controls : how many controls; fewer when the month has fewer. minutes : length of each strip; None = as the settings
        say. chosen : stretches that the lead chose, of cases of any month, beside those that are cut here.
    """
    minutes = settings.meeting.window_minutes if minutes is None else minutes
    tracings = records(con, "reading/tracings", {"period": period, "standard": standard})
    known = {row["case_id"] for row in tracings}
    drawn = [case for case in _controls(con, settings, period, tracings) if case not in case_ids][:controls]
    windows: list[Window] = []
    left_out = [f"{case_id}: no tracing that was read" for case_id in case_ids if case_id not in known]
    for row in tracings:
        if row["case_id"] not in case_ids and row["case_id"] not in drawn:
            continue
        span = cut(row, minutes=minutes, place=place)
        if span is None:
            if row["case_id"] in drawn:
                continue  # naming a control would tell that its newborn is well
            left_out.append(f"{row['case_id']}: its tracing is shorter than {_SHORTEST_S / 60:.0f} minutes")
            continue
        windows.append(Window(row["case_id"], row["fetus"], *span, control=row["case_id"] in drawn))
    own, gone = _chosen(con, standard, chosen, minutes)
    windows += [window for window in own if window not in windows]
    return Proposal(tuple(windows), (*left_out, *gone), controls)


def _chosen(
    con: database.Connection, standard: str, chosen: Sequence[ChosenWindow], minutes: float
) -> tuple[list[Window], list[str]]:
    """The chosen stretches, and a sentence for each that cannot be cut."""
    rows = records(con, "reading/tracings", {"period": None, "standard": standard}) if chosen else []
    windows, gone = [], []
    for one in chosen:
        found = [row for row in rows if row["case_id"] == one.case_id and one.fetus in (None, row["fetus"])]
        if not found:
            gone.append(f"{one.case_id}: no tracing that was read")
        for row in found:
            start, end = max(one.start_s, float(row["start_s"])), one.start_s + 60 * minutes
            end = float(int(min(end, float(row["end_s"]))))
            if end - start < _SHORTEST_S:
                gone.append(f"{one.case_id}: under {_SHORTEST_S / 60:.0f} minutes of tracing from {hh_mm(one.start_s)}")
            else:
                windows.append(Window(row["case_id"], row["fetus"], float(round(start)), end))
    return windows, gone


def cut(row: dict[str, Any], *, minutes: float, place: str) -> tuple[float, float] | None:
    """Start and end of the strip in whole seconds; None when the tracing is too short to be read."""
    length = 60 * minutes
    end = float(row["end_s"])
    if place == AROUND_CONCERN and row["recognisable_s"] is not None:
        end = min(end, float(row["recognisable_s"]) + (1 - _SHARE_BEFORE) * length)
    start = max(float(row["start_s"]), end - length)
    end = min(float(row["end_s"]), max(end, start + length))
    start, end = float(round(start)), float(int(end))
    return (start, end) if end - start >= _SHORTEST_S else None


def _controls(
    con: database.Connection, settings: Settings, period: str, tracings: Sequence[dict[str, Any]]
) -> list[str]:
    """Controls: the month's drawn ones first, then the rest of those that might have been drawn."""
    found = cases_to_discuss.document(con, settings, period=period)
    known = {row["case_id"] for row in tracings}
    drawn = [case_id for case_id in found["controls"] if case_id in known]
    return [*drawn, *(case_id for case_id in found["candidates"] if case_id in known - set(drawn))]
