"""Who may talk to the pages: this computer under its own name, and nobody under another."""

import errno
import socket
from urllib.parse import urlparse

from audit.commands.serve_pages import HOST


def handshake(address, host):
    """The status line of a WebSocket handshake (RFC 6455) that says it came for `host`."""
    port = urlparse(address).port
    request = (
        f"GET /_stcore/stream HTTP/1.1\r\nHost: {host}:{port}\r\nOrigin: http://{host}:{port}\r\n"
        "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    )
    with socket.create_connection((HOST, port)) as connection:
        connection.sendall(request.encode())
        return connection.recv(200).split(b"\r\n")[0].decode()


def test_pages_answer_this_computer_and_refuse_another_name_for_it(small):
    assert " 101 " in handshake(small, HOST)
    # DNS rebinding: a page elsewhere gives its own name this address
    assert " 403 " in handshake(small, "reader.example.org")


def test_the_pages_do_not_listen_on_any_other_address(small):
    port = urlparse(small).port
    own = socket.gethostbyname(socket.gethostname())
    if own.startswith("127."):
        own = "127.0.0.2"
    with socket.socket() as probe:
        assert probe.connect_ex((own, port)) == errno.ECONNREFUSED
