"""Are the samples of one tracing stored already, under another case or fetus?

An export that is made twice under two codes, or a pseudonym that was given anew, would count one labour twice. Heart
rates of two labours never agree sample by sample over minutes, so no threshold is needed; where a tracing begins and
what its other channels hold does not matter. A tracing that was cut elsewhere is not found.
"""

import contextlib
import hashlib
from collections.abc import Sequence

import numpy as np

from audit.intake.door.remarks import Remarks
from audit.intake.writing.ledger import KnownStretch, Ledger
from audit.store import database
from audit.store.tracings import NO_SIGNAL, Stretch, load_stretches

Key = tuple[str, str]
_LEAST_SEEN = 240  # samples, a minute at 4 Hz: shorter pieces agree by chance; our choice
_MOST_LOOKED_AT = 50  # stored stretches of the same length and share of signal whose samples are compared


class SameSamples:
    """Compares new stretches with those that the ledger knows and with those of the same import."""

    def __init__(self, con: database.Connection, ledger: Ledger, remarks: Remarks) -> None:
        self._con, self._remarks = con, remarks
        self._alike: dict[tuple[int, int], list[tuple[Key, KnownStretch]]] = {}
        self._hashes: dict[tuple[Key, float], str] = {}
        for key, stretches in ledger.stretches.items():
            for known in stretches:
                self._alike.setdefault((known.samples, known.seen), []).append((key, known))

    def look(self, key: Key, new: Sequence[Stretch], first_row: int) -> None:
        """Remark on stretches whose samples are stored under another case or fetus, and keep in mind the new ones."""
        found: set[Key] = set()
        for stretch in new:
            seen = int(np.count_nonzero(stretch.fhr_cbpm != NO_SIGNAL))
            if seen < _LEAST_SEEN or _flat(stretch):
                continue
            mine = _hash(stretch)
            alike = self._alike.setdefault((stretch.samples, seen), [])
            found |= {
                other
                for other, known in alike[-_MOST_LOOKED_AT:]
                if other != key and self._hash_of(other, known) == mine
            }
            known = KnownStretch(stretch.start_s, stretch.samples, "", stretch.sample_rate_hz, seen)
            alike.append((key, known))
            self._hashes[key, stretch.start_s] = mine
        for case_id, fetus in sorted(found):
            reason = (
                f"found the heart rate of case {case_id}, fetus {fetus}, sample by sample, under case {key[0]}, fetus"
                f" {key[1]}; expected each labour once"
            )
            self._remarks.flag(first_row, "fhr_bpm", None, reason)

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
