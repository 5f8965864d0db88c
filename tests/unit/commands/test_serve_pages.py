"""How the pages are started: on the loopback address, sending nothing, whatever lies in the working folder."""

import asyncio
import socket

import pytest
from starlette.responses import Response

from audit.commands import serve_pages
from audit.errors import AuditError
from dashboards import large_files


def flags(port=8600):
    found = dict(part.lstrip("-").split("=", 1) for part in serve_pages.command_line(port) if part.startswith("--"))
    return found


def test_the_pages_are_served_on_the_loopback_address_only():
    found = flags(8600)
    assert found["server.address"] == "127.0.0.1"
    assert found["browser.serverAddress"] == "127.0.0.1"
    assert found["server.port"] == "8600"
    assert "--server.allowedHosts=127.0.0.1" in serve_pages.command_line(8600)


def test_nothing_is_sent_and_nothing_is_shown_of_errors():
    found = flags()
    assert found["browser.gatherUsageStats"] == "false"
    assert found["client.showErrorDetails"] == "none"
    assert found["client.showErrorLinks"] == "false"
    assert found["server.fileWatcherType"] == "none"
    assert found["server.enableXsrfProtection"] == "true"


def test_only_a_session_that_was_let_hands_over_large_files(monkeypatch):
    """RFC 9110, 15.5.14: 413 for content that is too large; 8.6: its length."""
    monkeypatch.setattr(large_files, "_LET", {"lead"})

    def sent(who: str, *length: tuple[bytes, bytes]) -> int:
        answers = []

        async def send(message):
            answers.append(message)

        scope = {"type": "http", "method": "PUT", "path": f"/_stcore/upload_file/{who}/f", "headers": [*length]}
        asyncio.run(large_files.LargeFiles(Response(status_code=204))(scope, None, send))
        return answers[0]["status"]

    large, small = (b"content-length", b"6000000"), (b"content-length", b"100000")
    assert [sent("lead", large), sent("viewer", large), sent("viewer"), sent("viewer", small)] == [204, 413, 413, 204]
    assert int(flags()["server.maxUploadSize"]) == large_files.LARGEST_MB


def test_every_flag_is_one_the_library_knows():
    from streamlit import config

    known = set(config.get_config_options(force_reparse=False))
    assert set(flags()) <= known


def test_a_stray_file_in_the_working_folder_cannot_stand_in_for_a_module():
    command = serve_pages.command_line(8600)
    assert command[1] == "-P"


def test_the_database_reaches_the_pages_and_other_settings_do_not(tmp_path, monkeypatch):
    monkeypatch.setenv("STREAMLIT_SERVER_ADDRESS", "0.0.0.0")
    found = serve_pages.environment(tmp_path / "unit.duckdb")
    assert found["INTRAPARTUM_AUDIT_DB"] == str((tmp_path / "unit.duckdb").resolve())
    assert not any(name.startswith("STREAMLIT_") for name in found)


def test_a_port_in_use_is_told_before_anything_starts(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(AuditError, match=f"port {port} is in use"):
            serve_pages.launch(tmp_path / "unit.duckdb", port=port, open_browser=False)
