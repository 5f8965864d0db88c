"""How much of the tracings was seen."""

import altair as alt
import pandas as pd

from audit.charts import palette
from audit.charts.tips import tips
from audit.questions.counted import signal_step


def signal_seen(rows: pd.DataFrame, *, width_px: int) -> alt.LayerChart:
    """Tracings counted by the share of signal used, in steps of 10 %, with the count on each bar; 100 % is in the last.

    rows : seen_fraction (0 to 1; unknown ones are counted in a bar of their own).
    """
    known = rows["seen_fraction"].dropna()
    step = known.map(signal_step)
    counts = step.value_counts().reindex(range(10), fill_value=0)
    bars = pd.DataFrame(
        {
            "share": [f"{10 * k}–{10 * k + 10}" for k in range(10)],
            "tracings": counts.to_numpy(),
            "colour": palette.SKY,
        }
    )
    unknown = int(rows["seen_fraction"].isna().sum())
    if unknown:
        bars.loc[len(bars)] = ["not read", unknown, palette.GREY]
    x = alt.X("share:N", sort=list(bars["share"]), title="share of the tracing with accepted fetal heart rate, %",
              axis={"labelAngle": 0, "domain": False, "ticks": False})  # fmt: skip
    scale = {"domainMax": 1.15 * float(bars["tracings"].max())}
    axis = {"tickMinStep": 1, "gridColor": palette.GRID_LIGHT, "domain": False}
    y = alt.Y("tracings:Q", title="tracings", scale=scale, axis=axis)
    base = alt.Chart(bars)
    said = tips({"share:N": "share seen", "tracings:Q": "tracings"})
    return alt.LayerChart(
        layer=[
            base.mark_bar(width={"band": 0.8}, stroke=palette.EDGE).encode(
                x=x, y=y, fill=alt.Fill("colour:N", scale=None), tooltip=said
            ),
            base.mark_text(dy=-7, color=palette.INK, tooltip=False).encode(x=x, y=y, text=alt.Text("tracings:Q")),
        ],
        width=width_px,
        height=180,
        config=palette.CONFIG,
    )
