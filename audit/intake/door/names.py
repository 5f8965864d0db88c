"""Codes that name a case or a reader: of the unit's own pattern as they are, any other as a keyed pseudonym."""

import re
from collections.abc import Callable, Container
from dataclasses import dataclass, field

from audit.store.pseudonyms import Pseudonyms, for_nobody


@dataclass
class UnitNames:
    """Codes of the unit's patterns pass, others become pseudonyms; the key is asked for when one is needed.

    Codes under which an earlier version has stored a case or a reader pass too, so that the same file offered again
    does not bring them in a second time.
    """

    case_id_pattern: str
    reader_pattern: str
    key: Callable[[], Pseudonyms] = for_nobody
    stored_cases: Container[str] = ()
    stored_readers: Container[str] = ()
    _found: Pseudonyms | None = field(default=None, repr=False)

    def case_id(self, typed: str) -> str:
        """The code under which a case is stored."""
        passes = re.fullmatch(self.case_id_pattern, typed, re.ASCII) or typed in self.stored_cases
        return typed if passes else self._pseudonym(typed)

    def reader(self, typed: str) -> str:
        """The code under which a reader is stored."""
        passes = re.fullmatch(self.reader_pattern, typed, re.ASCII) or typed in self.stored_readers
        return typed if passes else self._pseudonym(typed)

    def event_id(self, typed: str) -> str:
        """The key under which a care event is stored."""
        return typed if re.fullmatch(self.case_id_pattern, typed, re.ASCII) else self._pseudonym(typed)

    def pseudonyms(self) -> Pseudonyms:
        """Those of the key, which is asked for once. Raises what `key` raises."""
        if self._found is None:
            self._found = self.key()
        return self._found

    def _pseudonym(self, typed: str) -> str:
        return self.pseudonyms().of(typed)
