"""What a box of choices offers is written as the unit writes it, on every page: the library sends it on unseen."""

import ast
from pathlib import Path

_PAGES = Path(__file__).resolve().parents[3] / "dashboards"
_BOXES = {"selectbox", "radio", "multiselect", "segmented_control", "pills", "select_slider"}
# what is offered there is a name that somebody gave: of a case, fetus, reader, file or mapping, or a role's own word
_NAMES = {
    "Case",
    "Cases, one strip of each fetus",
    "Fetus",
    "Reader",
    "PIN forgotten by",
    "File",
    "Mappings",
    "I am the",
}


def _boxes():
    for file in sorted(_PAGES.rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "attr", "") in _BOXES:
                label = node.args[0].value if node.args and isinstance(node.args[0], ast.Constant) else ""
                words = next((ast.unparse(each.value) for each in node.keywords if each.arg == "format_func"), "")
                yield f"{file.relative_to(_PAGES)}:{node.lineno}", label, words


def test_every_box_of_choices_goes_through_the_words_of_the_unit():
    found = list(_boxes())
    assert len(found) > 30
    ours = [
        place for place, label, words in found if label not in _NAMES and not words.startswith(("layout.own(", "own("))
    ]
    assert ours == []
