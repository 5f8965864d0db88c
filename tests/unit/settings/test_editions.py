"""The edition in force is printed with each result: NICE changed class boundaries between editions of one guideline."""

from audit.settings import editions, load_settings, with_edition


def test_every_standard_says_its_edition():
    found = editions(load_settings())
    assert {"nichd-2008", "figo-2015", "nice-ng229"} <= set(found)
    assert found["nice-ng229"].startswith(
        "cg190-2017, text for births from 2017-02 to 2022-11; december-2022, text for births from 2022-12 to 2023-10;"
        " amended, "
    )


def test_a_month_has_the_edition_that_was_in_force():
    # NG229 is of December 2022; the month of its amendment was not seen, so it is a setting.
    words = [with_edition(load_settings(), "nice-ng229", "NICE NG229", month) for month in ("2023-01", "2024-01")]
    assert words == [
        "NICE NG229 (december-2022, text for births from 2022-12 to 2023-10)",
        "NICE NG229 (amended, text for births from 2023-11 on)",
    ]


def test_another_edition_is_the_one_that_is_named(tmp_path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text('[nice-ng229]\nedition = "december-2022"\n', encoding="utf-8")
    assert with_edition(load_settings(unit), "nice-ng229", "NICE NG229").startswith("NICE NG229 (december-2022")


def test_a_name_that_says_its_edition_is_not_doubled():
    assert with_edition(load_settings(), "figo-2015", "FIGO 2015") == "FIGO 2015"
    assert with_edition(load_settings(), "unknown", "unknown") == "unknown"
