"""Numbers with decimals are read as the unit writes them: a comma is never dropped (the issue's sentence on locale)."""

import pytest

from audit.errors import UsageError
from audit.house_style import HouseStyle, written
from audit.people import agenda, agreed
from dashboards.decimals import number
from tests import page_databases
from tests.signing_in import sign_in


@pytest.mark.parametrize(("mark", "typed", "other"), [(",", "47,5", "47.5"), (".", "47.5", "47,5")])
def test_a_number_has_the_units_mark_and_no_other(mark, typed, other):
    with written(HouseStyle(decimal=mark, thousands=" ")):
        assert (number("Minute", typed), number("Minute", "-3"), number("Minute", "")) == (47.5, -3.0, None)
        for wrong in (other, "1 200", "nan", "1e3", "4,5,6", "about 4"):
            with pytest.raises(UsageError, match=r"^Minute: found no number"):
                number("Minute", wrong)


@pytest.mark.slow
def test_a_minute_takes_a_comma_and_what_nobody_touched_stays_exact(open_page, databases, tmp_path):
    databases["own"] = own = page_databases.small_database(tmp_path)
    own.with_name("unit_settings.toml").write_text('[locale]\ndecimal = ","\nthousands = "."\n', encoding="utf-8")
    agenda.add(own, "2031-04", "C-001", who="lead")
    place = ("2031-04", "C-001", "A", "figo-2015")
    box, save = f"agreed_from_{'_'.join(place)}", f"agreed_save_{'_'.join(place)}"
    page = sign_in(open_page("own", "meeting"), "chair")
    page.selectbox(key="period").set_value("2031-04").run()
    for typed, kept_s in (("47.5", None), ("47,5", 2850.0)):
        page.text_input(key=box).set_value(typed)
        page.button(key=save).click().run()
        assert not page.exception
        found = agreed.of_case(own, *place)
        assert (None if found is None else found.from_s) == kept_s
        assert bool(page.error) is (kept_s is None)
    agreed.save(own, *place, agreed.Agreed(from_s=2850.25), who="chair")
    page = sign_in(open_page("own", "meeting"), "chair")
    page.selectbox(key="period").set_value("2031-04").run()
    assert page.text_input(key=box).value == "47,5"
    page.radio(key=f"agreed_concern_{'_'.join(place)}").set_value(True)
    page.button(key=save).click().run()
    assert agreed.of_case(own, *place) == agreed.Agreed(concern=True, from_s=2850.25)
