"""Charts of one month: how long the tracings spent in each category, and how much signal was seen."""

import altair as alt
import pandas as pd

from audit import words as words_
from audit.charts import palette
from audit.charts.tips import tips


def category_shares(rows: pd.DataFrame, *, width_px: int) -> alt.LayerChart:
    """One bar per standard, split into the minutes of each category, with word and percentage in each part.

    rows : standard, category, fraction (0 to 1), minutes, standard_minutes.
    """
    drawn = rows.assign(
        name=rows["standard"].map(words_.standard_name),
        severity=[palette.CATEGORIES.get(str(name), (0, ""))[0] for name in rows["category"]],
    )
    drawn = drawn.assign(order=drawn["severity"].replace(0, 9)).sort_values(["name", "order"])
    drawn["end"] = drawn.groupby("name")["fraction"].cumsum()
    drawn = drawn.assign(
        start=drawn["end"] - drawn["fraction"],
        middle=drawn["end"] - drawn["fraction"] / 2,
        colour=drawn["severity"].map(palette.SEVERITY_COLOURS),
        text=[_text(str(row.category), float(row.fraction)) for row in drawn.itertuples()],
    )
    y = alt.Y("name:N", title=None, sort=list(dict.fromkeys(drawn["name"])), axis={"domain": False, "ticks": False})
    titles = {"name:N": "standard", "category:N": "category", "minutes:Q": "minutes", "standard_minutes:Q": "of"}
    said = tips({**titles, "fraction:Q": "share"}, fraction=".1%")
    scale = {"domain": [0, 1], "nice": False}
    axis = {"format": ".0%", "grid": False, "domain": False, "tickCount": 5}
    x = alt.X("start:Q", title="share of minutes", scale=scale, axis=axis)
    return alt.LayerChart(
        layer=[
            alt.Chart(drawn)
            .mark_rect(height=22, stroke=palette.EDGE)
            .encode(x=x, x2=alt.X2("end:Q"), y=y, color=alt.Color("colour:N", scale=None), tooltip=said),
            alt.Chart(drawn)
            .mark_text(color=palette.INK, tooltip=False)
            .encode(x=alt.X("middle:Q", scale=scale), y=y, text=alt.Text("text:N")),
        ],
        width=width_px,
        height=34 * drawn["name"].nunique() + 44,
        config=palette.CONFIG,
    )


def _text(category: str, fraction: float) -> str:
    """Word and share where the part is wide enough, else the short form, else nothing (the table has it)."""
    for words in (f"{category} {fraction:.0%}", palette.CATEGORIES.get(category, (0, category))[1]):
        if fraction >= 0.012 * len(words) + 0.01:
            return words
    return ""
