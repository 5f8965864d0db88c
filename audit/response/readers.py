"""Readers as further clocks: what a person found concerning starts the clock as well as what was computed."""

from collections.abc import Sequence
from dataclasses import fields

from audit.response.acts import Labour
from audit.response.responses import respond
from audit.response.rules import ResponseSettings
from audit.response.types import Episode, Read, ReaderClock

_OF_THE_RESPONSE = tuple(field.name for field in fields(ReaderClock) if field.name not in ("reader", "standard"))


def reader_clocks(reads: Sequence[Read], labour: Labour) -> list[ReaderClock]:
    """Start one clock per reader and standard, at the end of the first window that the reader found concerning.

    `reads`: of one fetus, any order, all readers. A read is concerning by its category or because the reader would have
    acted. Repeat reads, and reads known to be made with the outcome open, start no clock. `labour`: as for `respond`.
    Gives clocks: one per reader and standard that found something concerning, ordered by reader and standard. A reader
    who found nothing concerning starts none: that is told apart in the list of reads.

    The pattern counts as ended at the end of the reader's first later window that is not concerning; when there is
    none, as going on. The window's end is the earliest moment at which the whole of it could be seen. Our choice.
    """
    clocks: list[ReaderClock] = []
    for reader, standard in sorted({(read.reader, read.standard) for read in reads}):
        mine = [read for read in reads if (read.reader, read.standard) == (reader, standard)]
        episode = _first_concern(mine, standard, labour.settings)
        if episode is not None:
            [response] = respond([episode], labour)
            told = {name: getattr(response, name) for name in _OF_THE_RESPONSE}
            clocks.append(ReaderClock(reader=reader, standard=standard, **told))
    return clocks


def is_concerning(read: Read, settings: ResponseSettings) -> bool:
    """Whether a read names a category that starts a clock, or its reader would have acted."""
    return read.category in settings.readers.categories or read.would_act is True


def _first_concern(reads: Sequence[Read], standard: str, settings: ResponseSettings) -> Episode | None:
    counted = [read for read in reads if read.occasion == 1]
    if settings.readers.must_be_blind:
        counted = [read for read in counted if read.outcome_hidden is not False]
    counted.sort(key=lambda read: (read.end_s, read.start_s))
    for k, read in enumerate(counted):
        if not is_concerning(read, settings):
            continue
        clear = [
            later
            for later in counted[k + 1 :]
            if later.start_s >= read.start_s
            and not is_concerning(later, settings)
            and later.category != "not assessable"
        ]
        return Episode(
            standard=standard,
            trigger=settings.reader.trigger,
            pattern_start_s=read.start_s,
            recognisable_s=read.end_s,
            end_s=clear[0].end_s if clear else counted[-1].end_s,
            open_end=not clear,
        )
    return None
