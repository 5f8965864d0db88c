"""Choices that stand in a page's address: it leads them, they change it, and what they do not offer is left."""

from streamlit.testing.v1 import AppTest


def choices():
    import streamlit as st

    from dashboards import addressed

    st.multiselect("Kinds", ["a", "b", "c"], **addressed.several_led_by_address("kinds", ["a", "b", "c"]))
    st.selectbox(
        "Month", ["2031-04", "2031-05"], **addressed.led_by_address("month", ["2031-04", "2031-05"], "2031-04")
    )
    st.toggle("All", **addressed.switched_by_address("all_rows"))


def shown(page):
    assert not page.exception
    return page.multiselect[0].value, page.selectbox[0].value, page.toggle[0].value


def test_one_several_and_a_switch_follow_the_address_and_change_it():
    page = AppTest.from_function(choices)
    assert shown(page.run()) == ([], "2031-04", False)
    assert dict(page.query_params) == {}
    page.multiselect[0].set_value(["c", "a"]).run()
    page.selectbox[0].set_value("2031-05").run()
    page.toggle[0].set_value(True).run()
    sent = dict(page.query_params)
    other = AppTest.from_function(choices)
    for name, value in sent.items():
        other.query_params[name] = value
    assert shown(other.run()) == (["a", "c"], "2031-05", True)
    other.multiselect[0].set_value([]).run()
    other.toggle[0].set_value(False).run()
    assert set(other.query_params) == {"month"}


def test_an_address_that_names_none_of_the_options_is_not_followed():
    page = AppTest.from_function(choices)
    page.query_params["month"] = "2030-01"
    page.query_params["kinds"] = "d,b"
    assert shown(page.run()) == (["b"], "2031-04", False)
