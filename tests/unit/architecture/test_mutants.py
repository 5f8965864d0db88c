"""The faults that the tests are tried with are real ones, and the same in every run."""

import ast
from pathlib import Path

import pytest

from tests.mutation import __main__ as mutation
from tests.mutation.mutants import Mutant, sample

ROOT = Path(__file__).resolve().parents[3]
MODULE = '''
def share(seen: int, all_of_them: int = 3) -> bool:
    """Text stays."""
    if seen < 0 and all_of_them:
        raise ValueError(f"found {seen + 1}, expected 0 or more")
    return max(seen, 2) / all_of_them >= 0.5
'''


def test_each_fault_changes_what_the_module_does_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "one.py").write_text(MODULE)
    found = {one.change for one in sample([tmp_path / "one.py"], tmp_path, 99, seed=3)}
    assert found == {
        "seen < 0 -> seen <= 0",
        "seen < 0 and all_of_them -> seen < 0 or all_of_them",
        "seen < 0 and all_of_them -> not",
        "0 -> 1",
        "max(seen, 2) / all_of_them >= 0.5 -> max(seen, 2) / all_of_them > 0.5",
        "max(seen, 2) / all_of_them -> max(seen, 2) * all_of_them",
        "max(seen, 2) -> min(seen, 2)",
        "2 -> 3",
        "0.5 -> 1.5",
    }


@pytest.mark.slow
def test_the_same_seed_gives_the_same_faults() -> None:
    files = list((ROOT / "audit" / "response").glob("*.py"))
    first, again = sample(files, ROOT, 12, seed=1), sample(files[::-1], ROOT, 12, seed=1)
    assert first == again
    assert len(first) == 12
    assert first != sample(files, ROOT, 12, seed=2)
    for one in first:
        original = ROOT.joinpath(*one.module.split(".")).with_suffix(".py").read_text(encoding="utf-8")
        assert ast.dump(ast.parse(one.source)) != ast.dump(ast.parse(original))


@pytest.mark.parametrize(
    ("wanted", "ended"),
    [
        ([], 0),
        (["--fail-under", "0.5", "--fail-under-all", "0.75"], 0),
        (["--fail-under", "0.51"], 1),  # one room alone
        (["--fail-under-all", "0.76"], 1),
    ],
)
def test_too_few_noticed_ends_in_an_error(monkeypatch: pytest.MonkeyPatch, wanted: list[str], ended: int) -> None:
    """Of two rooms with four faults each, one room's tests notice all and the other's two: 6 of 8."""
    monkeypatch.setattr(mutation, "parts_of", lambda rooms, processes: {room: room for room in rooms})
    monkeypatch.setattr(mutation, "sample", lambda *asked: [Mutant("audit.one", 1, "0 -> 1", "")] * 4)
    monkeypatch.setattr(
        mutation, "noticed", lambda room, faults, processes: [room == "response" or k < 2 for k, _ in enumerate(faults)]
    )
    assert mutation.main(["--rooms", "standards", "response", *wanted]) == ended
