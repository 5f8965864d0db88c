"""Charts and table of the months: what is drawn over all months tells none that is hidden. Counted by hand.

Complementary suppression: Hundepool et al., Statistical Disclosure Control, 2012, ch. 4 (from memory).
"""

import pytest

from audit.pack.options import PackOptions
from audit.pack.outside import Untold
from audit.pack.trends_pages import _table, _until
from audit.settings import load_settings

OUTSIDE = PackOptions.of(load_settings()).changed(for_outside=True)


@pytest.mark.parametrize(
    ("late", "centre"),
    [
        ((9, 8, 7), True),
        ((9, 2, 7), False),  # the centre times all clocks, less 16, would be the 2
        ((9, 2, 1), False),  # 3 of two months
        ((9, 2, 3, 8), True),  # 5 of two months
        ((9, 2, 3, 8, 1), False),  # and the report before told those 5
    ],
)
def test_a_centre_is_drawn_when_the_hidden_months_add_up_to_enough(late: tuple[int, ...], centre: bool) -> None:
    points = [
        {"period": f"2031-{k:02d}", "numerator": n, "denominator": 40, "value": n / 40,
         "centre": sum(late) / 40 / len(late), "low": 0.0, "high": 0.5,
         "signal": None, "reason": None, "beyond_scale": False}
        for k, n in enumerate(late, start=1)
    ]  # fmt: skip
    found = _until({"name": "late", "chart": "p", "points": points}, "2031-12", OUTSIDE)["points"]
    assert [point["value"] is None for point in found] == [n < 5 for n in late]
    assert {point["centre"] is not None for point in found if point["value"] is not None} == {centre}


def test_hours_of_few_labours_are_hidden_however_many_they_are() -> None:
    points = [
        {"period": f"2031-0{k}", "numerator": 12, "denominator": 24, "value": 0.5, "centre": 0.5, "low": 0.1,
         "high": 0.9, "signal": None, "reason": None, "beyond_scale": False, "stale": 2 - k}
        for k in (1, 2)
    ]  # fmt: skip
    untold = Untold(few_assessed=frozenset({"2031-02"}))
    found = _until({"name": "hours_assessed", "chart": "p", "points": points}, "2031-12", OUTSIDE, untold)["points"]
    # and the centre goes, which would tell it
    assert [(point["value"], point["centre"]) for point in found] == [(0.5, None), (None, None)]
    # how many readings are old is a small number too
    row = {"name": "hours_assessed", "unit": "share", "points": found}
    assert _table([row], "2031-01").shown()[0][-1] == "some readings missing or out of date"


def test_a_measure_of_which_nobody_recorded_anything_has_no_row() -> None:
    def point(**more: object) -> dict[str, object]:
        return {"period": "2031-03", "value": None, "numerator": 0, "denominator": 0, "reason": "Not shown: 0.",
                "centre": None, "low": None, "high": None, "signal": None} | more  # fmt: skip

    hidden = point(numerator=None, denominator=None, reason="Hidden: a small number.")
    points = {"none": point(), "some": point(denominator=3), "zero": point(value=0.0, denominator=9), "hidden": hidden}
    rows = [{"name": name, "unit": "share", "points": [own]} for name, own in points.items()]
    assert [cells[0].lower() for cells in _table(rows, "2031-03").shown()] == ["some", "zero", "hidden"]
