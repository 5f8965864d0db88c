"""What staff recorded at the time, counted by hand on a database of a few labours.

Hourly: NICE NG229 (2022, from memory). The parts of a wait: Andersen & Keiding 2002 (chain of states).
"""

from collections import Counter

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from audit.charts.wait_parts import timeline
from audit.questions import bedside, bedside_measures, wait_parts
from audit.settings import load_settings
from audit.tables import bedside as tables
from tests.chart_specs import spec_of

SETTINGS = load_settings()
STANDARD = "nice-ng229"


def noted(unit, case_id, minute, category="normal", assessor="midwife", standard=STANDARD):
    unit.insert(
        "assessments", case_id=case_id, fetus="A", at_s=60.0 * minute, standard=standard, category=category,
        assessor=assessor,
    )  # fmt: skip


def labour(unit, case_id, shift="day", **more):
    unit.case(case_id, shift=shift, **more)
    unit.tracing(case_id)  # five hours


def test_hours_with_an_assessment_and_with_two_persons_by_shift(unit):
    labour(unit, "c1")
    for minute in (5, 61, 125, 290):
        noted(unit, "c1", minute)
    noted(unit, "c1", 70, assessor="second_person")
    labour(unit, "c2", "night", birth_s=2.5 * 3600)
    noted(unit, "c2", 10)
    labour(unit, "c3", "night")
    every, day, night = bedside.document(unit.con, period="2031-03", least=1)["hours"]
    assert (every["labours"], every["without"], every["hours"]) == (2, 1, 7)
    assert (every["assessed"], every["second_person"]) == (5, 1)
    assert (day["hours"], day["assessed"], day["longest_gap_min"], day["gap_over_hour"]) == (5, 4, 165.0, 1)
    assert (night["hours"], night["assessed"], night["longest_gap_min"]) == (2, 1, 140.0)
    assert every["share_assessed"] == pytest.approx(5 / 7)
    hidden = bedside.document(unit.con, period="2031-03", least=3)["hours"]
    assert [row["labours"] for row in hidden] == ["hidden"] * 3
    assert "hours" not in hidden[0]


def test_without_assessments_there_is_nothing(unit):
    labour(unit, "c1")
    found = bedside.document(unit.con, period=None, least=5)
    assert (found["assessments"], found["hours"], found["calling"]) == (0, [], [])


def test_milder_alike_and_worse_than_computed_by_role(unit):
    labour(unit, "c1")
    unit.pathological_minutes("c1", STANDARD, 30, "suspicious")
    noted(unit, "c1", 10, "normal")  # milder
    noted(unit, "c1", 20, "suspicious")
    noted(unit, "c1", 25, "pathological", "second_person")  # worse
    noted(unit, "c1", 31, "normal")  # a minute after the last one: still compared
    noted(unit, "c1", 33, "normal")  # nothing was computed so near
    noted(unit, "c1", 20, "not assessable", "obstetrician")
    found = bedside.document(unit.con, period=None, least=1)["calling"]
    counts = {row["assessor"]: (row["assessments"], row["under"], row["alike"], row["over"]) for row in found}
    assert counts == {"midwife": (3, 2, 1, 0), "second_person": (1, 0, 0, 1)}
    assert bedside.document(unit.con, period=None, least=2)["calling"][0] == {
        "standard": STANDARD, "assessor": "midwife", "against": "computed",
        "assessments": "hidden", "labours": "hidden",
    }  # fmt: skip


