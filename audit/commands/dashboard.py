"""`dashboard`: open the pages on this computer, or serve them to others who sign in through an identity provider."""

import sys
from pathlib import Path
from typing import Any

import click

from audit.commands.keep_standard import keep_standard
from audit.commands.serve_pages import launch
from audit.commands.serving import HOST, Serving
from audit.errors import UsageError
from audit.people import access
from audit.settings import settings_for
from audit.vocabulary import STANDARDS

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit dashboard
  intrapartum-audit dashboard --single-user
  intrapartum-audit --db west.duckdb dashboard --port 8600
  intrapartum-audit dashboard --address 0.0.0.0 --port 443 --name audit.hospital.example \\
    --certificate audit.pem --key audit.key --provider provider.toml"""
)
@click.option("--port", type=click.IntRange(1, 65535), default=None, help="Port to serve on [default: a free one].")
@click.option("--no-browser", is_flag=True, help="Print the address and open no browser.")
@click.option(
    "--single-user/--sign-in", "single_user", default=None,
    help="Choose once: one person alone uses this unit, without a password; or everybody signs in. Kept, and logged.",
)  # fmt: skip
@click.option("--address", default=HOST, show_default=True, metavar="ADDRESS", help="Address to serve on.")
@click.option("--name", default=None, metavar="HOST", help="Host name under which others reach the pages.")
@click.option("--certificate", type=_FILE, default=None, metavar="FILE", help="TLS certificate with its chain, PEM.")
@click.option("--key", type=_FILE, default=None, metavar="FILE", help="Private key of the certificate, PEM.")
@click.option("--behind-proxy", is_flag=True, help="A server in front of this one does TLS under --name.")
@click.option("--provider", type=_FILE, default=None, metavar="FILE", help="The identity provider's file, TOML.")
def command(db: Path, /, port: int | None, no_browser: bool, single_user: bool | None, **where: Any) -> int:
    """Open the dashboard, on 127.0.0.1 unless an identity provider is given. Ctrl+C ends it.

    It sends nothing anywhere and loads nothing from outside; with --provider it asks that provider who signs in. Pages
    that others can reach are refused without one.
    """
    settings = settings_for(db)  # settings that cannot be used stop it here, not on every page
    serving = Serving(**where)
    serving.check(settings.access)
    if serving.provider is not None and single_user:
        raise UsageError("--single-user is for this computer alone; leave it or --provider out")
    if single_user is None and serving.provider is None and access.is_new(db) and at_a_terminal():
        single_user = click.confirm("Does one person alone use this unit, on this computer, without a password?")
        if not single_user:
            click.echo("Then `intrapartum-audit account lead` makes the first lead and prints the PIN.", err=True)
        question = "Which standard do the pages and the pack begin with? (your local guidelines decide)"
        standard = click.prompt(question, type=click.Choice(STANDARDS), default=settings.trends.standard)
        keep_standard(db, standard)
    if single_user is not None:
        access.choose(db, single_user=single_user)
    return launch(db, port=port, open_browser=not no_browser, serving=serving)


def at_a_terminal() -> bool:
    """Can somebody be asked?"""
    return sys.stdin.isatty()
