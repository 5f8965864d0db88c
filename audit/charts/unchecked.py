"""Charts to JSON: without checking each against the schema again (the tests do), and without a limit on rows.

The limit guards against raw data in a chart; here every line was thinned before (`audit.charts.strip.decimate`).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import altair as alt
from altair.utils import schemapi


@contextmanager
def unchecked() -> Iterator[None]:
    """Within this block, charts are turned into JSON without schema validation: a third of the time of a page."""
    with schemapi.debug_mode(False):
        yield


def spec_of(chart: alt.TopLevelMixin, *, checked: bool = False) -> dict[str, Any]:
    """A chart as a Vega-Lite specification with its data inside; `checked` validates it against the schema."""
    with schemapi.debug_mode(checked), alt.data_transformers.enable("default", max_rows=None):
        spec: dict[str, Any] = chart.to_dict()
        return spec
