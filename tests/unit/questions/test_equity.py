"""Waits and outcomes by band: figures by hand and by statsmodels, and an attacker who knows every sum."""

import numpy as np
import pyarrow as pa
import pytest
from msgspec.structs import replace
from scipy.optimize import Bounds, LinearConstraint, milp
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from audit.questions import equity
from audit.settings import load_settings
from audit.tables.equity import of_field

pytestmark = pytest.mark.slow

ON = "[equity]\ncompare = true\n"


@pytest.fixture
def on(tmp_path):
    file = tmp_path / "unit_settings.toml"
    file.write_text(ON)
    return load_settings(file)


def fill(unit, counts):
    """Labours by band: how many, and how many of them by caesarean; a year and month where nothing else is known."""
    rows = []
    for band, (labours, caesareans) in counts.items():
        for k in range(labours):
            mode = "caesarean" if k < caesareans else "spontaneous_vaginal"
            rows.append((f"{band or 'x'}-{k}", "2031-03", band, mode))
    names = ("case_id", "period", "age_band", "mode_of_birth")
    unit.con.register("drawn", pa.table({name: [row[k] for row in rows] for k, name in enumerate(names)}))
    unit.con.execute("insert into cases by name select * from drawn")


def measure(found, name):
    [field] = found["fields"]
    return {row["band"]: row for row in next(m for m in field["measures"] if m["name"] == name)["rows"]}


def asked(unit, settings, **more):
    return equity.document(unit.con, settings, standard="figo-2015", **more)


def test_it_is_off_unless_the_unit_switches_it_on(unit, on):
    fill(unit, {"under_20": (12, 6), "20_to_24": (40, 10)})
    assert asked(unit, load_settings()) is None
    assert [field["field"] for field in asked(unit, on)["fields"]] == ["age_band"]


def test_shares_and_differences_have_the_published_intervals(unit, on):
    """Wilson and Newcombe (Stat Med 1998;17:857-72, method 3, and 873-90, method 10) as statsmodels has them."""
    fill(unit, {"20_to_24": (40, 10), "30_to_34": (56, 28), "35_to_39": (70, 12)})
    rows = measure(asked(unit, on), "caesarean")
    assert [(row["numerator"], row["denominator"]) for row in rows.values()] == [(10, 40), (28, 56), (12, 70)]
    for row in rows.values():
        around = proportion_confint(row["numerator"], row["denominator"], method="wilson")
        assert (row["low"], row["high"]) == pytest.approx(around, abs=1e-9)
    # beside the largest band
    got = rows["30_to_34"]
    between = confint_proportions_2indep(28, 56, 12, 70, method="newcomb", compare="diff")
    assert got["difference"] == pytest.approx(28 / 56 - 12 / 70)
    assert (got["difference_low"], got["difference_high"]) == pytest.approx(between, abs=1e-9)
    assert rows["35_to_39"]["difference"] is None


def test_waits_are_the_share_answered_counted_by_hand_and_hidden_by_labours(unit, on):
    fill(unit, {"20_to_24": (20, 8), "30_to_34": (20, 8), "35_to_39": (20, 8)})
    for k in range(10):  # nothing is censored, so the share is that of the counts
        unit.episode(f"20_to_24-{k}", *(("in_time", 5.0) if k < 5 else ("late", 40.0)))
        unit.episode(f"30_to_34-{k}", *(("in_time", 5.0) if k < 4 else ("late", 40.0)))
    for k in range(10):  # ten episodes of two labours
        unit.episode(f"35_to_39-{k % 2}", *(("in_time", 5.0) if k % 2 else ("late", 40.0)), at_s=3000.0 + 1000 * k)
    rows = measure(asked(unit, on), "answered_within_target")
    assert (rows["20_to_24"]["numerator"], rows["20_to_24"]["denominator"]) == (5, 10)
    assert rows["20_to_24"]["share"] == pytest.approx(0.5)
    assert rows["20_to_24"]["half_answered_min"] == 5.0
    assert rows["30_to_34"]["hidden"]
    assert rows["35_to_39"]["hidden"]
    smaller = measure(asked(unit, replace(on, equity=replace(on.equity, min_cell=4))), "answered_within_target")
    assert smaller["30_to_34"]["numerator"] == 4


