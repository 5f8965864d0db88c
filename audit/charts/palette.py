"""Colours, letters and dashes of every chart: one place, so that a page and the printed pack say the same.

Colours are those of Okabe and Ito (Color Universal Design), which stay apart under the common colour deficiencies.
Colour is never alone: every kind also has a letter and a dash, every category a word and a height.
"""

from typing import Final

BLACK: Final = "#000000"
ORANGE: Final = "#E69F00"
SKY: Final = "#56B4E9"
GREEN: Final = "#009E73"
BLUE: Final = "#0072B2"
VERMILLION: Final = "#D55E00"
PURPLE: Final = "#CC79A7"
GREY: Final = "#707070"

INK: Final = "#1B1F24"
QUIET_INK: Final = "#5A6370"
GRID_LIGHT: Final = "#E7ECEA"
GRID_HEAVY: Final = "#B9C6C1"
PAPER: Final = "#FFFFFF"

FONT: Final = "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, 'DejaVu Sans', sans-serif"

# what every drawing is set in
CONFIG: Final = {
    "font": FONT,
    "background": PAPER,
    "padding": {"left": 4, "right": 14, "top": 4, "bottom": 4},
    "view": {"stroke": GRID_HEAVY, "strokeWidth": 1},
    "axis": {"labelFontSize": 11, "titleFontSize": 11, "titleFontWeight": "normal"},
    "text": {"fontSize": 11},
}

# On a strip one colour has one meaning: ink is what the machine recorded and the clock, blue a deceleration, green an
# acceleration, ochre a contraction, plum the baseline, grey another heart or no signal, brown samples not used. Orange
# and vermillion are categories. Lines of the paper stand out from it by 3 to 1 (WCAG 2.2, 1.4.11 Non-text Contrast).
PAPER_LIGHT: Final = "#84948E"
PAPER_HEAVY: Final = "#64746E"
ACCELERATION: Final = "#007A5A"
CONTRACTION: Final = "#7A6200"
BASELINE: Final = "#963A7E"
OTHER_HEART: Final = "#6B6B6B"
LOST: Final = "#8E9592"
UNUSED: Final = "#B07A4A"

# kind of deceleration -> (letter, colour, dash of the outline)
KINDS: Final[dict[str, tuple[str, str, list[int]]]] = {
    "early": ("E", BLUE, [1, 2]),
    "late": ("L", BLUE, [1, 0]),
    "variable": ("V", BLUE, [6, 3]),
    "prolonged": ("P", BLUE, [10, 2]),
    "unclassified": ("U", BLUE, [2, 4]),
}


# curves of groups, dark enough for their names too (1.4.3); dash and name tell them apart as well
SERIES: Final = (BLUE, "#B84A00", "#007A5A", "#963A7E", "#7A6200", "#4B3FA0", BLACK, GREY)
# shades for answers without a colour of their own, the mildest first; each carries ink
SHADES: Final = ("#F1F5F8", "#D3E4F1", "#B0D0E8", "#84B5DC", "#4C93C4")
# share from none to all
SHARES: Final = ("#FFFFFF", "#8CC1E6")

# status of a response -> (colour, shape of its mark)
STATUS_MARKS: Final[dict[str, tuple[str, str]]] = {
    "in_time": (GREEN, "circle"),
    "late": (VERMILLION, "triangle-up"),
    "none_recorded": (BLACK, "cross"),
    "under_way": (PURPLE, "triangle-down"),
    "resolved": (SKY, "square"),
    "born_first": (BLUE, "diamond"),
    "not_assessable": (GREY, "stroke"),
}

# category -> (severity for drawing, short text)
CATEGORIES: Final[dict[str, tuple[int, str]]] = {
    "I": (1, "I"),
    "II": (2, "II"),
    "III": (3, "III"),
    "normal": (1, "N"),
    "suspicious": (2, "S"),
    "pathological": (3, "P"),
    "not assessable": (0, "n.a."),
}
# Fills get darker with severity, so that they stay in order without hues, and each carries ink at 4.5 to 1 (WCAG 2.2,
# 1.4.3 Contrast), vermillion a little lighter for that. Light ones cannot reach 3 to 1 on white (1.4.11), so every fill
# has an edge that does, against white and against the fill.
SEVERITY_COLOURS: Final[dict[int, str]] = {0: "#F0F0F0", 1: "#A9D3EE", 2: ORANGE, 3: "#DB6510"}
EDGE: Final = INK
# role of a mark -> (colour, dash): care events are quiet, the clock speaks up
ROLES: Final[dict[str, tuple[str, list[int]]]] = {
    "event": (QUIET_INK, [2, 3]),
    "pattern_start": (INK, [3, 2]),
    "recognisable": (INK, [1, 0]),
    "target": (INK, [7, 3]),
    "response": (INK, [12, 2]),
    "birth": (INK, [1, 0]),
}
# one scale for all panes, because a drawing shares it: a name that is a kind or a role -> its dash
DASHES: Final[dict[str, list[int]]] = {
    **{kind: dash for kind, (_, _, dash) in KINDS.items()},
    **{role: dash for role, (_, dash) in ROLES.items()},
}
