"""Oxytocin over a few labours, counted by hand. What counts: NICE NG207 and ACOG PB 116, from memory."""

import pandas as pd
import pytest

from audit.questions import oxytocin
from audit.settings import load_settings

SETTINGS = load_settings()


def test_hours_increases_and_the_wait_until_less_by_month(unit):
    for case_id, period in (("c1", "2031-03"), ("c2", "2031-03"), ("c3", "2031-04"), ("c4", "2031-04")):
        unit.case(case_id, period, birth_s=14400.0)
        unit.tracing(case_id)
    unit.event("c1", 0.0, "oxytocin_started")
    unit.event("c1", 6600.0, "oxytocin_increased")  # 10 min into the concern
    unit.event("c1", 7200.0, "oxytocin_stopped")
    unit.event("c2", 3600.0, "oxytocin_started")
    unit.event("c3", 0.0, "oxytocin_started")
    for case_id in ("c1", "c2", "c4"):
        unit.episode(case_id, "late", 40.0)  # recognisable at 6000 s, for an hour
    for k, rate in enumerate((6.0, 6.0, 6.0, 4.0, 4.0)):
        unit.insert("epochs", case_id="c3", fetus="A", start_s=600.0 * k, end_s=600.0 * (k + 1),
                    contractions_per_10_min=rate, sinusoidal=False, run_id="x")  # fmt: skip
    used = oxytocin.labours(unit.con, SETTINGS, period=None, standard="figo-2015")
    assert [oxytocin.in_words(row).partition("; ")[2] for row in used] == [
        "increased 1 time in a concern. From the concern at 01:40: 20 min until it was reduced or stopped.",
        "not increased in a concern. From the concern at 01:40: 60 min until that or labour ended, not reduced.",
        "not increased in a concern. From tachysystole at 00:00: 40 min until that or labour ended, not reduced.",
    ]
    every, march, april = oxytocin.by_month(used)
    assert (every["group"], every["labours"], every["hours"]) == ("all", 3, pytest.approx(2 + 3 + 4))
    assert (march["increases_in_concern"], march["increased_in"]) == (1, 1)
    assert (march["concern_waits"], march["concern_reduced"], march["concern_share"]) == (2, 1, 0.5)
    assert march["concern_half_min"] == pytest.approx(20.0)  # of two, one was reduced after 20 min
    # means over 30 min: 6, 5.3 and 4.7; the first two are too many, 40 minutes of April's four hours
    assert april["share_tachysystole"] == pytest.approx((40 / 60) / 4)
    assert (april["tachysystole_waits"], april["tachysystole_reduced"], april["concern_waits"]) == (1, 0, 0)


def test_without_oxytocin_there_is_nothing(unit):
    unit.case("c1")
    unit.tracing("c1")
    assert oxytocin.by_month(oxytocin.labours(unit.con, SETTINGS, period=None, standard="figo-2015")) == []


def test_a_labours_timeline_has_a_lane_for_oxytocin_its_changes_tachysystole_and_concerns():
    """By hand: on from 60 to 200 min, raised at 80, less at 120; 6 in 10 from 90 to 120; born at 180 min."""
    noted = [(60, "started"), (80, "increased"), (120, "reduced"), (200, "stopped"), (190, "increased")]
    events = pd.DataFrame([{"at_s": 60.0 * at, "event": f"oxytocin_{what}"} for at, what in noted])
    rates = {90: 6.0, 100: 6.0, 110: 6.0, 120: 2.0, 130: None}
    epochs = pd.DataFrame([{"start_s": 60.0 * at, "contractions_per_10_min": rate} for at, rate in rates.items()])
    concerns = pd.DataFrame([{"recognisable_s": 60.0 * 100, "end_s": 60.0 * 200}])
    limit = load_settings().nichd_2008.tachysystole
    rows = oxytocin.timeline(events, epochs, concerns, end_s=60.0 * 180, limit=limit)
    assert [(row["label"], row["from_s"] / 60, row["to_s"] / 60) for row in rows] == [
        ("on oxytocin", 60, 180), ("increased", 80, 80), ("reduced", 120, 120), ("in tachysystole", 90, 120),
        ("concern", 100, 180),
    ]  # fmt: skip
    assert oxytocin.in_words_of(rows).startswith("Oxytocin. on oxytocin: 01:00 to 03:00; increased: 01:20;")
    assert oxytocin.timeline(events.iloc[:0], epochs, concerns, end_s=60.0 * 180, limit=limit) == []