def test_a_small_count_of_a_role_is_hidden_with_what_would_tell_it(unit):
    # primary and secondary suppression: Hundepool et al., Statistical Disclosure Control, 2012, ch. 4 (from memory)
    for number in range(6):
        labour(unit, f"c{number}")
        unit.pathological_minutes(f"c{number}", STANDARD, 30, "suspicious")
        noted(unit, f"c{number}", 20, "normal" if number == 0 else "suspicious")
        noted(unit, f"c{number}", 25, "suspicious")
    (row,) = bedside.document(unit.con, period=None, least=5)["calling"]
    # 12 less 11 alike would tell the one that is milder
    assert (row["assessments"], row["labours"]) == (12, 6)
    assert (row["under"], row["alike"], row["over"]) == ("hidden", "hidden", 0)
    assert "share_under" not in row
    assert row["share_over"] == 0
    (row,) = bedside.document(unit.con, period=None, least=1)["calling"]
    assert (row["under"], row["alike"], row["over"]) == (1, 11, 0)
    assert row["share_under"] == pytest.approx(1 / 12)


def test_milder_and_worse_by_month_for_the_charts(unit):
    labour(unit, "c1")
    unit.pathological_minutes("c1", STANDARD, 30, "suspicious")
    for number in range(2, 6):
        labour(unit, f"c{number}")
        unit.pathological_minutes(f"c{number}", STANDARD, 30, "suspicious")
        noted(unit, f"c{number}", 20, "suspicious")
    for minute, category in ((10, "normal"), (15, "normal"), (20, "suspicious"), (25, "pathological")):
        noted(unit, "c1", minute, category)
    noted(unit, "c1", 20, "not assessable", "second_person")
    noted(unit, "c1", 20, "normal", "obstetrician")  # a role in one labour: hidden in the table, and not told here
    found = {row["name"]: row for row in bedside_measures.measures(unit.con, SETTINGS, STANDARD, ["2031-03"], None)}
    milder, worse = found["bedside_milder"], found["bedside_worse"]
    assert (milder["numerators"], milder["denominators"]) == ([2], [8])
    assert (worse["numerators"], worse["denominators"]) == ([1], [8])
    others = bedside_measures.measures(unit.con, SETTINGS, "figo-2015", ["2031-03"], None)
    assert "bedside_milder" not in {row["name"] for row in others}


def test_blind_first_reads_of_the_window_by_their_median(unit):
    labour(unit, "c1")
    noted(unit, "c1", 10, "normal")
    for reader, category in (("R1", "pathological"), ("R2", "suspicious"), ("R3", "suspicious")):
        unit.read("c1", reader, category, standard=STANDARD, outcome_hidden=True)
    unit.read("c1", "R4", "normal", standard=STANDARD, outcome_hidden=False)
    unit.read("c1", "R1", "normal", standard=STANDARD, outcome_hidden=True, occasion=2)
    (row,) = bedside.document(unit.con, period=None, least=1)["calling"]
    assert (row["against"], row["under"], row["assessments"]) == ("blind reads", 1, 1)
    unit.con.execute("delete from reads where reader = 'R3'")  # the median lies between two
    assert bedside.document(unit.con, period=None, least=1)["calling"] == []


def test_parts_of_many_waits_and_which_is_longest(unit):
    for case_id, minute in (("c1", 110), ("c2", 130)):
        labour(unit, case_id)
        unit.episode(case_id, "late", 40.0, standard=STANDARD)  # recognisable at 100 min, 60 min long
        noted(unit, case_id, minute, "pathological")
        unit.event(case_id, 6000 + 40 * 60.0, "senior_called")
    labour(unit, "c3")
    unit.episode("c3", "resolved", None, standard=STANDARD)
    noted(unit, "c3", 50, "normal")
    waits = wait_parts.waits_in_parts(unit.con, SETTINGS.response, standard=STANDARD)
    rows = {row["until"]: row for row in wait_parts.summary(waits)}
    recorded, called, there = (rows[name] for name in ("recorded", "escalated", "senior_there"))
    assert (recorded["came"], recorded["reached"], recorded["resolved"]) == (3, 2, 1)
    assert recorded["minutes"] == pytest.approx(10 + 30 + 60)
    assert (called["came"], called["reached"], called["minutes"]) == (2, 2, pytest.approx(30 + 10))
    assert (there["reached"], there["resolved"], there["minutes"]) == (0, 2, pytest.approx(40))
    assert recorded["share_of_time"] == pytest.approx(100 / 180)
    assert (recorded["share"], recorded["half_min"]) == (pytest.approx(2 / 3), pytest.approx(30))
    assert [wait["longest"] for wait in waits] == ["escalated", "recorded", "recorded"]
    curve = wait_parts.curve_points(waits, "recorded", None, longest_min=90)
    assert [(point["minutes"], round(point["share"], 3)) for point in curve] == [
        (0, 0), (10, 0.333), (30, 0.667), (60, 0.667), (90, 0.667)
    ]  # fmt: skip


