"""Charts to JSON: without checking each against the schema again (the tests do), and without a limit on rows.

The limit guards against raw data in a chart; here every line was thinned before (`audit.charts.strip.decimate`).
"""

import math
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import altair as alt
import pandas as pd
from altair.utils import schemapi

from audit import house_style

# of a specification, where texts lie that are drawn; anything else names fields, colours and ways
_SHOWN = frozenset({"values", "datasets", "domain", "sort"})
_QUOTED = re.compile(r"'([^']*)'")


def plain_rows(data: Any) -> Any:
    """A frame as the rows that a specification holds; what is missing or infinite becomes null.

    Altair's own way converts each column four times over; a strip has some twenty small frames.
    """
    if not isinstance(data, pd.DataFrame):
        return alt.to_values(data)
    columns = [[_plain(value) for value in data[name].tolist()] for name in data.columns]
    names = [str(name) for name in data.columns]
    return {"values": [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]}


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, str | int | list):
        return value
    if pd.isna(value):
        return None
    return value.isoformat() if isinstance(value, pd.Timestamp) else value


alt.data_transformers.register("plain_rows", plain_rows)
# how charts become JSON is said for the whole process, and put back as it was found: threads take turns
_ONE_AT_A_TIME = threading.RLock()


@contextmanager
def unchecked() -> Iterator[None]:
    """Within this block, charts are turned into JSON without schema validation: a third of the time of a page."""
    with _ONE_AT_A_TIME, schemapi.debug_mode(False), alt.data_transformers.enable("plain_rows"):
        yield


def as_house(spec: dict[str, Any]) -> dict[str, Any]:
    """A specification whose words, figures and dates are written as the house writes them; as it is where that is ours.

    Every text of the data changes alike in data, domains and orders, so that they still go together.
    """
    style = house_style.in_force()
    if style.is_ours:
        return spec
    changed: dict[str, Any] = _as_house(spec, False)
    marks = {"decimal": style.decimal, "thousands": style.thousands, "grouping": [3], "currency": ["", ""]}
    changed["config"] = {**changed.get("config", {}), "locale": {"number": marks}}
    return changed


def _as_house(found: Any, shown: bool) -> Any:
    if isinstance(found, dict):
        return {key: _of_key(key, value, shown) for key, value in found.items()}
    if isinstance(found, list):
        return [_as_house(value, shown) for value in found]
    return house_style.text(found) if shown and isinstance(found, str) else found


def _of_key(key: str, value: Any, shown: bool) -> Any:
    if key == "labelExpr":
        return _QUOTED.sub(lambda found: f"'{house_style.text(found[1])}'", value)
    if isinstance(value, str):
        return house_style.text(value) if shown or key in ("title", "text") else value
    return _as_house(value, shown or key in _SHOWN)
