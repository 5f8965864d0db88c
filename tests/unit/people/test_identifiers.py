"""Warnings about persons' own text, on the invented corpus: most identifiers are seen, the trade's words are not.

The limits are our own choice (a warning that is wrong too often is clicked away).
"""

import pytest

from audit.errors import UsageError
from audit.people import rules
from audit.people.identifiers import looks_like
from tests.identifier_corpus import harmless_texts, identifiers, texts_with_identifiers


@pytest.mark.slow
@pytest.mark.parametrize("seed", [12, 77])
def test_at_most_one_identifier_in_ten_is_missed(seed):
    for cells in (texts_with_identifiers(seed), identifiers(seed)):
        missed = [cell for _, cell in cells if looks_like(cell) is None]
        assert len(missed) < 0.1 * len(cells), missed[:20]


def test_at_most_3_in_100_harmless_texts_bring_a_warning():
    texts = harmless_texts()
    warned = [text for text in texts if looks_like(text) is not None]
    assert len(warned) < 0.03 * len(texts), warned[:20]


@pytest.mark.parametrize(
    "text",
    ["3 decelerations 60 bpm", "dec 60 at 40", "Apgar 5/6/10", "5/6/10", "second stage 1:45", "Position Change",
     "oxytocin 10 units", "row 1042", "G3P1, BMI 41"],
)  # fmt: skip
def test_figures_of_the_trade_are_no_identifiers(text):
    assert looks_like(text) is None


@pytest.mark.parametrize(
    "text",
    ["509.409.120-83", "9146 4070 4492", "2529527OP", "TU-ME 5941", "42.29623, 7.52480", "1985年3月23日",
     "28 de octubre de 1974", "zdeňka_kastrović"],
)  # fmt: skip
def test_numbers_and_dates_of_farther_countries_are_seen_too(text):
    """National numbers of eleven and twelve figures, a number plate, a place on the map, dates; forms from memory."""
    assert looks_like(f"Shown at the meeting: {text}, called late") is not None
    figures = "FHR-A 145, NICE NG229 amber twice, pH 7.2512, 140 150 160 bpm, 2 of 10, from 1400 to 1520 s"
    assert looks_like(figures) is None


@pytest.mark.parametrize(
    "text",
    ["Tessa thought the toco had slipped", "Brenova's note is missing", "Registrar: Brenova",
     "The student (Tessa) saw it", "Tessa, our newest midwife, was alone", "Tessa and Marl disagreed"],
)  # fmt: skip
def test_a_name_that_begins_a_sentence_is_told_by_what_persons_do(text):
    assert looks_like(text) == "a name"
    assert looks_like(text.replace("Tessa", "Nobody").replace("Brenova", "Nobody").replace("Marl", "others")) is None


def test_the_same_text_given_again_is_confirmed(monkeypatch):
    warned: set[str] = set()
    monkeypatch.setattr(rules, "warned_of", lambda: warned)
    with pytest.raises(UsageError, match="a name; take it out, or save the same text again"):
        rules.checked_text("question", "What did Tessa Quill note?")
    assert rules.checked_text("question", "What did  Tessa Quill note?") == "What did Tessa Quill note?"
    with pytest.raises(UsageError, match="nothing was stored"):
        rules.checked_text("question", "What did Marl Brenova note?")
    assert "Quill" not in repr(warned)
