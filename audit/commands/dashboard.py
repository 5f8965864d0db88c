"""`dashboard`: open the pages on this computer."""

import click

from audit.commands.serve_pages import launch
from audit.settings import settings_for


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit dashboard
  intrapartum-audit --db west.duckdb dashboard --port 8600"""
)
@click.option("--port", type=click.IntRange(1, 65535), default=None, help="Port on 127.0.0.1 [default: a free one].")
@click.option("--no-browser", is_flag=True, help="Print the address and open no browser.")
@click.pass_context
def command(ctx: click.Context, port: int | None, no_browser: bool) -> int:
    """Open the dashboard on 127.0.0.1. It sends nothing anywhere and loads nothing from outside. Ctrl+C ends it."""
    settings_for(ctx.obj.db)  # settings that cannot be used stop it here, not on every page
    return launch(ctx.obj.db, port=port, open_browser=not no_browser)
