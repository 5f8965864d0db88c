"""What storing one file's content did."""

from dataclasses import dataclass

from audit.intake.report import Outcome


@dataclass
class Stored:
    """Counts while a file's content is stored. `accepted` are rows that are in the store afterwards, new or not."""

    accepted: int = 0
    new: int = 0
    replaced: int = 0

    def outcome(self, kept_out: int) -> Outcome:
        """In one word: stored, replaced, unchanged or, when nothing of the file is in the store, refused."""
        if self.replaced:
            return "replaced"
        if self.new:
            return "stored"
        return "refused" if kept_out and not self.accepted else "unchanged"
