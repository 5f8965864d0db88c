"""Schema steps: the numbered files that bring a store forward, in the same way for both stores."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path

from audit import paths
from audit.errors import StoreVersionError

FOREIGN = -1


@dataclass(frozen=True)
class Schema:
    """The steps of one kind of store. `folder` lies below `queries/`; `kind` is what such a file is called."""

    folder: str
    kind: str

    def steps(self) -> list[tuple[int, Path]]:
        """The numbered schema files, in order."""
        files = sorted((paths.queries_folder() / self.folder).glob("[0-9]*.sql"))
        return [(int(file.name[:3]), file) for file in files]

    def latest(self) -> int:
        """The version that this program writes."""
        return self.steps()[-1][0]

    def bring_forward(
        self,
        name: str,
        *,
        version: Callable[[], int],
        transaction: Callable[[], AbstractContextManager[object]],
        apply: Callable[[int, Path], None],
    ) -> None:
        """Take the steps that are missing, one transaction each.

        `name`: what a message calls the file. `version`: the version found: 0 in an empty file, FOREIGN in one that is
        not ours. `transaction`: all or nothing, and no other process writes meanwhile. `apply`: run one step and write
        its number down.
        Raises StoreVersionError for a newer or a foreign file, on which no step is taken.
        """
        found = version()
        if found < 0 or found > self.latest():
            raise self.refusal(name, found)
        for number, file in self.steps():
            if number > found:
                with transaction():
                    # another process may have been faster
                    if version() < number:
                        apply(number, file)

    def refusal(self, name: str, found: int) -> StoreVersionError:
        """Why a file of another version than this program's is not opened."""
        known = self.latest()
        if found < 0:
            return StoreVersionError(
                f"{name}: a {self.kind} file that this program did not make; expected schema version {known}"
            )
        if found > known:
            return StoreVersionError(
                f"{name}: found schema version {found}, expected {known} or older: written by a newer program"
            )
        return StoreVersionError(
            f"{name}: found schema version {found}, expected {known}; run `intrapartum-audit import` or `analyse` once"
            " to bring it forward"
        )
