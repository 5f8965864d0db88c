"""The command line: parse, call one function, print, map errors to exit codes."""

import functools
import importlib
import logging
import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

import click

from audit import logs, paths
from audit.errors import EXIT_OTHER, EXIT_USAGE, AuditError
from audit.store import disk
from audit.version import __version__

CAUTION = (
    "For retrospective review by licensed clinicians. Not for care in progress, not a medical device;"
    " local guidelines decide."
)
_DEFAULT_DB = "unit.duckdb"
_DEBUG = "INTRAPARTUM_AUDIT_DEBUG"
_log = logging.getLogger(__name__)
_LOGGED: list[click.Command] = []  # those whose start and end are logged already

# command -> module under audit.commands and its one-line help; a module is imported only when its command is used
_COMMANDS: dict[str, tuple[str, str]] = {
    "import": ("import_files", "Take files and folders into the database."),
    "analyse": ("analyse", "Read every tracing that is new or changed."),
    "delays": ("delays", "The response clock, late episodes first."),
    "agreement": ("agreement", "How far readers agree, with intervals."),
    "find": ("find", "Cases worth discussing, with reasons."),
    "trends": ("trends", "Monthly measures with control limits."),
    "pack": ("pack", "Print the meeting pack of a month."),
    "validate": ("validate", "Compare the computed reading with the experts of the open database."),
    "dashboard": ("dashboard", "Open the dashboard on this computer."),
    "demo": ("demo", "Make the invented unit and open it."),
    "check": ("check", "Verify the database."),
    "account": ("account", "Make a role or reader code known."),
    "reset-pin": ("reset_pin", "Give a role or reader code a new PIN."),
    "backup": ("backup", "Write one verified file of everything but the key."),
    "restore": ("restore", "Put a backup in place."),
    "move": ("move", "Move the database and all that belongs to it to another folder."),
    "init": ("init", "Make a folder to begin with: settings, examples, a checklist."),
    "doctor": ("doctor", "Versions, permissions, fonts, locks, disk and clock."),
    "imports": ("imports", "What was imported, batch by batch."),
    "undo": ("undo", "Take an import back."),
    "export": ("export", "Tables as CSV, Parquet or a workbook, and a case's strip."),
    "summary": ("summary", "A unit's months for a regional office, without a labour in them."),
    "merge": ("merge", "Units' summaries into a regional database."),
    "which": ("which", "Name the file that an import calls by number and tag."),
    "pseudonym": ("pseudonym", "The pseudonym of a case id, worked out with the unit's key."),
}


@dataclass
class Context:
    """What every command shares."""

    db: Path
    named: bool = False  # whether --db or the environment named it

    def __post_init__(self) -> None:
        """Raise AuditError for a link that leads back to itself."""
        try:
            self.db.resolve()
        except RuntimeError as error:
            raise AuditError(f"{self.db}: a link that leads back to itself; name the database") from error


def _set_db(ctx: click.Context, _param: click.Parameter, value: Path | None) -> None:
    if value is not None:
        # a command's context took over its group's object before this option was read
        ctx.obj = ctx.find_root().obj = Context(db=value, named=True)


def _db_option() -> click.Option:
    return click.Option(
        ["--db"],
        type=click.Path(dir_okay=False, path_type=Path),
        expose_value=False,
        is_eager=True,
        callback=_set_db,
        metavar="FILE",
        help="The database [default: $INTRAPARTUM_AUDIT_DB, else unit.duckdb in the current folder].",
    )


class LazyGroup(click.Group):
    """Imports a command's module only when it is used, and gives every command `--db` and the database it names."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module = importlib.import_module(f"audit.commands.{_COMMANDS[cmd_name][0]}")
        command: click.Command = module.command
        command.name = cmd_name
        if command not in _LOGGED:
            assert command.callback is not None
            command.callback = _logged(cmd_name, command.callback)
            _LOGGED.append(command)
        if not any("--db" in param.opts for param in command.params):
            command.params.append(_db_option())
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in _COMMANDS.items()])


def _logged(name: str, run: Callable[..., Any]) -> Callable[..., Any]:
    """A command that is given the database first, and leaves its start, its end and where it failed in its log."""

    @functools.wraps(run)
    def logged(*args: Any, **kwargs: Any) -> Any:
        db = click.get_current_context().obj.db
        with logs.beside(db):
            begun, why = time.monotonic(), ""
            code: Any = None
            _log.info("%s started, version %s", name, __version__)
            try:
                code = run(db, *args, **kwargs)
            except BaseException as error:
                code, why = _exit_code_of(error), f" ({type(error).__name__})"
                if not isinstance(error, _FORESEEN) and not _ASKED:
                    _log.error("%s: something unforeseen", name, exc_info=error, extra=logs.SAID)
                    setattr(error, _DETAILS, logs.name_in_use())
                raise
            finally:
                _log.info("%s ended with %d after %.1f s%s", name, code or 0, time.monotonic() - begun, why)
        return code

    return logged


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(__version__, prog_name="intrapartum-audit")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Monthly review of how a labour unit read and answered fetal heart tracings.

    For retrospective review by licensed clinicians. Not for care in progress, not a medical device; local guidelines
    decide.

    \b
    Examples:
      intrapartum-audit demo
      intrapartum-audit import tracings/ cases.csv care_events.csv
      intrapartum-audit analyse
      intrapartum-audit dashboard
    """
    named = os.environ.get("INTRAPARTUM_AUDIT_DB")
    ctx.obj = ctx.obj or Context(db=Path(named or _DEFAULT_DB), named=bool(named))


