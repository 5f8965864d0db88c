"""The pack as one HTML file: no script, no outside link, drawings inline; every text is escaped."""

from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from audit import words
from audit.pack.methods import CAUTION
from audit.pack.model import Pack, Picture

_SIZES = {"a4": "A4", "us-letter": "letter"}
# for strips: twice the unit's paper
_LARGE = {"a4": "A3", "us-letter": "ledger"}


def html_text(pack: Pack) -> str:
    """The page as text."""
    return (
        _environment().get_template("pack.html.j2").render(pack=pack.in_house_style(), page_size=_SIZES[pack.paper])
        + "\n"
    )


def strips_html(title: str, standard: str, pictures: Sequence[Picture], *, paper: str = "a4") -> str:
    """Numbered bare strips to print, for blind reading on paper."""
    name = words.standard_name(standard)
    template = _environment().get_template("strips.html.j2")
    return (
        template.render(title=title, standard=name, pictures=pictures, caution=CAUTION, page_size=_LARGE[paper]) + "\n"
    )


def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).with_name("templates")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # the drawings come from the chart converter, which escapes what is written in them; nothing else is trusted
    environment.filters["drawing"] = Markup
    return environment
