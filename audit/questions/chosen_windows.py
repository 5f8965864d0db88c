"""Stretches that the lead chose by hand for a batch: one a line, the case, the fetus of twins, where it begins."""

import re
from dataclasses import dataclass

from audit.errors import UsageError

_LINE = re.compile(r"(?P<case>\S+)(?:\s+(?P<fetus>[A-Z]))?(?:\s+at)?\s+(?P<hours>\d{1,2}):(?P<minutes>[0-5]\d)")


@dataclass(frozen=True)
class ChosenWindow:
    """From where a strip is to be shown, s from the first sample; `fetus` None = of every fetus."""

    case_id: str
    fetus: str | None
    start_s: float


def chosen_windows(text: str) -> tuple[ChosenWindow, ...]:
    """What the lines say, e.g. `C-001 03:26` or `C-003 B 01:10`. Raises UsageError naming a line that says nothing."""
    found = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        parts = _LINE.fullmatch(line.strip())
        if parts is None:
            raise UsageError(
                f"own windows: line {number}: expected a case, the fetus of twins, and where the strip begins, as in"
                " C-001 03:26 or C-003 B 01:10"
            )
        start_s = 3600.0 * int(parts["hours"]) + 60.0 * int(parts["minutes"])
        found.append(ChosenWindow(parts["case"], parts["fetus"], start_s))
    return tuple(dict.fromkeys(found))
