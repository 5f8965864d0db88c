"""What a proposal asks of words for events, of what stands for no signal, and of a case id in the file's name.

What was typed is never said: a word is called by the row where it stands first and by its form, a name by its parts.
"""

import re
from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from audit.intake.door.headings import event_of
from audit.intake.door.shape import shape
from audit.intake.guess_times import numbers_of
from audit.intake.proposal import Choice, Proposal
from audit.vocabulary import CARE_EVENTS
from audit.words import counted, words

_MOST_WORDS = 30  # that are asked for one by one; our choice
_MOST_MARKERS = 3  # different values that may stand for no signal; our choice
_WHOLE_NAME = "name"


def words_of_events(cells: Sequence[str], lines: Sequence[int], found: Proposal) -> None:
    """Take the words that are known, and ask for each other one; rows with a word that nobody knows are kept out.

    lines : the row of each cell in the file.
    """
    known = {name.replace("_", " ") for name in CARE_EVENTS}
    rows: dict[str, list[int]] = {}
    spelled: dict[str, str] = {}
    for word, line in zip(cells, lines, strict=True):
        event = event_of(word)
        if event is not None:
            found.words[word] = event
        elif word and (plain := word.casefold()).replace("_", " ") not in known:
            rows.setdefault(plain, []).append(line)
            spelled.setdefault(plain, word)
    often = sorted(rows, key=lambda plain: -len(rows[plain]))
    for plain in often[:_MOST_WORDS]:
        first, times = rows[plain][0], len(rows[plain])
        key = f"words.event.row{first}"
        choices = [Choice(key, event, words(event)) for event in CARE_EVENTS]
        kept_out = "its row is" if times == 1 else f"its {times} rows are"
        said = found.ask(f"what the word of row {first} means ({shape(plain)}); else {kept_out} kept out", choices)
        if said is not None:
            found.words[spelled[plain]] = said
    if left := often[_MOST_WORDS:]:
        found.ask(f"what {counted(len(left), 'further word')} for events mean; rows with them are kept out")


def without_texts(column: str, given: Sequence[str], found: Proposal) -> list[str] | None:
    """A channel's cells without the texts that stand for no signal; None where nobody has said so."""
    texts = Counter(cell for cell in given if numbers_of([cell], found.decimal) is None)
    if not texts or len(texts) > _MOST_MARKERS or len(given) == texts.total():
        return list(given)
    forms = ", ".join(dict.fromkeys(map(shape, texts)))
    choice = Choice(f"no_signal.{column}", "texts", "they mean no signal")
    if found.ask(f"whether {counted(texts.total(), 'text')} among {column} mean no signal ({forms})", [choice]) is None:
        return None
    _add(found, list(texts))
    return [cell for cell in given if cell not in texts]


def without_markers(column: str, numbers: NDArray[np.float64], found: Proposal) -> NDArray[np.float64]:
    """The numbers without 0 and without what stands for no signal: values outside the range that come again.

    One is taken, several are asked for.
    """
    outside = Counter(numbers[(numbers < -50) | (numbers > 300) | ((numbers < 0) & (column != "toco"))].tolist())
    markers = sorted(value for value, times in outside.items() if times > 1)
    if len(markers) == len(outside) and 1 <= len(outside) <= _MOST_MARKERS:
        typed = [f"{value:g}" for value in markers]
        choice = Choice(f"no_signal.{column}", "+".join(typed), f"{' and '.join(typed)} mean no signal")
        if len(markers) == 1 or found.ask(f"whether {' and '.join(typed)} among {column} mean no signal", [choice]):
            _add(found, typed)
            numbers = numbers[~np.isin(numbers, markers)]
    return numbers[numbers != 0] if column != "toco" else numbers


def without_pile(column: str, numbers: NDArray[np.float64], pile: float, found: Proposal) -> NDArray[np.float64] | None:
    """The numbers without a rate that is rare and comes very often, or with it, as a person says; None = nobody has."""
    typed = f"{pile:g}"
    choices = [
        Choice(f"no_signal.{column}", typed, f"{typed} means no signal"),
        Choice(f"units.{column}", "as given", "the numbers as they are"),
    ]
    said = found.ask(f"whether {typed}, which comes very often among {column}, stands for no signal", choices)
    if said != typed:
        return None if said is None else numbers
    _add(found, [typed])
    without: NDArray[np.float64] = numbers[numbers != pile]
    return without


def names_of_cases(file_name: str, found: Proposal) -> list[Choice]:
    """The parts of a file's name that a case id may stand in, where each file is a case."""
    stem = file_name.partition(".")[0]
    parts = [part for part in re.split(r"[_ -]+", stem) if part]
    if found.kind not in ("tracing", "care_events") or not parts:
        return []
    key = "case_id_from_file"
    whole = [Choice(key, _WHOLE_NAME, "the file's name before its ending, each file being a case")]
    several = [Choice(key, f"part{k}", f"part {k} of it ({shape(part)})") for k, part in enumerate(parts, start=1)]
    return [*whole, *(several if len(parts) > 1 else [])]


def pattern_of(said: str) -> str:
    """The pattern that finds the part of a name that was chosen; '' where it was a column."""
    if said == _WHOLE_NAME:
        return "^([^.]+)"
    if not said.startswith("part"):
        return ""
    before = int(said.removeprefix("part")) - 1
    return "^[_ -]*" + (f"(?:[^_ .-]+[_ -]+){{{before}}}" if before else "") + "([^_ .-]+)"


def _add(found: Proposal, markers: Sequence[str]) -> None:
    found.no_signal = tuple(dict.fromkeys((*found.no_signal, *markers)))