cli.params.append(_db_option())


def main(args: list[str] | None = None) -> None:
    """Run the command line and exit with the contract's exit codes. What it writes is for its owner alone."""
    paths.files_for_owner_only()
    with _stoppable():
        sys.exit(_guarded(lambda: cli.main(args=args, prog_name="intrapartum-audit", standalone_mode=False)))


class _Stopped(KeyboardInterrupt):
    """Somebody, a closed terminal or a shutdown asked this process to end."""


# the interrupt of a terminal, the end that a shutdown asks for, and a terminal that was closed
_STOPS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
_ASKED: list[int] = []


@contextmanager
def _stoppable() -> Iterator[None]:
    """End every command as Ctrl+C does: what is not committed is undone, workers and files are closed."""
    terminals = [stream.fileno() for stream in (sys.stdout, sys.stderr) if _is_terminal(stream)]

    def stop(number: int, _frame: FrameType | None) -> None:
        if number != signal.SIGINT:
            # a shutdown sends more than one, and the first is being obeyed
            for again in _STOPS:
                signal.signal(again, signal.SIG_IGN)
        if number == getattr(signal, "SIGHUP", None):
            _point_nowhere(terminals)
        _ASKED.append(number)
        raise _Stopped

    # one that is ignored stays so: whoever started this wants it to outlive the terminal
    former = {number: signal.getsignal(number) for number in _STOPS}
    taken = [number for number, handler in former.items() if handler != signal.SIG_IGN]
    for number in taken:
        signal.signal(number, stop)
    try:
        yield
    finally:
        _ASKED.clear()
        for number in taken:
            signal.signal(number, former[number])


def _is_terminal(stream: Any) -> bool:
    with suppress(OSError, ValueError, AttributeError):
        return bool(stream.isatty() and stream.fileno() >= 0)
    return False


def _point_nowhere(descriptors: list[int]) -> None:
    """A terminal that is gone takes no more words; writing to it would be an error in the middle of closing."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for descriptor in descriptors:
        os.dup2(nowhere, descriptor)
    os.close(nowhere)


# what is told in a sentence and needs no details
_FORESEEN = (click.exceptions.Exit, click.ClickException, click.Abort, AuditError, KeyboardInterrupt, BrokenPipeError)
_DETAILS = "details_in"  # set on an unforeseen error: the log that holds its places


def _guarded(run: Callable[[], Any]) -> int:
    try:
        result = run()
    except BaseException as error:
        if not isinstance(error, (*_FORESEEN, Exception)):
            raise
        # a library in the middle of a long call tells the stop in words of its own
        _tell(_Stopped() if _ASKED else error)
        return _exit_code_of(error)
    return result if isinstance(result, int) else 0


def _exit_code_of(error: BaseException) -> int:
    if isinstance(error, click.exceptions.Exit):
        return int(error.exit_code)
    if isinstance(error, click.UsageError):
        return EXIT_USAGE
    return error.exit_code if isinstance(error, AuditError) else EXIT_OTHER


def _tell(error: BaseException) -> None:
    if isinstance(error, click.exceptions.Exit):
        return
    if isinstance(error, click.ClickException):
        error.show()
    elif isinstance(error, AuditError):
        click.echo(f"Error: {error}", err=True)
    elif isinstance(error, (KeyboardInterrupt, click.Abort)):
        click.echo("Stopped. What was stored so far is kept; run the command again to go on.", err=True)
    elif isinstance(error, BrokenPipeError):
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - lives until the process ends
    elif os.environ.get(_DEBUG):
        raise error
    elif (told := disk.why(error)) is not None:
        click.echo(f"Error: {told}", err=True)
    else:
        log = getattr(error, _DETAILS, None)
        details = f"details in {log}" if log else f"set {_DEBUG}=1 and run the command again to see where"
        click.echo(
            f"Error: something went wrong that is not your mistake ({type(error).__name__}); {details}", err=True
        )
