"""The pack as one HTML file: no script, no outside link, drawings inline; every text is escaped."""

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from audit.pack.model import Pack

_SIZES = {"a4": "A4", "us-letter": "letter"}


def html_text(pack: Pack) -> str:
    """The page as text."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).with_name("templates")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # the drawings come from the chart converter, which escapes what is written in them; nothing else is trusted
    environment.filters["drawing"] = Markup
    return environment.get_template("pack.html.j2").render(pack=pack, page_size=_SIZES[pack.paper]) + "\n"
