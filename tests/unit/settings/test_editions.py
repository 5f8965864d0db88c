"""The edition in force is printed with each result: NICE changed class boundaries between editions of one guideline."""

from audit.settings import editions, load_settings, with_edition


def test_every_standard_says_its_edition():
    found = editions(load_settings())
    assert {"nichd-2008", "figo-2015", "nice-ng229"} <= set(found)
    assert found["nice-ng229"] in ("december-2022", "amended")


def test_another_edition_is_the_one_that_is_named(tmp_path):
    unit = tmp_path / "unit_settings.toml"
    unit.write_text('[nice-ng229]\nedition = "december-2022"\n', encoding="utf-8")
    assert with_edition(load_settings(unit), "nice-ng229", "NICE NG229") == "NICE NG229 (december-2022)"


def test_a_name_that_says_its_edition_is_not_doubled():
    assert with_edition(load_settings(), "figo-2015", "FIGO 2015") == "FIGO 2015"
    assert with_edition(load_settings(), "unknown", "unknown") == "unknown"
