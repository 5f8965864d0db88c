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
from audit.commands.serving import HOST, Serving
from audit.errors import AuditError
from audit.settings import settings_for
from audit.store import published

DB_VARIABLE = "INTRAPARTUM_AUDIT_DB"
PROVIDER_VARIABLE = "INTRAPARTUM_AUDIT_PROVIDER"
SCHEME_VARIABLE = "INTRAPARTUM_AUDIT_SCHEME"
ON_THIS_COMPUTER = Serving()

# A configuration file in the working folder must not be able to change any of these, so each goes as a flag.
_SETTINGS: dict[str, str] = {
    "server.headless": "true",
    "server.fileWatcherType": "none",
    "server.runOnSave": "false",
    "server.maxUploadSize": "500",  # of the page Import; other sessions less, by `dashboards/large_files.py`
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
    "theme.textColor": "#0B0E12",  # darker than our ink: the tables' first column is faded to six tenths, 5.2 to 1
    "theme.baseFontSize": "15",
    "theme.showWidgetBorder": "true",
}


def command_line(port: int, serving: Serving = ON_THIS_COMPUTER) -> list[str]:
    """The command that serves the pages: on a port of the loopback address, unless `serving` says otherwise."""
    flags = [f"--{name}={value}" for name, value in _SETTINGS.items()]
    address = [f"--server.address={serving.address}", f"--server.port={port}"]
    address += [f"--browser.serverAddress={serving.names[0]}"]
    # a page elsewhere must not reach these by giving its own name this address
    address += [f"--server.allowedHosts={name}" for name in serving.names]
    if serving.certificate and serving.key:
        address += [f"--server.sslCertFile={serving.certificate}", f"--server.sslKeyFile={serving.key}"]
    # a stray file of secrets must not switch a sign-in on
    address += [f"--secrets.files={serving.provider or paths.dashboards_folder() / 'no_secrets.toml'}"]
    app = str(paths.dashboards_folder() / "app.py")
    # -P: a stray file in the working folder must not stand in for a module of the same name
    server = str(paths.dashboards_folder() / "serve.py")
    return [sys.executable, "-P", server, "run", app, *address, f"--browser.serverPort={port}", *flags]


def environment(db: Path, serving: Serving = ON_THIS_COMPUTER) -> dict[str, str]:
    """The environment of the pages: this one without Streamlit's own variables, the database, the way to sign in."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("STREAMLIT_")}
    package_parent = str(Path(__file__).resolve().parent.parent)
    found = [package_parent, kept.get("PYTHONPATH", "")]
    own = {DB_VARIABLE: str(db.resolve()), PROVIDER_VARIABLE: "1" if serving.provider else "0"}
    own[SCHEME_VARIABLE] = "https" if serving.certificate or serving.behind_proxy else "http"
    return {**kept, **own, "PYTHONPATH": os.pathsep.join(filter(None, found))}


def free_port() -> int:
    """A port of the loopback address that nobody uses."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


def launch(db: Path, port: int | None, open_browser: bool, serving: Serving = ON_THIS_COMPUTER) -> int:
    """Serve the pages until the user ends them; the exit code of the command.

    Raises UsageError when the pages would be open to others without an identity provider, AuditError when the port is
    taken or the database cannot be opened. A database that is not there yet is no
    error: the pages say how to make one.
    """
    serving.check(settings_for(db).access)
    if port is not None and not _is_free(port, serving.address):
        raise AuditError(f"port {port} is in use; give another --port, or none to take a free one")
    published.source(db)
    chosen = port or free_port()
    address = serving.address_of(chosen)
    click.echo(f"Dashboard on {address} (Ctrl+C ends it)", err=True)
    # the library would greet with an address of its own on standard output
    # whoever ends this process by a signal means the pages too
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    process = subprocess.Popen(command_line(chosen, serving), env=environment(db, serving), stdout=subprocess.DEVNULL)
    try:
        if open_browser and _answers(chosen, process, serving.reached):
            _open(address)
        return process.wait()
    except KeyboardInterrupt:
        return 0
    finally:
        _end(process)


def _is_free(port: int, address: str) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError:
            return False
    return True


def _answers(port: int, process: subprocess.Popen[bytes], host: str = HOST, wait_s: float = 30.0) -> bool:
    for _ in range(int(wait_s / 0.2)):
        if process.poll() is not None:
            return False
        with socket.socket() as probe:
            probe.settimeout(0.2)
            if probe.connect_ex((host, port)) == 0:
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
