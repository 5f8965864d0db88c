"""Imported text stays text wherever it is shown."""

import re

import pytest

from dashboards.layout import month_words, plain


@pytest.mark.parametrize(
    "text",
    ["*a*", "_a_", "[a](b)", "<b>a</b>", "`a`", "# a", "- a", "1. a", "a|b", "~~a~~", ":red[a]", "$a$", "!a", "&amp;"],
)
def test_signs_that_mean_something_are_escaped(text):
    assert re.search(
        r"(?<!\\)[\\`*_{}\[\]()<>#+\-.!|~:$&](?!\S?[\\`*_{}\[\]()<>#+\-.!|~:$&])", plain(text)
    ) is None or (plain(text).replace("\\", "") == text.replace("\\", ""))
    assert plain(text) != text


@pytest.mark.parametrize("text", ["http://example.org", "WWW.example.org", "a@example.org"])
def test_addresses_do_not_become_links(text):
    shown = plain(text).replace("\\", "")
    assert "\u2060" in shown
    assert shown.replace("\u2060", "") == text


def test_lines_are_joined():
    assert plain("a\n\n# b") == "a \\# b"


def test_months_are_named():
    assert (month_words("*"), month_words("none"), month_words("2031-04")) == (
        "all months",
        "no month given",
        "2031-04",
    )
