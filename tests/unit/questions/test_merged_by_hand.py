"""What merged summaries say, of a few that are written by hand: pooled figures, and what a summary hid."""

import pytest

from audit.errors import AuditError, UsageError
from audit.pack.build import write_pack
from audit.questions import cases_to_discuss, counted, delays, oxytocin, summary, trends, units
from audit.questions.check import check
from audit.store import database, summaries
from tests.unit.questions.test_summary import SETTINGS, merged, written

pytestmark = pytest.mark.slow  # each makes a database of its own


def by_hand(unit, period, areas, minutes, chance):
    """A summary written by hand: areas, decisions of urgency 1 for a caesarean, concerns in time."""
    names = ("analysed", "seen", "with_concern", "newborns", "cord_gases", "complete_of", "complete")
    month = {"period": period, "standard": "figo-2015", "births": 10, **dict.fromkeys(names, 10)}
    return {
        "version": 2, "program_version": "0", "settings_sha256": SETTINGS.sha256, "unit": unit,
        "first_period": period, "last_period": period, "least": 1, "hidden": [], "months": [month], "waits": [],
        "chance": [
            {"period": period, "standard": "figo-2015", "trigger": "pathological", "in_time": chance[0],
             "counted": chance[1], "shifts_in_time": chance[2], "shifts_counted": chance[3]}
        ],
        "oxytocin": [
            {"period": period, "standard": "figo-2015", "labours": 3, "hours": 12.0, "hours_in_tachysystole": 3.0,
             "increases_in_concern": 1, "increased_in": 1}
        ],
        "oxytocin_waits": [
            {"period": period, "standard": "figo-2015", "reason": "concern", "minutes": minutes, "reduced": reduced,
             "waits": 1}
            for minutes, reduced in ((10.0, True), (30.0, False))
        ],
        "agreement": [],
        "areas": [{"period": period, "area_per_seen_hour_bpm_s": area, "tracings": 1} for area in areas],
        "births_decided": [
            {"period": period, "kind_of_birth": "caesarean", "urgency": 1, "minutes": each, "labours": 1}
            for each in minutes
        ],
        "hours": [{"period": period, "hours": 8, "assessed": 6, "second_person": 2}],
        "case_mix": [{"standard": None, "measure": "caesarean", "case_mix": [], "labours": 10, "events": len(minutes)}],
    }  # fmt: skip


def test_a_share_of_a_month_that_one_unit_hides_is_not_that_of_the_others(db, tmp_path):
    """U1 had no concern in ten labours, U2 in so few of ten that it hides how many: not 0 of 10."""
    none, few = (by_hand(unit, "2031-03", [100.0], [20.0], (1, 1, [1], [1])) for unit in ("U1", "U2"))
    none["months"][0]["with_concern"] = 0
    few["months"][0] |= dict.fromkeys(("analysed", "seen", "with_concern"))
    merged(db, [written(tmp_path, none), written(tmp_path, few)])
    with database.open_for_reading(db) as con:
        found = {m["name"]: m for m in trends.document(con, SETTINGS, standard="figo-2015")["measures"]}
    assert [(p["value"], p["denominator"]) for p in found["cases_with_concern"]["points"]] == [(None, 0)]
    assert "No share in 1 month in which a merged unit hid its own" in found["cases_with_concern"]["says"]
    assert [(p["value"], p["denominator"]) for p in found["cord_gases_taken"]["points"]] == [(1.0, 20)]


@pytest.mark.parametrize(
    ("concerns", "told"),
    [
        ((0, 6, 7), {"a", "b", "c"}),  # no month hides
        ((2, 6, 7), set()),  # the 2 of the month that hides follow from the sum
        ((2, 3, 7), {"a", "b", "c"}),  # two months hide: together they are 5 of 40
        ((1, 3, 7), set()),
    ],
)
def test_months_that_hide_a_share_are_in_a_sum_or_none_is(concerns, told):
    """The threshold rule (Glossary of Statistical Disclosure Control, UNECE/Eurostat, 2005): four are few."""
    rows = [{"period": p, "with_concern": n, "seen": 20} for p, n in zip("abc", concerns, strict=True)]
    own = [row | {"with_concern": None if 0 < row["with_concern"] < 5 else row["with_concern"]} for row in rows]
    assert summary.told_together(rows, own, "with_concern", "seen", 5) == told


def test_single_cases_of_merged_labours_are_asked_of_their_unit(db, tmp_path):
    """10 labours, of which nobody here has a case: that is said where cases are asked for, and not that none are."""
    merged(db, [written(tmp_path, by_hand("U1", "2031-03", [100.0], [20.0], (1, 1, [1], [1])))])
    asked = {"unit": "U1", "first": "2031-03", "last": "2031-03", "least": 1}
    with database.open_for_reading(db) as con:
        note = cases_to_discuss.document(con, SETTINGS, period="2031-03")["note"]
        with pytest.raises(UsageError, match="10 labours in 2031-03 to 2031-03 are of merged summaries"):
            summary.document(con, SETTINGS, **asked)
    for said in (note, refused(write_pack, db, period="2031-03", out=tmp_path / "pack")):
        assert "10 labours in 2031-03 are of merged summaries" in said, said
    assert "10 labours of merged summaries" in check(db, SETTINGS).lines()


