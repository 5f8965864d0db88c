"""README and DEVELOPERS say what is there: commands, pages, events, settings, cautions."""

import re
import tomllib
from pathlib import Path

from audit.cli import cli
from audit.questions.trend_groups import QUESTIONS
from audit.settings import load_settings
from dashboards.register import PAGES

ROOT = Path(__file__).resolve().parents[3]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_readme_lists_every_command_and_no_other():
    table = README.split("| command | does |", 1)[1].split("\n\n", 1)[0]
    listed = {re.match(r"\| `([a-z-]+)", line).group(1) for line in table.splitlines() if line.startswith("| `")}
    assert listed == set(cli.list_commands(None))


def test_the_readme_names_every_page():
    table = README.split("| page | for |", 1)[1].split("\n\n", 1)[0]
    assert [page.title for page in PAGES if page.title not in table] == []


def test_the_readme_lists_the_events_that_the_import_takes():
    from audit.vocabulary import CARE_EVENTS

    listed = README.split("Events: `", 1)[1].split("`", 1)[0]
    assert {name.strip() for name in listed.replace("\n", " ").split(",")} == set(CARE_EVENTS)


def test_the_cautions_stand_where_a_user_begins():
    head = README.split("## Start", 1)[0]
    for words in ("retrospective review by licensed clinicians", "not for care in\n> progress", "not a medical device",
                  "Local guidelines decide"):  # fmt: skip
        assert words in head


def test_there_is_one_line_for_the_demo_and_one_for_the_tests():
    lines = [line for line in README.splitlines() if line.startswith("python3 -m venv")]
    assert len(lines) == 2
    assert lines[0].endswith("intrapartum-audit demo")
    assert lines[1].endswith("-m pytest")
    assert re.search(r"quick part of the tests, which takes some \d+ minutes on two cores", README)


def test_ci_runs_the_readmes_test_line_all_the_rest_and_the_linters():
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    # the run takes its lines from the documents by these patterns
    patterns = re.findall(r"grep (?:-m1 )?-E '([^']+)' (README|DEVELOPERS)\.md", ci)
    texts = {"README": README, "DEVELOPERS": DEVELOPERS}
    found = [line for at, name in patterns for line in re.findall(f"{at}.*", texts[name], flags=re.MULTILINE)]
    quick, rest, linters, faults = found
    assert quick in DEVELOPERS
    assert rest == '.venv/bin/python -m pytest -m "not quick"'
    assert rest in README
    # with a floor for each room and one for all of them
    assert re.fullmatch(r"\.venv/bin/python -m tests\.mutation --fail-under 0\.\d+ --fail-under-all 0\.\d+", faults)
    assert [name for name in ("ruff check", "ruff format --check", "mypy", "lint-imports") if name not in linters] == []


def test_every_mark_is_told_to_developers():
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"]["ini_options"]
    marks = [mark.split(":")[0] for mark in settings["markers"]]
    assert [mark for mark in marks if f"`-m {mark}" not in DEVELOPERS and f"`{mark}`" not in DEVELOPERS] == []


def test_what_developers_are_told_is_where_is_there():
    rooms = re.findall(r"^  ([a-z_]+(?:/|\.py|\.toml))", DEVELOPERS, flags=re.MULTILINE)
    assert rooms
    assert [name for name in rooms if not (ROOT / "audit" / name).exists()] == []


def test_the_settings_file_that_a_unit_may_write_is_named_as_it_is():
    from audit.settings import UNIT_FILE_NAME

    assert UNIT_FILE_NAME in README
    assert load_settings().settings.version == 1


def test_every_monthly_measure_has_its_source_and_a_check_that_is_there():
    table = DEVELOPERS.split("| measure | published source | held by |", 1)[1].split("\n\n", 1)[0]
    rows = [line.strip("| ").split(" | ") for line in table.splitlines() if line.startswith("| `")]
    assert sorted(name.strip("`") for name, *_ in rows) == sorted(name for own in QUESTIONS.values() for name in own)
    for name, source, held_by in rows:
        file, test = re.fullmatch(r"`([a-z_/.]+)`, `(test_\w+)`", held_by).groups()
        assert len(source) > 8, name
        assert f"def {test}(" in (ROOT / "tests" / file).read_text(encoding="utf-8"), name