def test_a_lone_small_band_takes_the_next_with_it_in_every_measure(unit, on):
    fill(unit, {"under_20": (3, 1), "20_to_24": (21, 9), "30_to_34": (40, 12), None: (30, 9)})
    [field] = asked(unit, on)["fields"]
    assert [row["labours"] for row in field["labours"]] == [None, None, 40, 30]
    rows = measure(asked(unit, on), "caesarean")
    assert [row["hidden"] for row in rows.values()] == [True, True, False, False]
    # nothing of them is left in any figure of theirs, and the bands that are shown are not held against them
    assert all(rows["under_20"][name] is None for name in rows["under_20"] if name not in ("band", "hidden"))
    assert all(row["difference"] is None for band, row in rows.items() if band != "not given")
    shown = of_field(field).shown()
    assert {row[2:4] == ["hidden", "hidden"] for row in shown if row[1] in ("under 20", "20 to 24")} == {True}


def test_without_outcomes_nothing_tells_how_newborns_were(unit, on):
    fill(unit, {"20_to_24": (40, 10), "30_to_34": (40, 12)})
    [field] = asked(unit, on, with_outcome=False)["fields"]
    assert [m["name"] for m in field["measures"]] == ["answered_within_target", "concern", "caesarean"]


@pytest.mark.parametrize("seed", range(6))
def test_an_attacker_who_knows_every_sum_works_no_hidden_count_out(unit, on, seed):
    """Each hidden count can still have several values, by integer programming (scipy's milp) over all that is known.

    The attacker knows the month's labours, caesareans and others, and every row that is shown. Source of the attack:
    Hundepool et al., Statistical Disclosure Control, 2012, ch. 4 (from memory).
    """
    rng = np.random.default_rng(seed)
    bands = [*on.equity.bands.age_band, None]
    sizes = {band: int(n) for band, n in zip(bands, rng.choice([0, 2, 4, 6, 12, 30], size=7), strict=True)}
    counts = {band: (n, int(rng.integers(0, n + 1))) for band, n in sizes.items() if n}
    if not any(counts):
        counts["20_to_24"] = (6, 2)
    fill(unit, counts)
    found = asked(unit, on)
    [field] = found["fields"]
    rows = measure(found, "caesarean")
    names = [row["band"] for row in field["labours"]]
    true = {band or equity.NOT_GIVEN: (done, n - done) for band, (n, done) in counts.items()}
    # two unknowns a band, caesareans and others: their sums are known, and the labours of a band where they are shown
    known, at = [], []
    for column in (0, 1):
        known.append([float(k % 2 == column) for k in range(2 * len(names))])
        at.append(sum(values[column] for values in true.values()))
    for place, (band, labours) in enumerate(zip(names, field["labours"], strict=True)):
        if labours["labours"] is not None:
            known.append([float(k // 2 == place) for k in range(2 * len(names))])
            at.append(labours["labours"])
        for column in (0, 1):
            if not rows[band]["hidden"]:
                known.append([float(k == 2 * place + column) for k in range(2 * len(names))])
                at.append(true[band][column])
    within = LinearConstraint(np.array(known), at, at)
    for place, band in enumerate(names):
        assert rows[band]["hidden"] or not any(0 < n < 5 for n in true[band])
        for column in (0, 1):
            if rows[band]["hidden"]:
                cost = np.eye(2 * len(names))[2 * place + column]
                ends = [
                    milp(sign * cost, constraints=within, bounds=Bounds(0, np.inf), integrality=np.ones(len(cost)))
                    for sign in (1, -1)
                ]
                assert -ends[1].fun - ends[0].fun >= 1, (band, true, rows)
