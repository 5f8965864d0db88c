"""How others call it: exit codes, and that --json prints one document and nothing else."""

import json
import shutil

import pytest

from audit.cli import cli
from audit.store import database
from tests.unit.commands.conftest import SAMPLE, run, run_alone


@pytest.mark.parametrize(
    ("arguments", "fields"),
    [
        (("delays", "--json"), {"period", "standard", "episodes"}),
        (("find", "--json"), {"period", "cases", "controls"}),
        (("trends", "--json"), {"measures"}),
        (
            ("agreement", "--json"),
            {"standard", "item", "period", "windows", "readers", "measures", "pairs", "repeat_reads", "computed"},
        ),
    ],
)
def test_json_prints_one_document_and_nothing_else(sample_unit, arguments, fields):
    done = run(*arguments, cwd=sample_unit)
    document = json.loads(done.stdout)
    assert fields <= set(document)
    assert "NaN" not in done.stdout
    assert "Infinity" not in done.stdout


def test_an_episode_in_the_document_has_the_contracts_fields(sample_unit):
    document = json.loads(run("delays", "--json", cwd=sample_unit).stdout)
    for episode in document["episodes"]:
        assert {
            "case_id",
            "fetus",
            "standard",
            "trigger",
            "pattern_start_s",
            "recognisable_s",
            "end_s",
            "response_s",
            "response_event",
            "minutes_to_response",
            "minutes_to_birth",
            "target_minutes",
            "status",
            "late_under",
            "clocks",
        } <= set(episode)
        assert 0 <= episode["late_under"] <= episode["clocks"]


def test_a_path_that_does_not_exist_is_wrong_usage(tmp_path):
    assert "nowhere" in run("import", "nowhere.csv", cwd=tmp_path, expect=2).stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("--no-such-option",), ("no-such-command",), ("import",), ("pack",), ("validate",),
        ("find", "--sample", "3", "--agenda"),
    ],
)  # fmt: skip
def test_wrong_usage_ends_with_2(tmp_path, arguments):
    run(*arguments, cwd=tmp_path, expect=2)


@pytest.mark.slow
def test_a_process_of_its_own_ends_with_the_same_codes(sample_unit, tmp_path):
    (tmp_path / "cases.csv").write_text("case_id,period\nC1,March\n", encoding="utf-8")
    assert json.loads(run_alone("agreement", "--json", cwd=sample_unit).stdout)
    assert run_alone("check", cwd=tmp_path, expect=1).stdout == ""
    assert "YYYY-MM" in run_alone("delays", "--period", "June", cwd=sample_unit, expect=2).stderr
    assert "YYYY-MM" in run_alone("import", "cases.csv", cwd=tmp_path, expect=3).stdout


@pytest.mark.parametrize("command", ["delays", "find", "agreement"])
def test_a_period_that_is_no_month_is_wrong_usage(sample_unit, command):
    assert "YYYY-MM" in run(command, "--period", "June", cwd=sample_unit, expect=2).stderr


def test_rejected_rows_end_with_3_and_the_rest_is_stored(tmp_path):
    (tmp_path / "cases.csv").write_text("case_id,period\nC1,2025-03\nC2,March\n", encoding="utf-8")
    done = run("import", "cases.csv", cwd=tmp_path, expect=3)
    assert "row 3, period: found text of 5 characters (letters), expected the month of birth" in done.stdout
    assert "March" not in done.stdout
    with database.open_for_reading(tmp_path / "unit.duckdb") as con:
        assert con.execute("select case_id from cases").fetchall() == [("C1",)]
        row = con.execute("select row_number, column_name, value from import_rejects").fetchall()
    assert row == [(3, "period", "text of 5 characters (letters)")]


def test_importing_again_changes_nothing_and_says_so(sample_unit, tmp_path):
    shutil.copy(sample_unit / "unit.duckdb", tmp_path / "unit.duckdb")
    done = run("import", str(SAMPLE), cwd=tmp_path)
    assert "unchanged" in done.stdout or "nothing changed" in done.stdout


def test_a_dry_run_writes_nothing(tmp_path):
    run("import", str(SAMPLE), "--dry-run", cwd=tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["analyse", "delays", "find", "agreement", "trends", "check"])
def test_without_a_database_a_command_says_what_to_do(tmp_path, command):
    done = run(command, cwd=tmp_path, expect=1)
    assert "import" in done.stderr
    assert not (tmp_path / "unit.duckdb").exists()


@pytest.mark.slow
def test_the_environment_names_the_database(tmp_path):
    other = tmp_path / "other.duckdb"
    run_alone("import", str(SAMPLE), cwd=tmp_path, INTRAPARTUM_AUDIT_DB=str(other))
    assert other.is_file()


@pytest.mark.parametrize("command", cli.list_commands(None))
def test_every_command_has_help_with_examples(tmp_path, command):
    done = run(command, "--help", cwd=tmp_path)
    assert "Examples:" in done.stdout
    assert f"intrapartum-audit {command}" in done.stdout or "intrapartum-audit --db" in done.stdout
    assert "--db" in done.stdout


def test_check_finds_nothing_wrong_with_the_sample(sample_unit):
    done = run("check", cwd=sample_unit)
    assert "0 problems" in done.stdout
