"""Texts of pages leave as the unit writes them: one place for all, where the library sends an element off."""

from typing import Any, Final

from streamlit.runtime.scriptrunner_utils.script_run_context import ScriptRunContext

from audit import house_style

# of an element or a part of the page, what is read; anything else (options, values, keys) is looked up by its text
_READ: Final = {
    "markdown": ("body", "help"),
    "heading": ("body", "help"),
    "alert": ("body",),
    "metric": ("label", "body", "delta", "help"),
    "text": ("body", "help"),
    "toast": ("body",),
    **dict.fromkeys(
        ("button", "checkbox", "date_input", "download_button", "number_input", "page_link", "radio", "selectbox",
         "multiselect", "text_area", "text_input", "time_input"),
        ("label", "help"),
    ),
    "expandable": ("label",),
    "popover": ("label", "help"),
    "tab": ("label",),
}  # fmt: skip
_SENT = ScriptRunContext.enqueue


def _send(context: ScriptRunContext, message: Any) -> None:
    if not house_style.in_force().is_ours and message.WhichOneof("type") == "delta":
        delta = message.delta
        part = delta.new_element if delta.WhichOneof("type") == "new_element" else delta.add_block
        name = part.WhichOneof("type") or ""
        _write(getattr(part, name), _READ.get(name, ())) if name else None
    _SENT(context, message)


def _write(element: Any, fields: tuple[str, ...]) -> None:
    for name in fields:
        text = getattr(element, name, "")
        if text:
            setattr(element, name, house_style.text(text))


def follow() -> None:
    """From now on every page of this process; what is cached of a page is kept as it was before."""
    ScriptRunContext.enqueue = _send  # type: ignore[method-assign, assignment]
