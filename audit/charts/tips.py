"""What a chart says of a mark that is pointed at: one line a field, in the words of a reader."""

from collections.abc import Mapping

import altair as alt


def tips(titles: Mapping[str, str], /, **formats: str) -> list[alt.Tooltip]:
    """Tooltips of fields. `titles` : field with its type, as `share:Q`, to words. `formats` : of figures, by field."""
    return [
        alt.Tooltip(field, title=title, format=formats.get(field.partition(":")[0], alt.Undefined))
        for field, title in titles.items()
    ]
