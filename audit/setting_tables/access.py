"""How long somebody stays signed in, and which claims of an identity provider give which role: the table `[access]`."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from msgspec import Meta

from audit import vocabulary
from audit.setting_types import Name, Table, Unfit, dotted


class AccessOptions(Table, frozen=True):
    """One value per key of the table; see there for units and sources."""

    idle_minutes: Annotated[float, Meta(ge=1, le=480, extra={"unit": "min"})]
    longest_hours: Annotated[float, Meta(ge=0.1, le=24, extra={"unit": "h"})]
    role_claim: Name
    reader_claim: Name
    roles: dict[str, str]

    def __post_init__(self) -> None:
        for value, role in self.roles.items():
            if not value.strip():
                raise Unfit(dotted("roles", value), role, "a key that is a group or role of the provider")
            if role not in vocabulary.ROLES:
                raise Unfit(dotted("roles", value), role, f"one of {', '.join(vocabulary.ROLES)}")
        if self.idle_minutes > self.longest_hours * 60:
            raise Unfit("idle_minutes", self.idle_minutes, f"at most longest_hours ({self.longest_hours:g} h)")

    def role_of(self, claims: Mapping[str, Any]) -> str | None:
        """The role that the claims of a signed-in person give; of several the one that may most, None = none."""
        said = claims.get(self.role_claim)
        values = [said] if isinstance(said, str) else said if isinstance(said, Sequence) else []
        found = {self.roles[value] for value in values if isinstance(value, str) and value in self.roles}
        return next((role for role in vocabulary.ROLES if role in found), None)
