"""How the meeting grades care and how batches for blind reading are made, as the table `[meeting]` says it."""

from collections.abc import Mapping
from typing import Annotated

from msgspec import Meta

from audit.setting_types import Name, Table, Unfit

Names = Annotated[tuple[Name, ...], Meta(min_length=1)]


class MeetingOptions(Table, frozen=True):
    """One value per key of the table; see there for units and sources."""

    care_grades: Names
    care_grade_words: tuple[Name, ...]
    care_scale: Name
    factors: Names
    issues: Names
    stages: Names
    avoidability: Names
    owner_roles: Names
    attending_roles: Names
    quorum_persons: Annotated[int, Meta(ge=1, le=99, extra={"unit": "persons"})]
    quorum_roles: tuple[Name, ...]
    family_questions: bool
    reader_notes: bool
    window_minutes: Annotated[int, Meta(ge=10, le=240, extra={"unit": "min"})]
    control_fraction: Annotated[float, Meta(ge=0, le=10, extra={"unit": "per case"})]
    repeat_fraction: Annotated[float, Meta(ge=0, le=0.5, extra={"unit": "fraction"})]

    def __post_init__(self) -> None:
        if len(self.care_grade_words) != len(self.care_grades):
            found = list(self.care_grade_words)
            raise Unfit("care_grade_words", found, f"as many as care_grades, {len(self.care_grades)}")
        for key in ("care_grades", "factors", "issues", "stages", "avoidability", "owner_roles", "attending_roles"):
            names = getattr(self, key)
            if len(set(names)) != len(names):
                raise Unfit(key, list(names), "each once")
        if not set(self.quorum_roles) <= set(self.attending_roles):
            raise Unfit("quorum_roles", list(self.quorum_roles), "roles of attending_roles")

    @property
    def grade_words(self) -> Mapping[str, str]:
        """The words of each grade."""
        return dict(zip(self.care_grades, self.care_grade_words, strict=True))
