"""A chart on the screen: one image with a text, and what is pointed at says what it stands for."""

from xml.etree import ElementTree

import altair as alt
import pandas as pd

from audit.charts import vector

_SVG = "{http://www.w3.org/2000/svg}"
ROWS = pd.DataFrame({"period": ["2031-01", "2031-02"], "value": [0.5, 0.25], "of": ['1, {"<of>": 2}', ""]})


def drawn():
    tips = [alt.Tooltip("period:N", title="month"), alt.Tooltip("value:Q", format=".0%"), alt.Tooltip("of:N")]
    base = alt.Chart(ROWS).encode(x="period:N", y="value:Q")
    chart = base.mark_line(tooltip=False, clip=True) + base.mark_point().encode(tooltip=tips)
    return vector.for_page(chart, alt_text='Share "seen" & more')


def test_a_point_says_what_its_tooltip_says_and_a_line_nothing():
    svg = ElementTree.fromstring(drawn())
    said = [title.text for title in svg.iter(f"{_SVG}title")]
    assert said == ['month: 2031-01\nvalue: 50%\nof: 1, {"<of>": 2}', "month: 2031-02\nvalue: 25%"]


def test_it_is_one_image_with_one_text_and_the_same_every_time():
    svg = ElementTree.fromstring(drawn())
    assert (svg.get("role"), svg.get("aria-label")) == ("img", 'Share "seen" & more')
    below = [part for part in svg.iter() if part is not svg]
    assert not [part for part in below if "aria-label" in part.attrib or "role" in part.attrib]
    assert drawn() == drawn()
