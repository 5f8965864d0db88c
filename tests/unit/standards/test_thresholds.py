"""Every threshold of every standard: published and packaged values agree, and each side of its boundary."""

import numpy as np
import pytest

from audit.errors import SettingsError
from audit.setting_types import Limit
from audit.standards.registry import STANDARDS, departures, guideline_rows
from audit.standards.registry import THRESHOLDS as TABLES
from audit.standards.types import Threshold
from tests.reading_builder import reading, table

EVERY = [(name, threshold) for name, thresholds in TABLES.items() for threshold in thresholds]


@pytest.mark.parametrize("name", TABLES)
def test_packaged_settings_are_the_published_figures(name: str) -> None:
    assert departures(name, table(name)) == []


@pytest.mark.parametrize(("name", "threshold"), EVERY, ids=lambda value: getattr(value, "name", value))
def test_each_threshold_on_both_sides(name: str, threshold: Threshold) -> None:
    limit = table(name).limit(threshold.name)
    assert limit.unit == threshold.unit
    inclusive = threshold.published.split()[0] in (">=", "<=")
    outward = 1.0 if ">" in threshold.published else -1.0
    step = 1e-6 * max(abs(limit.value), 1.0)
    assert limit.met_by(limit.value) is inclusive
    assert limit.met_by(limit.value + outward * step)
    assert not limit.met_by(limit.value - outward * step)
    assert not limit.met_by(np.nan)


@pytest.mark.parametrize(("name", "threshold"), EVERY, ids=lambda value: getattr(value, "name", value))
def test_each_threshold_names_its_source(name: str, threshold: Threshold) -> None:
    assert threshold.says
    assert threshold.unit
    assert threshold.source


def test_a_unit_that_leaves_the_published_figure_is_told() -> None:
    changed = table("figo-2015", repetitive=">= 0.5")
    (row,) = departures("figo-2015", changed)
    assert (row.name, row.in_force, row.published) == ("repetitive", ">= 0.5", "> 0.5")


@pytest.mark.parametrize("text", ["160", "> ", "about 3", "> 3 bpm", "> nan", ""])
def test_a_limit_that_cannot_be_read_names_the_setting(text: str) -> None:
    with pytest.raises(SettingsError, match="tachycardia"):
        table("figo-2015", tachycardia=text)


def test_limits_that_leave_nothing_between_them_are_refused() -> None:
    # NICHD 2008: 110 to 160 bpm is a normal baseline
    with pytest.raises(SettingsError, match="bradycardia"):
        table("nichd-2008", bradycardia="< 160")
    assert table("nichd-2008", bradycardia="< 159")


@pytest.mark.parametrize("minutes", [0, 11])
def test_of_ten_minutes_of_variability_at_least_one_is_asked_for_and_at_most_all(minutes: int) -> None:
    # the ten minutes of a baseline (NICHD 2008)
    for least in (1, 10):
        assert table("nichd-2008", variability_minimum_min=least).variability_minimum_min == least
    with pytest.raises(SettingsError, match="at least 1, at most 10"):
        table("nichd-2008", variability_minimum_min=minutes)


def test_limits_compare_arrays() -> None:
    assert Limit(">=", 2.0).met(np.array([1.9, 2.0, np.nan])).tolist() == [False, True, False]


@pytest.mark.parametrize("name", STANDARDS)
def test_edition_in_force_comes_with_results(name: str) -> None:
    made = STANDARDS[name].minute_categories(reading(30), table(name))
    assert made.edition == table(name).for_month(None).printed_edition
    assert STANDARDS[name].window_category(reading(30), 0.0, 1800.0, table(name)).edition == made.edition


def test_unknown_edition_is_refused() -> None:
    with pytest.raises(SettingsError, match="cg190-2017"):
        table("nice-ng229", edition="2017")


FORMER = {"first_month": "2017-02", "last_month": "2022-11"}
AMENDED = {"first_month": "2023-11", "last_month": ""}


@pytest.mark.parametrize(
    "editions",
    [
        {
            "cg190-2017": FORMER,
            "december-2022": {"first_month": "2022-12", "last_month": ""},
            "amended": AMENDED,
        },  # two at a time
        {
            "cg190-2017": FORMER,
            "december-2022": {"first_month": "2022-12", "last_month": "2023-11"},
            "amended": AMENDED,
        },
        {
            "cg190-2017": FORMER,
            "december-2022": {"first_month": "2022-12", "last_month": "2022-11"},
            "amended": AMENDED,
        },
        {
            "cg190-2017": FORMER,
            "december-2022": {"first_month": "2022-13", "last_month": "2023-10"},
            "amended": AMENDED,
        },
        {
            "cg190-2017": {"first_month": "2017-02", "last_month": "2022-12"},
            "december-2022": {"first_month": "2022-12", "last_month": "2023-10"},
            "amended": AMENDED,
        },
        {"cg190-2017": FORMER, "amended": AMENDED},
    ],
)
def test_no_month_has_two_texts(editions: dict[str, dict[str, str]]) -> None:
    with pytest.raises(SettingsError, match="editions"):
        table("nice-ng229", editions=editions)


@pytest.mark.parametrize(
    ("month", "edition"),
    [
        ("2015-05", "cg190-2017"),
        ("2022-11", "cg190-2017"),
        ("2022-12", "december-2022"),
        ("2023-10", "december-2022"),
        ("2023-11", "amended"),
    ],
)
def test_one_text_for_all_goes_before_the_month(month: str, edition: str) -> None:
    assert table("nice-ng229").for_month(month).edition == edition
    assert table("nice-ng229", edition="amended").for_month(month).edition == "amended"
    assert table("nice-ng229", edition_without_month="december-2022").for_month(None).edition == "december-2022"


@pytest.mark.parametrize("name", TABLES)
def test_rows_to_lay_beside_the_guideline(name: str) -> None:
    rows = guideline_rows(name, table(name))
    assert [row.name for row in rows] == [threshold.name for threshold in TABLES[name]]
    assert all(row.published == row.in_force for row in rows)
    first = rows[0].name
    changed = guideline_rows(name, table(name, **{first: ">= 7.5"}))[0]
    assert (changed.in_force, changed.published) == (">= 7.5", rows[0].published)
