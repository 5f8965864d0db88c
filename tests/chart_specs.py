"""A chart as the specification that tests look into."""

from typing import Any

import altair as alt
from altair.utils import schemapi

from audit.charts.unchecked import unchecked


def spec_of(chart: alt.TopLevelMixin, *, checked: bool = False) -> dict[str, Any]:
    """As the pages make it, with its data inside; `checked` validates it against the schema."""
    with unchecked(), schemapi.debug_mode(checked):
        spec: dict[str, Any] = chart.to_dict()
        return spec
