"""Tables of what is in force in a unit: its own settings, a standard's published table, the response clock's rules."""

from audit.tables.definition import Kind, TableDefinition, numbers, texts
from audit.tables.episodes import STANDARD

OWN_SETTINGS = TableDefinition(
    "own_settings",
    texts(key="Setting", in_force="In force", packaged="As packaged"),
    empty="The unit has no settings of its own: everything is as packaged.",
)
PUBLISHED_TABLE = TableDefinition(
    "published_table",
    (
        *texts(name="Setting", says="What it limits", in_force="In force", published="Published", unit="Unit"),
        *texts(Kind.YES_NO, departs="Departs"),
        *texts(source="Source"),
        *texts(Kind.YES_NO, from_memory="From memory"),
    ),
)
CLOCK_RULES = TableDefinition(
    "clock_rules",
    (
        STANDARD,
        *texts(trigger="Trigger"),
        *texts(Kind.YES_NO, in_use="In use"),
        *numbers(None, target_minutes="Target, min"),
        *texts(decided_by="Decided by", counts="What counts as a response", source="Source"),
    ),
)
