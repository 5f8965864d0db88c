"""Who may hand over large files: sessions in which the page Import stands before somebody who may take them in.

What is handed over lies in the server's memory. Every other session may send as much as a filled form needs.
"""

import re

from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send
from streamlit.runtime.scriptrunner import get_script_run_ctx

LARGEST_MB = 500  # of a file through the browser; larger ones go by the command; our choice
_OTHERS_BYTES = 5 * 1024 * 1024  # a form of reads is smaller; our choice
_SENT_TO = re.compile(r"/_stcore/upload_file/([^/]+)/")
_LET: set[str] = set()  # sessions


def let() -> None:
    """Let the session that asks hand over large files until it ends."""
    here = get_script_run_ctx()
    if here is not None:
        _LET.add(here.session_id)


class LargeFiles:
    """Refuses what is larger than a form, or does not say how large it is, from sessions that were not let."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a file that is too large with 413 (RFC 9110, 15.5.14), all else as before."""
        sent = _SENT_TO.search(scope["path"]) if scope["type"] == "http" and scope["method"] == "PUT" else None
        if sent is not None and sent[1] not in _LET:
            length = dict(scope["headers"]).get(b"content-length", b"")
            if not length.isdigit() or int(length) > _OTHERS_BYTES:
                await Response(status_code=413)(scope, receive, send)
                return
        await self._app(scope, receive, send)
