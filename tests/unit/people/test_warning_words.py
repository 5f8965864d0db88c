"""Warnings about names on sentences as reviewers write them: few false ones, few misses.

The limits are our own choice (a warning that is wrong too often is clicked away); the sentences are invented.
"""

import pytest

from audit.people.identifiers import looks_like
from audit.people.ordinary_words import is_ordinary
from tests.review_sentences import NAMING, SENTENCES


def test_at_most_3_in_100_review_sentences_bring_a_warning():
    warned = [text for text in SENTENCES if looks_like(text) is not None]
    assert len(warned) < 0.03 * len(SENTENCES), warned


def test_at_most_1_in_10_sentences_that_name_somebody_passes():
    missed = [text for text in NAMING if looks_like(text) is None]
    assert len(missed) < 0.1 * len(NAMING), missed


@pytest.mark.parametrize("word", ["Calling", "stopped", "Recognition", "Quickly", "Untimely", "Reviewed", "Tries"])
def test_forms_of_ordinary_words_are_ordinary(word):
    assert is_ordinary(word)


@pytest.mark.parametrize("word", ["Tessa", "Quill", "Brenova", "Marlow", "Ketteridge", "Odell", "Valtari", "Fielding"])
def test_names_are_not(word):
    assert not is_ordinary(word)
