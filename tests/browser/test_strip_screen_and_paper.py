"""The screen draws what paper draws: each shape of the viewer's scene beside the printed one, at both paper scales.

Scale: CSS Values and Units 3, 96 px to the inch of 2.54 cm.
"""

import base64

import numpy as np
import pytest

from audit.charts.strip import payload as payloads
from audit.charts.strip.agreed import agreed_rows
from audit.charts.strip.drawn import strip_scene
from audit.charts.strip.payload import case_payload
from audit.charts.strip.rows import strip_rows
from audit.charts.strip.scene import Box, Line, Shape, Word
from audit.charts.strip.types import SCALE_1, SCALE_3, StripLayers, fitted_window
from audit.people.agreed import Agreed
from audit.questions.case_file import load_case
from audit.response.agreed import Mark
from audit.store import database, published
from dashboards.strip_viewer.show import script, with_options
from tests.page_databases import small_database

# minutes near enough to need two lanes, an act after every window, marks that reach over an edge
AGREED = Agreed(
    True, "pathological", 2760.0, 2880.0, 2880.0, "position_change", 5460.0, "senior_called", "artefact",
    (Mark("struck_out", "deceleration", 2640.0, 2730.0, "artefact"),
     Mark("added", "contraction", 3000.0, 3060.0, "toco_not_usable")),
)  # fmt: skip
ALL = [name for name in StripLayers.__dataclass_fields__]
ASK = """([text, start, end, px, fhr, toco, layers]) => {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const { head } = strip.unpack(bytes);
  const window = strip.windowOf(start, end, px, { fhr, toco });
  return strip.sceneOf(head, window, new Set(layers));
}"""


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    db = small_database(tmp_path_factory.mktemp("screen"))
    with database.open_for_reading(published.current(db)) as con:
        return load_case(con, "C-001")


@pytest.fixture(scope="module")
def tab(chromium):
    tab = chromium.new_page()
    names = script() + "\nglobalThis.strip = { unpack, windowOf, sceneOf, placeLabels, thinned, Viewer };"
    tab.add_script_tag(content=names, type="module")
    tab.wait_for_function("() => globalThis.strip !== undefined")
    yield tab
    tab.close()


def on_screen(tab, case, window, layers, agreed):
    options = {"agreed": payloads.plain_rows(agreed)}
    payload = base64.b64encode(with_options(options, case_payload(case, "figo-2015"))).decode()
    size = (window.width_px, window.fhr_height_px, window.toco_height_px)
    return tab.evaluate(ASK, [payload, window.start_s, window.end_s, *size, layers])


def on_paper(item):
    """A printed shape as the viewer names it."""
    if isinstance(item, Box):
        return ("box", item.fill, round(item.opacity, 2)), (item.x, item.y, item.width, item.height)
    if isinstance(item, Word):
        return ("word", item.text, item.colour, item.anchor, item.bold, item.halo), (item.x, item.y, item.size_px)
    assert isinstance(item, Shape)
    return ("shape", item.kind, item.colour), (item.x, item.y, item.size_px)


def drawn(item):
    if item["kind"] == "box":
        return ("box", item["colour"], round(item["opacity"], 2)), tuple(item[k] for k in ("x", "y", "width", "height"))
    if item["kind"] == "word":
        look = tuple(item[k] for k in ("text", "colour", "anchor", "bold", "halo"))
        return ("word", *look), (item["x"], item["y"], item["size"])
    return ("shape", item["form"], item["colour"]), (item["x"], item["y"], item["size"])


def cut(found, width):
    """Boxes as the pane's edge clips them: how far a bar goes on outside it is nobody's business."""
    look, place = found
    if look[0] != "box":
        return found
    low, high = max(place[0], 0.0), min(place[0] + place[2], width)
    return look, (low, place[1], high - low, place[3])


def compare_lines(printed, screen):
    assert len(printed) == len(screen)
    for paper, line in zip(printed, screen, strict=True):
        assert (paper.colour, paper.width, list(paper.dash)) == (line["colour"], line["width"], line["dash"])
        points = np.array([point if point else (np.nan, np.nan) for point in line["points"]], dtype=float)
        points, known = points[~np.isnan(points).any(axis=1)], ~np.isnan(paper.x + paper.y)
        x, y = paper.x[known], paper.y[known]
        if len(points) == x.size:
            assert points == pytest.approx(np.stack([x, y], axis=1), abs=0.1)
        else:  # a slow line is thinned by another rule: the same course all the same
            assert points[:, 1] == pytest.approx(np.interp(points[:, 0], x, y), abs=1.0)


