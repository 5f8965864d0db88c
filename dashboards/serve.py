"""Start the pages' server with rules of its own: only the page itself may open its connection, under its own name.

The library lets in a connection without an origin, those of other ports of this computer, and asks an address service
on the internet who it is when a foreign origin comes. None of that here: the origin must be the very address that was
asked for (RFC 6454: scheme, host and port), the name must be one of `server.allowedHosts`, for plain requests too.
"""

import os
import sys
from pathlib import Path
from urllib.parse import urlparse

from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send
from streamlit import config, net_util
from streamlit.web import cli
from streamlit.web.server.starlette import starlette_app, starlette_routes, starlette_websocket

_FOLDER = Path(__file__).resolve().parent
if str(_FOLDER.parent) not in sys.path:
    sys.path.insert(0, str(_FOLDER.parent))

from dashboards import large_files, warmed  # noqa: E402 - the path above must be set first
from dashboards.register import FIRST  # noqa: E402 - as above

SCHEME_VARIABLE = "INTRAPARTUM_AUDIT_SCHEME"


class Addresses:
    """The first page is at the address without a name; who writes its name, as for any other page, is led there.

    The library counts its sessions and measures the memory of each for whoever asks: nobody is told.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request for the first page's name with its address, all else as before."""
        path = scope["path"].rstrip("/") if scope["type"] == "http" else None
        if path == f"/{Path(FIRST.file).stem}":
            asked = scope["query_string"].decode("latin-1")
            await RedirectResponse(f"/?{asked}" if asked else "/")(scope, receive, send)
        elif path == f"/{starlette_routes.ROUTE_METRICS}":
            await PlainTextResponse("Not found", 404)(scope, receive, send)
        else:
            await self._app(scope, receive, send)


def own_origin(origin: str | None, host: str | None) -> bool:
    """Does a connection come from the page that this server gave out under this name?"""
    if origin is None or host is None or not starlette_websocket.is_host_allowed(host):
        return False
    try:
        parsed = urlparse(origin)
        asked = urlparse(f"//{host}")
        ports = (parsed.port, asked.port)
    except ValueError:
        return False
    # behind TLS a page of the same name without it may be anybody's between here and the browser
    return (
        parsed.scheme == os.environ.get(SCHEME_VARIABLE, "http")
        and parsed.hostname == asked.hostname
        and ports[0] == ports[1]
    )


def apply() -> None:
    """Put the rules in place; called before the server is made."""
    middleware = starlette_app.create_streamlit_middleware

    def with_own_names() -> list[Middleware]:
        names = list(config.get_option("server.allowedHosts"))
        own = [
            Middleware(TrustedHostMiddleware, allowed_hosts=names, www_redirect=False),
            Middleware(Addresses),
            Middleware(large_files.LargeFiles),
        ]
        return [*own, *middleware()]

    starlette_app.create_streamlit_middleware = with_own_names
    starlette_websocket._is_origin_allowed = own_origin
    net_util.get_external_ip = lambda: None


if __name__ == "__main__":
    apply()
    warmed.begin()
    try:
        cli.main()
    finally:
        warmed.end()
