"""Query texts by name, for whichever connection runs them."""

from functools import cache

from audit import paths


@cache
def query_text(name: str) -> str:
    """The text of `queries/<name>.sql`."""
    return (paths.queries_folder() / f"{name}.sql").read_text(encoding="utf-8")
