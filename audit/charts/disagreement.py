"""Pictures of where readers differ: which answer stands beside which, and the windows furthest apart."""

from collections.abc import Sequence

import altair as alt
import pandas as pd

from audit.charts import palette
from audit.charts.tips import tips
from audit.words import hh_mm

_WIDTH_PX = 860
_CELL_PX = (104, 40)
_ROOM_PX = 40


def beside(rows: pd.DataFrame, order: Sequence[str]) -> alt.LayerChart:
    """A square per two answers with the share and the number in it; `rows`: one, other, pairs, of, share."""
    rows = rows.assign(text=[f"{row.share:.0%} ({row.pairs})" for row in rows.itertuples()])
    x = alt.X("other:N", sort=list(order), axis=alt.Axis(title="another said", orient="top", labelAngle=0))
    y = alt.Y("one:N", sort=list(order), axis=alt.Axis(title="where one said"))
    titles = {"one:N": "one said", "other:N": "another said", "share:Q": "share"}
    said = tips({**titles, "pairs:Q": "pairs of reads", "of:Q": "of"}, share=".0%")
    base = alt.Chart(rows)
    shade = alt.Color("share:Q", scale=alt.Scale(domain=[0, 1], range=list(palette.SHARES)), legend=None)
    cells = base.mark_rect(stroke=palette.EDGE).encode(x=x, y=y, color=shade, tooltip=said)
    text = base.mark_text(color=palette.INK).encode(x=x, y=y, text=alt.Text("text:N"), tooltip=said)
    width, height = (size * len(order) for size in _CELL_PX)
    height += _ROOM_PX  # a page fits the whole drawing into its height, axes included
    return alt.LayerChart(layer=[cells, text], width=width, height=height, config=palette.CONFIG)


def window_by_window(rows: pd.DataFrame, order: Sequence[str]) -> alt.LayerChart:
    """A column per window, the furthest apart first, a row per reader; colour and letter say the answer.

    rows : place, case_id, fetus, start_s, end_s, reader, answer.
    """
    letters = {name: palette.CATEGORIES.get(name, (0, name[:2]))[1] for name in order}
    named = all(name in palette.CATEGORIES for name in order)
    colours = [
        palette.SEVERITY_COLOURS[palette.CATEGORIES[name][0]]
        if named
        else palette.SHADES[min(k, len(palette.SHADES) - 1)]
        for k, name in enumerate(order)
    ]
    rows = rows.assign(
        letter=[letters[answer] for answer in rows["answer"]],
        window=[f"{row.case_id}, {hh_mm(row.start_s)} – {hh_mm(row.end_s)}" for row in rows.itertuples()],
    )
    x = alt.X("place:O", axis=alt.Axis(title="windows, the furthest apart first", labelAngle=0, labelOverlap="greedy"))
    y = alt.Y("reader:N", axis=alt.Axis(title=None))
    said = [alt.Tooltip("window:N"), alt.Tooltip("reader:N"), alt.Tooltip("answer:N")]
    colour = alt.Color(
        "answer:N",
        scale=alt.Scale(domain=list(order), range=colours),
        legend=alt.Legend(orient="top", title=None, symbolStrokeColor=palette.EDGE, symbolStrokeWidth=1),
    )
    base = alt.Chart(rows)
    cells = base.mark_rect(stroke=palette.EDGE).encode(x=x, y=y, color=colour, tooltip=said)
    text = base.mark_text(color=palette.INK).encode(x=x, y=y, text=alt.Text("letter:N"), tooltip=said)
    height = 26 * rows["reader"].nunique() + 2 * _ROOM_PX  # axis and key are inside it on a page
    return alt.LayerChart(layer=[cells, text], width=_WIDTH_PX, height=height, config=palette.CONFIG)
