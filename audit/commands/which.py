"""`which`: the name of the file that an import calls by its number or its tag."""

from pathlib import Path

import click

from audit.errors import UsageError
from audit.intake import folders
from audit.intake.contents import file_sha256
from audit.intake.door.remarks import FileRefused
from audit.intake.unpacked import unpacked
from audit.settings import Settings, settings_for


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit which 3 march/
  intrapartum-audit which 4f2a91c07e march/ april/"""
)
@click.argument("wanted", metavar="NUMBER|TAG")
@click.argument("paths", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path), metavar="PATH...")
def command(db: Path, wanted: str, paths: tuple[Path, ...]) -> int:
    """Name a file among those given.

    An import neither stores nor prints the names of files, which may say whose they are: it gives a file's number
    among those that were given, and the first figures of its SHA-256. Give the same files and folders here. What this
    command prints may identify somebody: keep it where the files are.
    """
    settings = settings_for(db)
    with unpacked(folders.candidates(paths), settings) as files:
        for candidate in files:
            if wanted == str(candidate.number) or _has_tag(candidate.path, wanted, settings):
                click.echo(f"{candidate.file}: {candidate.place}" if candidate.place else candidate.file)
                return 0
    raise UsageError("none of these files has this number or tag")


def _has_tag(path: Path, wanted: str, settings: Settings) -> bool:
    tag = wanted.lower().split(".")[0]
    if len(tag) < folders.TAG_CHARACTERS:
        return False
    try:
        mappings = (None, *settings.import_.mapping.values())
        return any(file_sha256(path, settings, mapping).startswith(tag) for mapping in mappings)
    except (OSError, FileRefused):
        return False