@pytest.mark.parametrize("layers", [[], ALL], ids=["bare", "everything"])
@pytest.mark.parametrize(
    "window",
    [SCALE_1.window(2400.0, 3600.0), SCALE_3.window(2700.0, 3100.0), fitted_window(0.0, 5400.0, 900)],
    ids=["1", "3", "fit"],
)
def test_screen_and_paper_show_the_same_picture(tab, case, window, layers):
    agreed = agreed_rows(AGREED)
    rows = strip_rows(case, window, standard="figo-2015", agreed=agreed)
    printed = strip_scene(rows, window, StripLayers.chosen(layers))
    screen = on_screen(tab, case, window, layers, agreed)
    assert ("agreed" in [pane.name for pane in printed.panes]) == bool(layers)
    assert (screen["left"], screen["paneWidth"], screen["width"], screen["height"]) == pytest.approx(
        (printed.left, printed.pane_width, printed.width, printed.height), abs=0.01
    )
    assert [pane["name"] for pane in screen["panes"]] == [pane.name for pane in printed.panes]
    for paper, pane in zip(printed.panes, screen["panes"], strict=True):
        assert (pane["top"], pane["height"], pane["framed"]) == pytest.approx((paper.top, paper.height, paper.framed))
        for side in ("inside", "beside"):
            left = [item for item in getattr(paper, side) if not isinstance(item, Line)]
            right = [item for item in pane[side] if item["kind"] != "line"]
            width = printed.pane_width
            wanted = sorted(cut(on_paper(item), width) for item in left)
            found = sorted(cut(drawn(item), width) for item in right)
            assert [look for look, _ in found] == [look for look, _ in wanted], paper.name
            for (look, at), (_, there) in zip(found, wanted, strict=True):
                assert at == pytest.approx(there, abs=0.1), (paper.name, look)
            compare_lines(
                [item for item in getattr(paper, side) if isinstance(item, Line)],
                [item for item in pane[side] if item["kind"] == "line"],
            )


def test_a_stretch_is_thinned_once_while_only_its_height_changes(tab, case):
    payload = base64.b64encode(with_options({}, case_payload(case, "figo-2015"))).decode()
    ask = """(text) => {
      const { head } = strip.unpack(Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)));
      const stretch = (start, fhr) => strip.windowOf(start, start + 1800, 900, { fhr, toco: 90 });
      const thin = (start, fhr) => strip.thinned(head.lines.fhr, stretch(start, fhr));
      const first = thin(2400, 300);
      return [first === thin(2400, 200), first === thin(2460, 200), first.length > 0];
    }"""
    assert tab.evaluate(ask, payload) == [True, False, True]


FIRST_DRAW = """async (text) => {
  const brush = CanvasRenderingContext2D.prototype, lineTo = brush.lineTo;
  let points = 0;
  brush.lineTo = function (...at) { points += 1; return lineTo.apply(this, at); };
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const root = document.createElement("div");
  document.body.replaceChildren(root);
  new strip.Viewer(root, () => {}).load(bytes);
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  brush.lineTo = lineTo;
  return points;
}"""


def test_of_twelve_hours_a_first_frame_draws_the_few_points_that_its_pixels_can_show(tab):
    """4 Hz, two lines: what a frame costs follows its width and not the labour. No source: our own promise."""
    n = 12 * 3600 * 4
    rate = 140 + 10 * np.sin(np.arange(n) / 30)
    lines = [
        payloads.Channel("fhr", 0.0, 4.0, payloads.hundredths(rate)),
        payloads.Channel("toco", 0.0, 4.0, payloads.hundredths(rate - 120, payloads.TOCO_ZERO), payloads.TOCO_ZERO),
    ]
    options = {"name": "twelve hours", "address": None, "open_at_s": None, "blind": False, "marks": [],
               "may_mark": False, "hint": "", "legend": ["", ""]}  # fmt: skip
    block = with_options(options | {"key": "twelve"}, payloads.packed(payloads._head(0.0, n / 4), lines))
    assert 0 < tab.evaluate(FIRST_DRAW, base64.b64encode(block).decode()) < 2 * n / 10
