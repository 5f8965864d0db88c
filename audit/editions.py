"""The edition of a standard that is in force, printed wherever a result is."""

from audit.settings import Settings


def editions(settings: Settings) -> dict[str, str]:
    """The edition in force of every standard whose settings name one."""
    return {
        name: str(table["edition"])
        for name, table in settings.analysis_tables.items()
        if isinstance(table, dict) and "edition" in table
    }


def with_edition(settings: Settings, standard: str, name: str) -> str:
    """The standard's name, with the edition where the name does not say it already."""
    edition = editions(settings).get(standard)
    return name if edition is None or edition == name else f"{name} ({edition})"
