"""Answers of the copy in force, kept for all sessions: the one door through which a page asks a question.

They are kept by the state that was copied, which every import or analysis changes, by the settings in force and by what
is asked: a page can never show figures from before the last analysis.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Concatenate, ParamSpec, TypeVar

import streamlit as st

from audit.agreement.options import AgreementOptions
from audit.response.rules import ResponseSettings
from audit.settings import Settings
from audit.store import published
from audit.store.database import Connection
from audit.store.published import Source
from dashboards import place

P = ParamSpec("P")
T = TypeVar("T")
Asked = dict[str, Any]


def whole() -> Source | None:
    """The copy in force, of all units, without what must be said beside it: what was worked out stays good while
    somebody writes. None with no database yet.
    """
    db = place.database()
    found = None if db is None else published.source(db, held_s=place.HELD_S)
    return None if found is None else replace(found, note=None)


def of(found: Source, question: Callable[Concatenate[Connection, P], T], /, *asked: P.args, **options: P.kwargs) -> T:
    """What a question says of a copy. `question` : a function of a module, known by its name."""
    answer: T = _kept(*_key(found, question), question, asked, options)
    return answer


def resampled(
    found: Source, question: Callable[Concatenate[Connection, P], T], /, *asked: P.args, **options: P.kwargs
) -> T:
    """As `of`, with words for who waits while samples are drawn."""
    answer: T = _kept_resampled(*_key(found, question), question, asked, options)
    return answer


def compared(
    found: Source, question: Callable[Concatenate[Connection, P], T], /, *asked: P.args, **options: P.kwargs
) -> T:
    """As `of`, with words for who waits while half hours are compared."""
    answer: T = _kept_compared(*_key(found, question), question, asked, options)
    return answer


def _key(found: Source, question: Callable[..., Any]) -> tuple[Source, str, str]:
    return found, place.settings(place.there()).sha256, f"{question.__module__}.{question.__qualname__}"


# the hash of all settings stands in the key already
_KNOWN_BY_HASH: dict[str | type[Any], Callable[[Any], Any]] = {
    kind: lambda _: "" for kind in (Settings, ResponseSettings, AgreementOptions)
}


@st.cache_data(max_entries=400, show_spinner=False, hash_funcs=_KNOWN_BY_HASH)
def _kept(found: Source, sha256: str, name: str, _question: Any, asked: tuple[Any, ...], options: Asked) -> Any:
    with published.open_for_question(found) as con:
        return _question(con, *asked, **options)


@st.cache_data(max_entries=60, show_spinner="Drawing resamples …", hash_funcs=_KNOWN_BY_HASH)
def _kept_resampled(
    found: Source, sha256: str, name: str, _question: Any, asked: tuple[Any, ...], options: Asked
) -> Any:
    with published.open_for_question(found) as con:
        return _question(con, *asked, **options)


@st.cache_data(max_entries=12, show_spinner="Comparing half hours …", hash_funcs=_KNOWN_BY_HASH)
def _kept_compared(
    found: Source, sha256: str, name: str, _question: Any, asked: tuple[Any, ...], options: Asked
) -> Any:
    with published.open_for_question(found) as con:
        return _question(con, *asked, **options)
