"""An import that was stopped and is asked for again: files that it took are passed over unread, and nothing else is.

The contract: importing the same file again changes nothing and says so; a kill loses nothing that was committed.
"""

import shutil
from pathlib import Path

import pytest

from audit.intake import contents, importer
from audit.intake.door.report import FileOutcome
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

ROWS = [f"{k / 4},{130 + k % 9},{k % 30}" for k in range(400)]


def tracing(folder: Path, case: str, *more: str) -> Path:
    file = folder / f"{case}.csv"
    file.write_text("\n".join(["case_id,t_s,fhr_bpm,toco", *(f"{case},{row}" for row in (*ROWS, *more)), ""]))
    return file


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    """Two with something that is kept out, one that is refused, two whole ones, as they are taken."""
    folder = tmp_path / "in"
    folder.mkdir()
    found = [tracing(folder, "C1", "soon,140,1"), tracing(folder, "C2", "200,x,1"), tracing(folder, "C3")]
    (folder / "C4.csv").write_text('case_id,t_s,fhr_bpm,toco\nC4,0,"140,1\n')
    return [*found, folder / "C4.csv", tracing(folder, "C5")]


class Stopped(Exception):
    pass


def stopped_at(db: Path, files: list[Path], count: int, monkeypatch: pytest.MonkeyPatch, **asked) -> None:
    """An import that ends before its file of that number, as one that is killed there: nothing is closed in order."""
    take, seen = importer._Import.take, []

    def counted(*args, **named):
        seen.append(args)
        if len(seen) > count:
            raise Stopped
        return take(*args, **named)

    asked.setdefault("settings", load_settings())
    with monkeypatch.context() as patch:
        patch.setattr(importer._Import, "take", counted)
        with pytest.raises(Stopped):
            import_paths(db, files, **asked)


def again(db: Path, files: list[Path], monkeypatch, **asked) -> tuple[tuple[FileOutcome, ...], set[str]]:
    """The import asked for again: what became of the files, and which of them were parsed."""
    parsed: set[str] = set()
    table = contents._table

    def noted(container, data, *rest):
        parsed.update(file.stem for file in files if file.read_bytes() == data)
        return table(container, data, *rest)

    asked.setdefault("settings", load_settings())
    with monkeypatch.context() as patch:
        patch.setattr(contents, "_table", noted)
        report = import_paths(db, files, **asked)
    return report.files, parsed


def stored(db: Path) -> list[list[tuple]]:
    left_out = {"imports": "* exclude (imported_at)", "tracings": "* exclude (import_id)"}
    with database.open_for_reading(db) as con:
        return [
            con.execute(f"select {left_out.get(table, '*')} from {table} order by all").fetchall()
            for table in ("cases", "tracings", "tracing_minutes", "imports", "import_rejects")
        ]


@pytest.mark.parametrize("count", [1, 4])
def test_files_that_were_taken_are_not_parsed_again_and_the_end_is_that_of_one_import(
    count, db, empty, files, tmp_path, monkeypatch
):
    whole = Path(shutil.copyfile(empty, tmp_path / "whole.duckdb"))
    at_once = import_paths(whole, files, settings=load_settings())
    stopped_at(db, files, count, monkeypatch)
    outcomes, parsed = again(db, files, monkeypatch)
    assert parsed == {file.stem for file in files[count:]}
    assert stored(db) == stored(whole)
    # what was kept out is told again, with its reasons
    assert [each.remarks for each in outcomes] == [each.remarks for each in at_once.files]
    assert [each.rows_rejected for each in outcomes] == [each.rows_rejected for each in at_once.files]
    assert [each.outcome for each in outcomes[:count]] == ["unchanged", "unchanged", "unchanged", "refused"][:count]
    assert "not read again" in (outcomes[0].message or "")
    # finished: from here on files with rejects are looked at again, as always
    assert again(db, files, monkeypatch)[1] == {"C1", "C2", "C4"}


def test_several_stops_in_a_row_are_one(db, files, monkeypatch):
    stopped_at(db, files, 1, monkeypatch)
    stopped_at(db, files, 1, monkeypatch)
    assert again(db, files, monkeypatch)[1] == {"C3", "C4", "C5"}


def test_files_in_another_order_or_with_one_between_are_looked_at(db, files, tmp_path, monkeypatch):
    """What came between could let in what was kept out of those behind it."""
    stopped_at(db, files, 2, monkeypatch)
    new = tracing(tmp_path, "C9")
    assert again(db, [files[0], new, *files[1:]], monkeypatch)[1] == {"C9", "C1", "C2", "C3", "C4", "C5"}


def test_files_of_an_earlier_import_are_no_end_of_those_passed_over(db, files, monkeypatch):
    import_paths(db, [files[2]], settings=load_settings())
    stopped_at(db, [files[2], *files], 3, monkeypatch)
    outcomes, parsed = again(db, [files[2], *files], monkeypatch)
    assert parsed == {"C4", "C5"}
    assert [each.outcome for each in outcomes] == ["unchanged", "unchanged", "unchanged", "refused", "stored"]


def test_a_changed_file_is_looked_at(db, files, monkeypatch):
    stopped_at(db, files, 2, monkeypatch)
    tracing(files[0].parent, "C1", "100,141,1")
    outcomes, parsed = again(db, files, monkeypatch)
    assert parsed == {"C1", "C2", "C3", "C4", "C5"}
    assert (outcomes[0].outcome, outcomes[0].rows_rejected) == ("stored", 0)


def test_other_settings_or_replace_look_at_every_file_with_rejects(db, files, tmp_path, monkeypatch):
    (tmp_path / "unit_settings.toml").write_text("[import]\nmax_listed = 7\n", encoding="utf-8")
    other = load_settings(tmp_path / "unit_settings.toml")
    stopped_at(db, files, 3, monkeypatch)
    assert again(db, files[:3], monkeypatch, replace=True)[1] == {"C1", "C2"}
    stopped_at(db, files, 4, monkeypatch)
    assert again(db, files, monkeypatch, settings=other)[1] == {"C1", "C2", "C4", "C5"}