def test_a_case_s_wait_is_drawn_under_the_standard_that_staff_recorded_under(unit):
    """By hand: 5 min to recognition, called 40 min after it without a record of it, the pattern ends 20 min later."""
    labour(unit, "c1")
    unit.episode("c1", "late", 40.0, standard=STANDARD)  # pattern at 95 min, recognisable at 100, 60 min long
    unit.episode("c1", "late", 40.0, standard="figo-2015")
    noted(unit, "c1", 110, "normal")
    unit.event("c1", 6000 + 40 * 60.0, "senior_called")
    waits = wait_parts.waits_in_parts(unit.con, SETTINGS.response)
    clock = pd.DataFrame(waits)
    (wait,) = wait_parts.to_draw(waits, clock, "A", "figo-2015")
    assert wait["standard"] == STANDARD
    rows = tables.timeline_rows(wait)
    assert [row["label"].partition(": ")[2] for row in rows[1:]] == [
        "not in 40 min (senior called)", "not in 20 min (the pattern ended)"
    ]  # fmt: skip
    assert [(row["reached"], row["longest"]) for row in rows] == [(True, False), (False, True), (False, False)]
    spec = spec_of(timeline(rows, width_px=600, height_px=60), checked=True)
    drawn = [(row["start"], row["end"]) for each in spec["datasets"].values() for row in each]
    assert drawn[1:] == [(100.0, 140.0), (140.0, 160.0)]
    assert wait_parts.to_draw(waits, clock, "B", STANDARD) == []


def test_what_was_decided_before_or_cannot_be_assessed_is_in_no_part(unit):
    for case_id, status in (("c1", "under_way"), ("c2", "not_assessable")):
        labour(unit, case_id)
        unit.episode(case_id, status, None)
    labour(unit, "c3")
    unit.episode("c3", "late", 40.0, at_start=True)
    assert wait_parts.waits_in_parts(unit.con, SETTINGS.response) == []


def test_all_units_less_another_one_tell_no_small_count(unit):
    """By hand: 8 milder in all less 6 of U1 would be the 2 of U2, and 9 labours less 6 its 3."""
    noted = [
        {"case_id": f"{site}{k}", "unit": site, "period": "2031-03", "standard": STANDARD, "assessor": "midwife",
         "read": [], "category": "normal" if k < milder else "suspicious", "computed": "suspicious"}
        for site, labours, milder in (("U1", 16, 6), ("U2", 14, 2)) for k in range(labours)
    ]  # fmt: skip
    hours = [
        {"case_id": f"{site}{k}", "unit": site, "period": "2031-03", "shift": None, "start_s": 0.0, "end_s": 7200.0,
         "times_s": [600.0], "roles": ["midwife"]}
        for site, labours in (("U1", 6), ("U2", 3)) for k in range(labours)
    ]  # fmt: skip
    milder, labours = {}, {}
    for site in (None, "U1", "U2"):
        (row,) = bedside.calling(noted, least=5, unit=site)
        milder[site] = row["under"]
        labours[site] = bedside.hourly(hours, least=5, unit=site)[0]["labours"]
    assert [name for name, count in milder.items() if count != "hidden"] == [None]
    assert [name for name, count in labours.items() if count != "hidden"] == [None]
    # units whose counts are not small hide nothing of each other
    assert bedside.calling([row for row in noted if row["unit"] == "U1"], least=5, unit="U1")[0]["under"] == 6


