"""Imported text stays text wherever it is shown."""

import re

import pytest

from dashboards.layout import _RULES, month_words, plain


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


def test_a_command_that_a_sentence_names_is_set_as_code_and_nothing_else_is():
    assert plain("run `intrapartum-audit analyse`. So") == "run `intrapartum-audit analyse`\\. So"
    assert plain("`restore --key`") == "`restore --key`"
    assert "\\`" in plain("`check <b>`")


def test_lines_are_joined():
    assert plain("a\n\n# b") == "a \\# b"


def test_months_are_named():
    assert (month_words("*"), month_words("none"), month_words("2031-04")) == (
        "all months",
        "no month given",
        "2031-04",
    )


def luminance(colour):
    """Relative luminance of #RRGGBB. Source: WCAG 2.1, definition of relative luminance."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_captions_stand_out_from_the_page_by_four_and_a_half_to_one():
    """WCAG 2.1, 1.4.3 Contrast (Minimum): 4.5 to 1 for text; the page is white, its side and boxes #F0F2F6."""
    colour = re.search(r"stCaptionContainer.*?color: (#[0-9A-F]{6})", _RULES)[1]
    for ground in ("#FFFFFF", "#F0F2F6"):
        assert (luminance(ground) + 0.05) / (luminance(colour) + 0.05) >= 4.5


def test_whoever_asked_for_less_motion_gets_it():
    assert "@media (prefers-reduced-motion: reduce)" in _RULES
