"""The terms of the pages in words, from `glossary.toml`: what each means here, and which publication set that."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True)
class Term:
    """One term. `source` is empty where the meaning is this program's own; `forms` are other words for it."""

    name: str
    group: str
    says: str
    source: str = ""
    forms: tuple[str, ...] = ()


@cache
def terms() -> tuple[Term, ...]:
    """Every term, in the order of the file."""
    groups = tomllib.loads(files("audit").joinpath("glossary.toml").read_text(encoding="utf-8"))
    return tuple(
        Term(name, group, said["says"], said.get("source", ""), tuple(said.get("forms", ())))
        for group, named in groups.items()
        for name, said in named.items()
    )


def explained(groups: Sequence[str]) -> str:
    """The terms of some groups as a list in Markdown, each with its meaning and, where there is one, its source."""
    chosen = [term for group in groups for term in terms() if term.group == group]
    return "\n".join(f"- **{term.name}**: {term.says}{f' *{term.source}.*' if term.source else ''}" for term in chosen)
