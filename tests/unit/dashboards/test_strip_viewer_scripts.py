"""The viewer's modules are joined into one script, so what each names at its top must be the only one of that name."""

import re
from collections import Counter

from dashboards.strip_viewer import show

NAMED = re.compile(
    r"^(?:export )?(?:async )?(?:const|let|var|function\*?|class) +(\w+|\[[^\]]*\]|\{[^}]*\})", re.MULTILINE
)
TAKEN = re.compile(r"^import \{([^}]*)\} from \"\./(\w+)\.js\";", re.MULTILINE)


def sources():
    return {name: (show._FOLDER / f"{name}.js").read_text("utf-8") for name in show.SCRIPTS}


def names_in(source):
    return [name for found in NAMED.findall(source) for name in re.findall(r"\w+", found)]


def test_no_two_modules_give_the_same_name_to_something():
    assert names_in("const [A, B] = x;\nfunction f() {\n  const inner = 1;\n}\nexport class V {\n") == [
        "A",
        "B",
        "f",
        "V",
    ]
    named = Counter(name for source in sources().values() for name in names_in(source))
    assert len(named) > 50
    assert [name for name, times in named.items() if times > 1] == []


def test_every_module_is_joined_after_those_whose_names_it_takes():
    """A file that is left out, or a name that its module does not have, would break the script in the browser alone."""
    found = sources()
    assert {path.stem for path in show._FOLDER.glob("*.js")} == set(show.SCRIPTS)
    for place, name in enumerate(show.SCRIPTS):
        for taken, module in TAKEN.findall(found[name]):
            assert module in show.SCRIPTS[:place], (name, module)
            exported = set(re.findall(r"^export (?:const|function|class) (\w+)", found[module], re.MULTILINE))
            assert {part.strip() for part in taken.split(",")} <= exported, (name, module)