def refused(do, *args, **named):
    with pytest.raises(AuditError) as error:
        do(*args, **named)
    return str(error.value)


def test_a_wait_that_nobody_tells_is_not_called_no_concern(db, tmp_path):
    """Three summaries: no labour of ten had a concern; ten had one, their waits are hidden; a whole month is hidden."""
    month = ("2031-03", [100.0], [20.0], (1, 1, [1], [1]))
    none, hidden, gone = (by_hand(unit, *month) for unit in ("U1", "U2", "U3"))
    none["months"][0]["with_concern"] = 0
    gone["months"] = []
    told = {}
    with database.open_for_writing(db) as con:
        for name, one in (("U1", none), ("U2", hidden), ("U3", gone)):
            summaries.write(one, tmp_path / name, None)
            found = summaries.read(tmp_path / name, None, SETTINGS.import_.reader_pattern)
            summaries.merge(con, [found], settings_sha256=SETTINGS.sha256)
            told[name] = str(delays.document(con, SETTINGS, period="2031-03", standard="figo-2015")["note"])
        assert delays.untold_words(con, "2031-04", None) == ""
    assert told["U1"].startswith("No concern episode was found in the 10 analysed cases")
    assert told["U2"].startswith("Of 1 month of merged units no wait is told")
    assert told["U3"].startswith("Of 2 months of merged units no wait is told")


def test_two_units_counted_by_hand(db, tmp_path):
    """Median of 100, 300, 200, 900, 1000 is 300; two of 20, 40, 25 min within 30; 1 of 2 and 3 of 4 in time are 4 of 6,
    by chance (1 + 2 + 0 + 2) of (2 + 4 + 2 + 4); 6 of 24 h in tachysystole, oxytocin reduced in 2 of 4 concerns."""
    files = [
        written(tmp_path, by_hand("U1", "2031-03", [100.0, 300.0], [20.0, 40.0], (1, 2, [1, 0], [2, 2]))),
        written(tmp_path, by_hand("U2", "2031-03", [200.0, 900.0, 1000.0], [25.0], (3, 4, [2, 2], [4, 4]))),
    ]
    merged(db, files)
    with database.open_for_reading(db) as con:
        measures = {m["name"]: m["points"] for m in trends.document(con, SETTINGS, standard="figo-2015")["measures"]}
        by_chance = delays.document(con, SETTINGS, standard="figo-2015")["chance"]
        shares = units.document(con, SETTINGS, standard="figo-2015")["measures"]
        assert counted.of_cases(con, SETTINGS, period=None, standard="figo-2015") == {}  # nobody here can open them
        (every, march) = oxytocin.by_month([], oxytocin.told(con, period=None, standard="figo-2015"))
    (area,) = measures["area_last_hour_bpm_s_per_h"]
    assert (area["value"], area["denominator"]) == (300.0, 5)
    (decided,) = measures["decision_to_birth_within_30_min"]
    assert (decided["numerator"], decided["denominator"]) == (2, 3)
    assert by_chance["share_in_time"] == pytest.approx(4 / 6)
    assert by_chance["share"] == pytest.approx(5 / 12)
    assert every["share_tachysystole"] == march["share_tachysystole"] == pytest.approx(6 / 24)
    assert (every["concern_waits"], every["concern_reduced"], every["low_tachysystole"]) == (4, 2, None)
    (assessed,) = measures["hours_assessed"]
    assert (assessed["numerator"], assessed["denominator"]) == (12, 16)
    caesarean = {measure["name"]: measure for measure in shares}["caesarean"]["funnel"]
    assert [(point["numerator"], point["denominator"]) for point in caesarean["points"]] == [(2, 10), (1, 10)]
    assert measures["decision_to_birth_over_interval"] == []


def test_a_summary_of_the_version_before_is_read_and_said(db, tmp_path):
    before = {name: part for name, part in by_hand("U1", "2031-03", [1.0], [2.0], (0, 0, [], [])).items()
              if name not in ("chance", "agreement", "areas", "oxytocin", "oxytocin_waits", "births_decided", "hours",
                              "case_mix")} | {"version": 1}  # fmt: skip
    done = merged(db, [written(tmp_path, before)])
    assert done.added == 1
    (note,) = done.notes
    assert "of version 1" in note
    with database.open_for_reading(db) as con:
        assert con.execute("select count(*) from summary_areas").fetchone() == (0,)
    later = written(tmp_path, by_hand("U2", "2031-03", [1.0], [2.0], (0, 0, [], [])) | {"version": 3})
    with pytest.raises(AuditError, match="found a summary of version 3, expected 2 or 1"):
        summaries.read(later, None, SETTINGS.import_.reader_pattern)
