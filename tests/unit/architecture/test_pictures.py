"""The pictures that the README shows are there and small; the test of the installed wheel holds them to the pages."""

import json

import pytest
from PIL import Image

from tests import pictures

README = pictures.FOLDER.parents[1] / "README.md"


@pytest.mark.parametrize("name", pictures.PLACES)
def test_the_readme_shows_a_picture_that_is_there_and_small(name):
    assert f"(dashboards/pictures/{name}.png)" in README.read_text(encoding="utf-8")
    file = pictures.FOLDER / f"{name}.png"
    assert file.stat().st_size <= pictures.MOST_BYTES
    picture = Image.open(file)
    assert picture.size == pictures.SIZE
    assert json.loads(picture.text["words"])[0]