class Compared(str):
    """A case's id that counts how often it is held against another one."""

    times = 0

    def __eq__(self, other: object) -> bool:
        Compared.times += 1
        return str.__eq__(self, other)  # type: ignore[arg-type]

    __hash__ = str.__hash__


def test_a_units_year_is_counted_in_one_walk():
    """Once a walk for each labour: 53 s of processor time for 18,264 assessments of 3,960 labours."""
    labours, each = 200, 4
    noted = [
        {"case_id": Compared(f"K{k:03d}"), "standard": "figo-2015", "assessor": "midwife", "period": "2031-03",
         "category": "normal", "computed": "pathological" if k % 2 else "normal", "read": []}
        for _ in range(each) for k in range(labours)
    ]  # fmt: skip
    [row] = bedside.calling(noted, least=5)
    assert (row["assessments"], row["labours"]) == (labours * each, labours)
    assert (row["alike"], row["under"], row["over"]) == (400, 400, 0)
    assert Compared.times < 20 * labours * each


def open_counts(true, shown, sums):
    """Of each count that is not shown the least and the most that it can be, by integer programming over the sums."""
    keys = list(true)
    rows = [[float(one.get(key, 0)) for key in keys] for one in sums] + [
        [float(key == other) for key in keys] for other in shown
    ]
    at = [sum(true[key] * factor for key, factor in one.items()) for one in sums] + [true[key] for key in shown]
    within = LinearConstraint(np.array(rows), at, at)
    for place, key in enumerate(keys):
        if key not in shown:
            cost = np.eye(len(keys))[place]
            low, high = (
                milp(sign * cost, constraints=within, bounds=Bounds(0, np.inf), integrality=np.ones(len(keys)))
                for sign in (1, -1)
            )
            yield key, round(low.fun), None if high.fun is None else round(-high.fun)


MONTHS = ("2031-03", "2031-04", "2031-05")


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 3, 6, 9])
def test_an_attacker_with_every_month_and_all_months_works_no_small_count_of_a_role_out(seed):
    """The tables of each month and of all together, with every sum of one that is in another.

    Source of the attack: Hundepool et al., Statistical Disclosure Control, 2012, ch. 4 (from memory).
    """
    rng = np.random.default_rng(seed)
    roles = ("midwife", "obstetrician", "second_person")
    number = iter(range(100_000))
    noted = [
        {"case_id": f"c{next(number)}", "period": month, "standard": "figo-2015", "assessor": role, "read": [],
         "category": own, "computed": "suspicious"}
        for month in MONTHS for role in roles for own in ("normal", "suspicious", "pathological")
        for _ in range(int(rng.choice([0, 1, 2, 4, 6, 15])))
    ]  # fmt: skip
    true, shown, sums, whole = {}, set(), [], set()
    for view in (None, *MONTHS):
        own = [row for row in noted if view in (None, row["period"])]
        for row in bedside.calling(noted, period=view, least=5):
            role = row["assessor"]
            counts = Counter(each["category"] for each in own if each["assessor"] == role)
            for kind, category in zip(bedside.KINDS, ("normal", "suspicious", "pathological"), strict=True):
                true[view, role, kind] = counts[category]
                if row.get(kind, "hidden") != "hidden":
                    assert row[kind] == counts[category]
                    shown.add((view, role, kind))
            if row["labours"] == "hidden":
                whole.add((view, role))
            if row["assessments"] != "hidden":
                sums.append({(view, role, kind): 1 for kind in bedside.KINDS})
    for role in roles:
        sums += [
            {key: -1 if key[0] is None else 1 for key in true if key[1:] == (role, kind)} for kind in bedside.KINDS
        ]
    told = bedside.roles_told(noted, "figo-2015", 5)
    for month, steps in told.items():
        own = [key for key in true if key[0] == month and key[:2] not in whole]
        # of roles in few labours the charts tell nothing
        assert len(steps) == sum(true[key] for key in own)
    for key, low, high in open_counts(true, shown, [one for one in sums if one]):
        assert not (0 < true[key] < 5) or high is None or low < high, key
