"""How a unit writes figures, dates and words: what changes, and what stays as it was.

Marks and dates: CLDR and ISO 8601, from memory (German and Swiss figures, French dates). The words are invented.
"""

import csv
import io

import pandas as pd
import pytest

from audit import house_style
from audit.charts.unchecked import as_house
from audit.csv_cells import csv_text
from audit.errors import SettingsError
from audit.house_style import HouseStyle
from audit.settings import load_settings
from audit.tables.case import event_words
from audit.tables.definition import Column, Kind, TableDefinition
from audit.tables.renderers import as_shown, to_csv, to_page

WORDS = {
    "senior_called": "Oberarzt gerufen",
    "iv_fluid_bolus": "Infusion",
    "birth": "Geburt",
    "late": "spät",
    "normal": "unauffällig",
    "II": "Stufe zwei",
}
HOUSE = HouseStyle(",", ".", "07.04.2031", WORDS)


@pytest.fixture
def house():
    with house_style.written(HOUSE):
        yield HOUSE


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("kappa 0.57 (0.49 to 0.63), p = 0.123.", "kappa 0,57 (0,49 to 0,63), p = 0,123."),
        ("1,077 labours", "1.077 labours"),
        ("Labours of 2031-04 to 2032-03, made 2032-04-09", "Labours of 04.2031 to 03.2032, made 09.04.2032"),
        ("2031\\-04: pH 7\\.12", "04.2031: pH 7,12"),  # as a page escapes it
        ("IV fluid bolus 5.5 min after senior called", "Infusion 5,5 min after Oberarzt gerufen"),
        ("Normal for 12 min", "Unauffällig for 12 min"),
        ("category II persistent", "category Stufe zwei persistent"),
        ("II 27%", "Stufe zwei 27%"),  # a part of a bar
        ("minute categories (I II III; N normal)", "minute categories (I, Stufe zwei, III; N unauffällig)"),
        ("late", "spät"),
        ("first act: birth", "first act: Geburt"),
        ("97.8%", "97,8%"),
    ],
)
def test_texts_are_written_as_the_house_does(ours, theirs):
    assert HOUSE.text(ours) == theirs
    assert HouseStyle().text(ours) == ours


@pytest.mark.parametrize(
    "text",
    [
        "NICE NG229 1.2 and 1.4.3, version 0.9.0",
        "`trends --period 2031-04 0.5`",
        "pack_2031-04.pdf",
        "[Case](case?month=2031-04)",
        "https://x.example/1.5/2031-04",
        "birth weight, mode of birth in words of our own sentences",
        'locale.categories."normal"',
        "1, 2, 3 and 12:30",
        "Journal 1999;106:1307-10 and 106: 1307-10",  # pages
        "3.",
    ],
)
def test_places_names_and_code_stay(text):
    assert HOUSE.text(text) == text


def test_a_table_on_a_page_sorts_as_numbers_and_dates_and_is_shown_as_the_house_does(house):
    made = TableDefinition(
        "waits",
        (
            Column("month", "Month"),
            Column("event", "Event", Kind.CODE),
            Column("minutes", "Minutes", Kind.NUMBER, 1),
            Column("rows", "Rows", Kind.COUNT),
        ),
    ).filled([{"month": "2031-04", "event": "senior_called", "minutes": 12.25, "rows": 1234}])
    values = to_page(made)
    assert values.loc[0].tolist() == ["2031-04", "Oberarzt gerufen", 12.3, 1234.0]
    assert made.shown() == [["04.2031", "Oberarzt gerufen", "12,3", "1.234"]]
    drawn = as_shown(made, values)._translate(False, False)["body"][0]
    assert [cell["display_value"] for cell in drawn if cell["type"] == "td"] == made.shown()[0]
    rows = list(csv.reader(io.StringIO(to_csv([made]).decode("utf-8-sig")), delimiter=";"))
    assert rows == [["Month", "Event", "Minutes", "Rows"], ["04.2031", "Oberarzt gerufen", "12,3", "1234"]]


def test_a_negative_figure_with_a_comma_is_no_formula_and_text_stays_guarded():
    assert csv_text(["a", "b"], [[-3.5, "-3.5"]], decimal=",") == "a;b\r\n-3,5;'-3.5\r\n"
    assert csv_text(["a", "b"], [[-3.5, "x"]]) == "a,b\r\n-3.5,x\r\n"


def test_in_a_chart_data_domains_and_orders_change_alike(house):
    spec = {
        "data": {"values": [{"word": "normal", "share": 0.5, "when": "2031-04"}]},
        "encoding": {
            "x": {"field": "share", "title": "0.5 or more"},
            "y": {"field": "word", "sort": ["normal"], "scale": {"domain": ["normal"]}},
            "z": {"axis": {"labelExpr": "['2031-04'][datum.value]"}},
        },
        "mark": {"type": "bar", "fontWeight": "normal"},
    }
    found = as_house(spec)
    assert found["data"]["values"] == [{"word": "unauffällig", "share": 0.5, "when": "04.2031"}]
    assert found["encoding"]["y"] == {"field": "word", "sort": ["unauffällig"], "scale": {"domain": ["unauffällig"]}}
    assert found["encoding"]["x"]["title"] == "0,5 or more"
    assert found["encoding"]["z"]["axis"]["labelExpr"] == "['04.2031'][datum.value]"
    assert found["mark"] == spec["mark"]
    assert found["config"]["locale"]["number"]["decimal"] == ","


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('decimal = ","', "locale.thousands: found ','"),
        ('date = "dmy"', "locale.date: found 'dmy'"),
        ('[locale.events]\nregistrar = "x"', "locale.events.registrar"),
        ('[locale.categories]\nnormal = "<b>"', "locale.categories"),
    ],
)
def test_what_does_not_fit_is_refused_with_its_key(tmp_path, text, told):
    file = tmp_path / "unit_settings.toml"
    file.write_text(f"[locale]\n{text}\n", encoding="utf-8")
    with pytest.raises(SettingsError, match=told.replace(".", r"\.")):
        load_settings(file)


def test_the_former_key_of_the_paper_says_where_it_went(tmp_path):
    file = tmp_path / "unit_settings.toml"
    file.write_text('[pack]\npaper = "a4"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match=r"pack\.paper: .* \[locale\]"):
        load_settings(file)


def test_each_risk_factor_of_a_cell_is_in_the_units_words_and_other_cells_of_several_words_stay():
    house = HouseStyle(words={"meconium": "Mekonium", "normal": "unauffällig"})
    assert house.cell("meconium diabetes") == "Mekonium, diabetes"
    assert house.cell("hypertension diabetes") == "hypertension diabetes"
    assert house.cell("normal meconium") == "normal meconium"


def test_a_listed_care_event_has_the_units_word_also_where_a_sentence_would_keep_ours(house):
    events = pd.DataFrame({"at_s": [600.0, 60.0], "event": ["birth", "senior_called"]})
    assert event_words(events) == ["00:01 Oberarzt gerufen", "00:10 Geburt"]
    assert house_style.text("; ".join(event_words(events))) == "00:01 Oberarzt gerufen; 00:10 Geburt"
