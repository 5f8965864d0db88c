"""Start the pages on this computer: loopback only, nothing sent, nothing fetched, every setting passed as a flag."""

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import click

from audit import paths
from audit.charts import palette
from audit.errors import AuditError
from audit.store import published

DB_VARIABLE = "INTRAPARTUM_AUDIT_DB"
HOST = "127.0.0.1"

# A configuration file in the working folder must not be able to change any of these, so each goes as a flag.
_SETTINGS: dict[str, str] = {
    "server.headless": "true",
    "server.fileWatcherType": "none",
    "server.runOnSave": "false",
    "server.maxUploadSize": "5",
    "server.enableCORS": "true",
    "server.enableXsrfProtection": "true",
    "server.enableStaticServing": "false",
    "server.enableAgentApi": "false",
    "server.showEmailPrompt": "false",
    "browser.gatherUsageStats": "false",
    "client.toolbarMode": "viewer",
    "client.showErrorDetails": "none",
    "client.showErrorLinks": "false",
    "global.developmentMode": "false",
    "logger.level": "warning",
    "logger.enableRich": "false",  # it would print an error's text, which may quote a row
    "theme.base": "light",
    "theme.font": palette.FONT,
    "theme.headingFont": palette.FONT,
    "theme.codeFont": "ui-monospace, Menlo, Consolas, 'DejaVu Sans Mono', monospace",
    "theme.primaryColor": palette.BLUE,
    "theme.backgroundColor": palette.PAPER,
    "theme.secondaryBackgroundColor": "#F1F4F3",
    "theme.textColor": palette.INK,
    "theme.baseFontSize": "15",
    "theme.showWidgetBorder": "true",
}


def command_line(port: int) -> list[str]:
    """The command that serves the pages on a port of the loopback address."""
    flags = [f"--{name}={value}" for name, value in _SETTINGS.items()]
    address = [f"--server.address={HOST}", f"--server.port={port}", f"--browser.serverAddress={HOST}"]
    # a page elsewhere must not reach these by giving its own name this address
    address += [f"--server.allowedHosts={HOST}", "--server.allowedHosts=localhost"]
    app = str(paths.dashboards_folder() / "app.py")
    # -P: a stray file in the working folder must not stand in for a module of the same name
    server = str(paths.dashboards_folder() / "serve.py")
    return [sys.executable, "-P", server, "run", app, *address, f"--browser.serverPort={port}", *flags]


def environment(db: Path) -> dict[str, str]:
    """The environment of the pages: this one without Streamlit's own variables, and the database."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("STREAMLIT_")}
    package_parent = str(Path(__file__).resolve().parent.parent)
    found = [package_parent, kept.get("PYTHONPATH", "")]
    return {**kept, DB_VARIABLE: str(db.resolve()), "PYTHONPATH": os.pathsep.join(filter(None, found))}


def free_port() -> int:
    """A port of the loopback address that nobody uses."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


def launch(db: Path, port: int | None, open_browser: bool) -> int:
    """Serve the pages until the user ends them; the exit code of the command.

    Raises AuditError when the port is taken or the database cannot be opened. A database that is not there yet is no
    error: the pages say how to make one.
    """
    if port is not None and not _is_free(port):
        raise AuditError(f"port {port} is in use; give another --port, or none to take a free one")
    published.source(db)
    chosen = port or free_port()
    address = f"http://{HOST}:{chosen}"
    click.echo(f"Dashboard on {address} (Ctrl+C ends it)", err=True)
    # the library would greet with an address of its own on standard output
    # whoever ends this process by a signal means the pages too
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    process = subprocess.Popen(command_line(chosen), env=environment(db), stdout=subprocess.DEVNULL)
    try:
        if open_browser and _answers(chosen, process):
            _open(address)
        return process.wait()
    except KeyboardInterrupt:
        return 0
    finally:
        _end(process)


def _is_free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError:
            return False
    return True


def _answers(port: int, process: subprocess.Popen[bytes], wait_s: float = 30.0) -> bool:
    for _ in range(int(wait_s / 0.2)):
        if process.poll() is not None:
            return False
        with socket.socket() as probe:
            probe.settimeout(0.2)
            if probe.connect_ex((HOST, port)) == 0:
                return True
        try:
            process.wait(timeout=0.2)
        except subprocess.TimeoutExpired:
            continue
    return False


def _open(address: str) -> None:
    import webbrowser

    try:
        webbrowser.open(address)
    except webbrowser.Error:
        click.echo(f"No browser could be opened; open {address} yourself", err=True)


def _end(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        process.terminate()
        try:
            process.wait(timeout=5)
        except subprocess.TimeoutExpired:
            process.kill()
