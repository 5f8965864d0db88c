"""The band of minute categories names its standards: a row without a name cannot be read."""

import json

import pandas as pd
import pytest
import vl_convert

from audit.charts.strip.chart import strip_chart
from audit.charts.strip.types import SCALE_1, StripLayers, StripRows
from tests.chart_specs import spec_of


@pytest.mark.slow
def test_every_row_is_named_in_the_drawing():
    minutes = pd.DataFrame(
        [
            {"standard": name, "minute": float(k), "end_minute": k + 1.0, "severity": 1, "category": category,
             "at": f"00:{k + 1:02d}", "reasons": "none"}
            for name, category in (("nichd-2008", "I"), ("figo-2015", "normal"), ("nice-ng229", "normal"))
            for k in range(10)
        ]
    )  # fmt: skip
    chart = strip_chart(StripRows(categories=minutes), SCALE_1.window(0, 600), StripLayers(categories=True))
    drawing = vl_convert.vegalite_to_svg(json.dumps(spec_of(chart)))
    for name in ("NICHD 2008", "FIGO 2015", "NICE NG229"):
        assert f">{name}</text>" in drawing
