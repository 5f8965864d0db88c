"""A client that talks to the pages' server over its websocket without a browser, and says whatever it likes."""

import re
from contextlib import ExitStack
from urllib.parse import urlparse

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import connect

from dashboards.keys import ReviewKey
from dashboards.signed_in import _ROLE_WORDS

_PLACE = re.compile(r"^\$\$ID-[0-9a-f]+-(.*)$", re.DOTALL)


class Client:
    """One session: `run` asks for a page with the widgets' values, and keeps every frame that came back."""

    def __init__(self, address, headers=None, xsrf=None):
        port = urlparse(address).netloc
        words = ["streamlit", *([xsrf] if xsrf else [])]
        self._stack = ExitStack()
        self._socket = self._stack.enter_context(connect(
            f"ws://{port}/_stcore/stream", origin=address, subprotocols=words, max_size=None,
            additional_headers=headers or {}, open_timeout=300, close_timeout=5,
        ))  # fmt: skip
        self.frames = []
        self.last = []
        self.widgets = {}
        self.buttons = set()

    def run(self, page, *, values=None, pressed=(), query="", fragment=""):
        """Ask for a page. `values`: text by a widget's id; `pressed`: ids of buttons. Wait until the run has ended."""
        message = BackMsg()
        state = message.rerun_script
        state.page_name, state.query_string, state.fragment_id = page, query, fragment
        for place, value in (values or {}).items():
            state.widget_states.widgets.add(id=place, string_value=value)
        for place in pressed:
            state.widget_states.widgets.add(id=place, trigger_value=True)
        self._socket.send(message.SerializeToString())
        self.last = []
        while True:
            frame = self._socket.recv(timeout=300)
            found = ForwardMsg.FromString(frame)
            self.frames.append(frame)
            self.last.append(frame)
            self._note_widget(found)
            if found.WhichOneof("type") == "script_finished" and found.script_finished in (
                ForwardMsg.FINISHED_SUCCESSFULLY,
                ForwardMsg.FINISHED_FRAGMENT_RUN_SUCCESSFULLY,
            ):
                return self

    def sign_in(self, role, code="", pin=""):
        """Fill in the form as the page does."""
        self.run("")
        at = {key: place for place, key in self.widgets.items()}
        values = {at[ReviewKey.SIGN_ROLE]: _ROLE_WORDS[role]}
        self.run("", values=values)
        at = {key: place for place, key in self.widgets.items()}
        if code:
            values[at[ReviewKey.SIGN_CODE]] = code
        values[at[ReviewKey.SIGN_PIN]] = pin
        return self.run("", values=values, pressed=[at[ReviewKey.SIGN_IN]])

    def sent_to(self):
        """The address to which the last answer sends the browser, for signing in or out; None for nowhere."""
        for frame in self.last:
            found = ForwardMsg.FromString(frame)
            if found.WhichOneof("type") == "auth_redirect":
                return found.auth_redirect.url
        return None

    def holds(self, words):
        """Was this sent in answer to the last question?"""
        return any(words.encode() in frame for frame in self.last)

    def close(self):
        self._stack.close()

    def _note_widget(self, message):
        element = message.delta.new_element
        kind = element.WhichOneof("type")
        place = getattr(getattr(element, kind), "id", "") if kind else ""
        found = _PLACE.match(place)
        if found:
            self.widgets[place] = found[1]
            if kind == "button":
                self.buttons.add(place)
