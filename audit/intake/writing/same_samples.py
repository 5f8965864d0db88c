"""Are the samples of one tracing stored already, under another case or fetus?

An export that is made twice under two codes, or a pseudonym that was given anew, would count one labour twice. Heart
rates of two labours never agree sample by sample over minutes, so no threshold is needed; where a tracing begins and
what its other channels hold does not matter. One that was cut elsewhere shares pieces (`shared_pieces.py`).
"""

import contextlib
import hashlib
from collections.abc import Sequence

import numpy as np

from audit.intake.writing.ledger import Into, KnownStretch
from audit.intake.writing.shared_pieces import SharedPieces, marks
from audit.store.tracings import NO_SIGNAL, Stretch, load_stretches
from audit.words import number_of

Key = tuple[str, str]
_LEAST_SEEN = 240  # samples, a minute at 4 Hz: shorter pieces agree by chance; our choice
_TOGETHER = 40  # cases whose samples are loaded at once; our choice
_MOST_LOOKED_AT = 50  # stored stretches of the same length and share of signal whose samples are compared


class SameSamples:
    """Compares new stretches with those that the ledger knows and with those of the same import."""

    def __init__(self, into: Into) -> None:
        self._con, self._ledger, self._remarks = into.con, into.ledger, into.remarks
        self._stored = list(dict.fromkeys(case_id for case_id, _ in into.ledger.stretches))
        self._alike: dict[tuple[int, int], list[tuple[Key, KnownStretch]]] = {}
        self._hashes: dict[tuple[Key, float], str] = {}
        for key, stretches in into.ledger.stretches.items():
            for known in stretches:
                self._alike.setdefault((known.samples, known.seen), []).append((key, known))

    def look(self, key: Key, new: Sequence[Stretch], first_row: int) -> None:
        """Remark on stretches whose samples are stored under another case or fetus, and keep in mind the new ones.

        A copy brings one remark, which names the tracing that it is a copy of: fifty copies bring fifty remarks.
        """
        whole: list[Key] = []
        others: list[Stretch] = []  # a copy's pieces are those of the tracing that it was copied from
        for stretch in new:
            seen = int(np.count_nonzero(stretch.fhr_cbpm != NO_SIGNAL))
            if seen < _LEAST_SEEN or _flat(stretch):
                others.append(stretch)
                continue
            mine = _hash(stretch)
            alike = self._alike.setdefault((stretch.samples, seen), [])
            looked_at = (whose for whose, known in alike[-_MOST_LOOKED_AT:] if self._hash_of(whose, known) == mine)
            first = next((whose for whose in looked_at if whose != key), None)
            if first is None:
                others.append(stretch)
                alike.append((key, KnownStretch(stretch.start_s, stretch.samples, "", stretch.sample_rate_hz, seen)))
            else:
                whole.append(first)
            self._hashes[key, stretch.start_s] = mine
        known_pieces = self._pieces() if others else SharedPieces()
        kept = [marks(stretch) for stretch in others]
        pieces = {whose for one in kept for whose in known_pieces.like(one) if whose in self._ledger.stretches}
        known_pieces.add(key, kept)
        for what, found in (("", sorted(set(whole))), ("a piece of ", sorted(pieces - {key, *whole}))):
            if found:
                case_id, fetus = found[0]
                further = f", and of {number_of(len(found) - 1, 'other')}" if len(found) > 1 else ""
                reason = (
                    f"found {what}the heart rate of case {case_id}, fetus {fetus}{further}, sample by sample, under"
                    f" case {key[0]}, fetus {key[1]}; expected each labour once"
                )
                self._remarks.flag(first_row, "fhr_bpm", None, reason)

    def _pieces(self) -> SharedPieces:
        """The pieces of all that is stored: worked out once for an import, when its first tracing comes."""
        if self._ledger.pieces is None:
            self._ledger.pieces = pieces = SharedPieces()
            for first in range(0, len(self._stored), _TOGETHER):
                with contextlib.suppress(LookupError):  # damaged: an analysis and `check` say so
                    loaded = load_stretches(self._con, self._stored[first : first + _TOGETHER])
                    for key, stretches in loaded.items():
                        pieces.add(key, [marks(stretch) for stretch in stretches])
        return self._ledger.pieces

    def _hash_of(self, key: Key, known: KnownStretch) -> str | None:
        at = key, known.start_s
        if at not in self._hashes:
            with contextlib.suppress(LookupError):  # damaged: an analysis and `check` say so
                for stretch in load_stretches(self._con, [key[0]]).get(key, []):
                    self._hashes[key, stretch.start_s] = _hash(stretch)
        return self._hashes.get(at)


def _hash(stretch: Stretch) -> str:
    return hashlib.sha256(stretch.fhr_cbpm.astype("<i2").tobytes()).hexdigest()


def _flat(stretch: Stretch) -> bool:
    given = stretch.fhr_cbpm[stretch.fhr_cbpm != NO_SIGNAL]
    return bool(given.min() == given.max())
