"""Pages that others reach: with a certificate of their own, and with a server in front that does TLS.

RFC 9112 section 3.2 (400 for a host that is not served), RFC 9110 (101, 403), RFC 6455 section 4 (the handshake of a
websocket, its origin), RFC 8446 (TLS). The certificate is one of this test, for a name that nobody has (RFC 2606).
"""

import asyncio
import datetime
import secrets
import socket
import ssl
import threading
from contextlib import contextmanager

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from audit.commands.serve_pages import HOST, free_port
from audit.commands.serving import Serving
from audit.settings import settings_for
from tests import page_databases

NAME = "audit.unit.example"


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    """A certificate and its key, signed by itself."""
    folder = tmp_path_factory.mktemp("tls")
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, NAME)])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(x509.random_serial_number()).not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(NAME)]), critical=False)
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    (folder / "a.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    plain = serialization.NoEncryption()
    pem = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain)
    (folder / "a.key").write_bytes(pem)
    return folder / "a.pem", folder / "a.key"


@pytest.fixture(scope="module")
def unit(tmp_path_factory):
    db = page_databases.small_database(tmp_path_factory.mktemp("encrypted"))
    (db.parent / "unit_settings.toml").write_text('[access.roles]\n"leads" = "lead"\n', encoding="utf-8")
    file = db.parent / "provider.toml"
    file.write_text(
        f'[auth]\nredirect_uri = "https://{NAME}/oauth2callback"\ncookie_secret = "{secrets.token_hex(32)}"\n'
        'client_id = "audit"\nclient_secret = "x"\n'
        'server_metadata_url = "https://login.unit.example/.well-known/openid-configuration"\n',
        encoding="utf-8",
    )
    file.chmod(0o600)
    return db, file


@contextmanager
def relay(port, certificate, to):
    """A server in front: takes TLS off and passes on every byte, the host name and websockets among them.

    In one thread: two that read and write one TLS connection at once spoil its records.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(*certificate)

    async def passed(reading, writing):
        try:
            while part := await reading.read(65536):
                writing.write(part)
                await writing.drain()
        except OSError:
            pass
        finally:
            writing.close()

    async def both_ways(reading, writing):
        reading_inner, writing_inner = await asyncio.open_connection(HOST, to)
        await asyncio.gather(passed(reading, writing_inner), passed(reading_inner, writing))

    async def begin():
        return await asyncio.start_server(both_ways, HOST, port, ssl=context)

    async def end():
        listening.close()
        left = asyncio.all_tasks() - {asyncio.current_task()}
        for task in left:
            task.cancel()
        await asyncio.gather(*left, return_exceptions=True)

    loop = asyncio.new_event_loop()
    serving = threading.Thread(target=loop.run_forever, daemon=True)
    serving.start()
    # never in the thread of the tests, where the browser's own loop may run
    listening = asyncio.run_coroutine_threadsafe(begin(), loop).result()
    try:
        yield
    finally:
        asyncio.run_coroutine_threadsafe(end(), loop).result()
        loop.call_soon_threadsafe(loop.stop)
        serving.join()
        loop.close()


@pytest.fixture(scope="module", params=["certificate", "in front"])
def port(request, serve, unit, certificate):
    """Where a browser would come to, in either way of serving."""
    db, provider = unit
    inner, outer = free_port(), free_port()
    ways = {
        "certificate": Serving(name=NAME, certificate=certificate[0], key=certificate[1], provider=provider),
        "in front": Serving(name=NAME, behind_proxy=True, provider=provider),
    }
    serving = ways[request.param]
    serving.check(settings_for(db).access)
    serve(db, serving=serving, port=inner)
    if request.param == "certificate":
        yield inner
        return
    with relay(outer, certificate, inner):
        yield outer


def asked(port, certificate, path, host=NAME, until=b"\r\n\r\n", **headers):
    """Version of TLS, status and body of one request, the certificate checked."""
    context = ssl.create_default_context(cafile=certificate[0])
    asks = [f"{name.replace('_', '-')}: {each}" for name, each in headers.items()]
    plain = socket.create_connection((HOST, port), timeout=60)
    with context.wrap_socket(plain, server_hostname=NAME) as talk:
        talk.sendall("\r\n".join([f"GET {path} HTTP/1.1", f"Host: {host}", *asks, "", ""]).encode())
        found = b""
        while until not in found.lower() and (more := talk.recv(65536)):
            found += more
        return talk.version(), int(found.split()[1]), found.decode("latin-1")


def handshake(port, certificate, host=NAME, **headers):
    key = "dGhlIHNhbXBsZSBub25jZQ=="  # of RFC 6455, section 1.3
    upgrade = {"Upgrade": "websocket", "Connection": "Upgrade", "Sec_WebSocket_Key": key, "Sec_WebSocket_Version": "13"}
    return asked(port, certificate, "/_stcore/stream", host, **upgrade, **headers)[1]


def test_pages_are_served_under_their_name_by_tls_alone(port, certificate):
    version, status, found = asked(port, certificate, "/", until=b"<html")
    assert version in ("TLSv1.2", "TLSv1.3")
    assert status == 200
    assert "<html" in found.lower()
    with socket.create_connection((HOST, port), timeout=60) as plain:
        plain.sendall(f"GET / HTTP/1.1\r\nHost: {NAME}\r\n\r\n".encode())
        try:
            answer = plain.recv(4096)
        except ConnectionError:
            answer = b""
    assert b"200" not in answer.split(b"\r\n")[0]


def test_another_name_is_refused(port, certificate):
    assert asked(port, certificate, "/", "elsewhere.example")[1] == 400
    assert asked(port, certificate, "/", HOST)[1] == 400


def test_a_websocket_opens_from_the_pages_own_origin_and_no_other(port, certificate):
    assert handshake(port, certificate, Origin=f"https://{NAME}") == 101
    assert handshake(port, certificate, Origin="https://elsewhere.example") == 403
    assert handshake(port, certificate, Origin=f"http://{NAME}") == 403  # RFC 6454: another scheme, another origin
    assert handshake(port, certificate, Origin=f"https://{HOST}") == 403
    assert handshake(port, certificate) == 403
