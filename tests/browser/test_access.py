"""Who may talk to the pages: their own page on this computer under its own name, and nobody else."""

import errno
import socket
from urllib.parse import urlparse

import pytest

from audit.commands.serve_pages import HOST


def status(address, request):
    """The status line of the answer to a request that is sent as it stands."""
    with socket.create_connection((HOST, urlparse(address).port)) as connection:
        connection.sendall(request.encode())
        return connection.recv(200).split(b"\r\n")[0].decode()


def handshake(address, host, origin):
    """The status line of a WebSocket handshake (RFC 6455) that says it came for `host` from a page of `origin`."""
    sent = f"Origin: {origin}\r\n" if origin else ""
    return status(
        address,
        f"GET /_stcore/stream HTTP/1.1\r\nHost: {host}\r\n{sent}"
        "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n",
    )


@pytest.mark.parametrize("name", [HOST, "localhost"])
def test_pages_answer_their_own_page(small, name):
    own = f"{name}:{urlparse(small).port}"
    assert " 101 " in handshake(small, own, f"http://{own}")


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://reader.example.org", "http://127.0.0.1:{other}", "http://127.0.0.1", "http://0.0.0.0:{port}",
     "http://localhost:{port}", "ftp://127.0.0.1:{port}", "https://127.0.0.1:{port}",
     "http://127.0.0.1:{port}.example.org", "http://127.0.0.1:x"],
)  # fmt: skip
def test_a_connection_from_elsewhere_is_refused(small, origin):
    port = urlparse(small).port
    given = origin and origin.format(port=port, other=port + 1)
    assert " 403 " in handshake(small, f"{HOST}:{port}", given)


@pytest.mark.parametrize("host", ["reader.example.org", "0.0.0.0", "[::1]"])
def test_pages_refuse_another_name_for_this_computer(small, host):
    # DNS rebinding: a page elsewhere gives its own name this address
    own = f"{host}:{urlparse(small).port}"
    assert " 101 " not in handshake(small, own, f"http://{own}")
    assert " 400 " in status(small, f"GET / HTTP/1.1\r\nHost: {own}\r\nConnection: close\r\n\r\n")


def test_plain_requests_are_answered_under_the_own_name(small):
    own = f"{HOST}:{urlparse(small).port}"
    assert " 200 " in status(small, f"GET / HTTP/1.1\r\nHost: {own}\r\nConnection: close\r\n\r\n")


@pytest.mark.parametrize("path", ["/_stcore/metrics", "/_stcore/metrics/", "/_stcore/%6detrics"])
def test_nobody_is_told_how_many_sessions_there_are_and_what_they_hold(small, path):
    own = f"{HOST}:{urlparse(small).port}"
    assert " 404 " in status(small, f"GET {path} HTTP/1.1\r\nHost: {own}\r\nConnection: close\r\n\r\n")


def test_the_first_page_too_is_found_by_its_name(small):
    asked = f"Host: {HOST}:{urlparse(small).port}\r\nConnection: close\r\n\r\n"
    with socket.create_connection((HOST, urlparse(small).port)) as connection:
        connection.sendall(f"GET /this_month?period=2031-04 HTTP/1.1\r\n{asked}".encode())
        answer = connection.recv(2000).decode()
    assert " 307 " in answer.splitlines()[0]
    assert "location: /?period=2031-04" in answer.lower().splitlines()


def test_the_pages_do_not_listen_on_any_other_address(small):
    port = urlparse(small).port
    own = socket.gethostbyname(socket.gethostname())
    if own.startswith("127."):
        own = "127.0.0.2"
    with socket.socket() as probe:
        assert probe.connect_ex((own, port)) == errno.ECONNREFUSED
