"""The database's folder: what is read from it, and what is said when it is not what was expected."""

import zipfile
from pathlib import Path

import pytest

from audit.cli import main
from audit.errors import UsageError
from audit.settings import load_settings
from audit.validate.readings import TUNING, part_of
from audit.validate.records import EXPERTS_FILE, read_expert_classes, record_names
from audit.validate.run import run_validation

HEAD = "rec_id,expert_id,eval_step1,eval_step2,eval_step3,eval_step4\n"


def folder_with(tmp_path: Path, text: str) -> Path:
    (tmp_path / "1001.hea").write_text("1001 2 4 0\n")
    (tmp_path / EXPERTS_FILE).write_text(text)
    return tmp_path


def test_classes_are_numbered_from_normal(tmp_path: Path) -> None:
    found = read_expert_classes(folder_with(tmp_path, HEAD + "1001,1,1,2,3,-1\n"))
    assert [(c.record, c.expert, c.step, c.code) for c in found] == [
        ("1001", "1", "eval_step1", 0),
        ("1001", "1", "eval_step2", 1),
        ("1001", "1", "eval_step3", 2),
    ]


def test_missing_reads_and_repeat_reads_are_left_out(tmp_path: Path) -> None:
    found = read_expert_classes(folder_with(tmp_path, HEAD + "1001,1,1,-1,,1\n1001,1,3,3,3,1\n"))
    assert [(c.step, c.code) for c in found] == [("eval_step1", 0)]


def test_an_unknown_class_is_named_with_row_and_column(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"row 2, eval_step2: found '4', expected 1, 2, 3 or -1"):
        read_expert_classes(folder_with(tmp_path, HEAD + "1001,1,1,4,1,1\n"))


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="expert_id"):
        read_expert_classes(folder_with(tmp_path, "rec_id,eval_step1,eval_step2,eval_step3\n"))


def test_a_folder_without_records_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"no WFDB header"):
        record_names(tmp_path)


def test_a_folder_without_the_experts_is_refused(tmp_path: Path) -> None:
    (tmp_path / "1001.hea").write_text("1001 2 4 0\n")
    with pytest.raises(UsageError, match=EXPERTS_FILE):
        record_names(tmp_path)


def test_with_the_tuning_part_no_record_of_the_other_is_opened(tmp_path: Path) -> None:
    # 1002 is of the reporting part (`sha256sum`, as in test_compare): its file would be refused if it were opened
    folder = folder_with(tmp_path, HEAD + "1002,1,1,2,3,-1\n")
    (folder / "1001.hea").rename(folder / "1002.hea")
    assert part_of("1002") != TUNING
    found = run_validation(folder, load_settings(), workers=1, part=TUNING).to_json()
    assert (found["part"], found["recordings"], found["windows"]) == (TUNING, 0, 0)
    assert any("flatter the computed reading" in note for note in found["notes"])
    with pytest.raises(UsageError, match="1002"):
        run_validation(folder, load_settings(), workers=1)


def test_a_file_of_another_version_does_not_stop_the_fit_that_replaces_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "unit_settings.toml").write_text('[second_reading]\nfile = "second.zip"\n')
    with zipfile.ZipFile(tmp_path / "second.zip", "w") as archive:
        archive.writestr("card.json", '{"format": "intrapartum-audit second reading 3"}')
    refused = "second.zip: fitted by another version; fit it anew"
    for more, said in ((), refused), (("--fit", "new.zip"), "no WFDB header"):
        with pytest.raises(SystemExit):
            main(["--db", str(tmp_path / "unit.duckdb"), "validate", str(tmp_path), *more])
        assert said in capsys.readouterr().err


@pytest.mark.parametrize("option", ["--html", "--fit"])
def test_a_file_that_cannot_be_written_is_told_before_any_record_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str
) -> None:
    """Reading takes minutes, and what was found would be lost. The record here would be refused if it were read."""
    folder = folder_with(tmp_path, HEAD + "1001,1,1,2,3,-1\n")
    with pytest.raises(SystemExit) as left:
        main(["--db", str(tmp_path / "unit.duckdb"), "validate", str(folder), option, str(tmp_path / "none" / "it")])
    assert left.value.code == 2
    assert "found no folder to write it into" in capsys.readouterr().err
