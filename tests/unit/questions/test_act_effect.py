"""The half hours about one act, from stored minutes and events, counted by hand.

Regression to the mean: Barnett et al., Int J Epidemiol 2005;34:215-20.
"""

import pytest

from audit.questions import act_effect
from audit.settings import load_settings


def test_one_act_with_its_half_hours(unit):
    unit.case("c1")
    unit.tracing("c1")
    for k in range(90):
        category = "pathological" if k < 45 else "normal"
        unit.insert("minute_categories", case_id="c1", fetus="A", at_s=600.0 + 60 * k, standard="figo-2015",
                    category=category, reasons=[], run_id="x")  # fmt: skip
    for onset_s, area in ((600.0 + 60 * 20, 300.0), (600.0 + 60 * 30, 200.0), (600.0 + 60 * 70, 50.0)):
        unit.insert("decelerations", case_id="c1", fetus="A", onset_s=onset_s, nadir_s=onset_s, end_s=onset_s + 30,
                    depth_bpm=20, area_bpm_s=area, kind="variable", toco_usable=True, shallow=False, open_end=False,
                    kind_certain=True,
                    run_id="x")  # fmt: skip
    unit.event("c1", 600.0 + 60 * 44, "position_change")  # in minute 44: before are 14 to 43, after 45 to 74
    unit.event("c1", 600.0, "oxygen_given")  # no answer
    rows = {row["measure"]: row for row in act_effect.by_act(
        unit.con, load_settings(), period="2031-03", standard="figo-2015")}  # fmt: skip
    assert set(rows) == {"concern_share", "area_bpm_s"}  # no toco was usable
    assert rows["concern_share"]["change"] == pytest.approx(-1.0)
    assert rows["area_bpm_s"]["change"] == pytest.approx(50 - 500)
    assert (rows["area_bpm_s"]["acts"], rows["area_bpm_s"]["act"]) == (1, "position_change")
    judged = act_effect.labours_judged(unit.con, load_settings(), period="2031-03", standard="figo-2015")
    assert judged == {("position_change", name): ["c1"] for name in rows}


def test_nothing_noted_is_nothing(unit):
    assert act_effect.by_act(unit.con, load_settings(), period=None, standard="figo-2015") == []
