"""Pages that others can reach need an identity provider and TLS; each way without them is refused in one sentence."""

import pytest
from click.testing import CliRunner

from audit.cli import cli, main
from audit.commands import dashboard, serve_pages
from audit.commands.keep_standard import keep_standard
from audit.commands.serving import Serving
from audit.errors import UsageError
from audit.people import access, accounts, log
from audit.setting_types import changed
from audit.settings import UNIT_FILE_NAME, load_settings, settings_for

NAMED = changed(load_settings().access, roles={"leads": "lead"})
AUTH = {
    "redirect_uri": "https://audit.unit.example/oauth2callback",
    "cookie_secret": "k" * 32,
    "client_id": "audit",
    "client_secret": "s",
    "server_metadata_url": "https://people.unit.example/.well-known/openid-configuration",
}


def run(args):
    """Run a command; its exit code."""
    with pytest.raises(SystemExit) as end:
        main(args)
    return end.value.code


@pytest.fixture
def files(tmp_path):
    """A provider's file that is right, and names of a certificate and its key."""

    def written(**changes):
        file = tmp_path / "provider.toml"
        found = {key: value for key, value in {**AUTH, **changes}.items() if value is not None}
        file.write_text("[auth]\n" + "".join(f'{key} = "{value}"\n' for key, value in found.items()), encoding="utf-8")
        file.chmod(0o600)
        return file

    return written


def public(file, **changes):
    certificate, key = file.with_name("a.pem"), file.with_name("a.key")
    right = {"address": "0.0.0.0", "name": "audit.unit.example", "certificate": certificate, "key": key}
    return Serving(**{**right, "provider": file, **changes})


def test_the_right_ways_are_let_through(files):
    Serving().check(load_settings().access)
    public(files()).check(NAMED)
    public(files(), address="127.0.0.1", certificate=None, key=None, behind_proxy=True).check(NAMED)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"provider": None}, "need an identity provider"),
        ({"provider": None, "name": None}, "need an identity provider"),
        ({"provider": None, "address": "127.0.0.1"}, "need an identity provider"),
        ({"provider": None, "address": "127.0.0.1", "name": None, "behind_proxy": True}, "need an identity provider"),
        ({"provider": None, "address": "192.0.2.7", "name": None}, "need an identity provider"),
        ({"provider": None, "address": "::", "name": None}, "need an identity provider"),
        ({"certificate": None, "key": None}, "are encrypted"),
        ({"certificate": None, "key": None, "address": "127.0.0.1"}, "are encrypted"),
        ({"key": None}, "belong together"),
        ({"name": None}, "--name is missing"),
    ],
)
def test_a_way_that_lets_in_who_does_not_belong_is_refused(files, changes, says):
    with pytest.raises(UsageError, match=says):
        public(files(), **changes).check(NAMED)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"client_secret": None}, "lacks client_secret"),
        ({"cookie_secret": "short"}, "32 random characters"),
        ({"redirect_uri": "https://elsewhere.example/oauth2callback"}, "expected https://audit.unit.example"),
        ({"redirect_uri": "https://audit.unit.example/back"}, "/oauth2callback"),
        ({"redirect_uri": "http://audit.unit.example/oauth2callback"}, "begins with https"),
        ({"server_metadata_url": "http://people.unit.example/x"}, "begins with https"),
    ],
)
def test_a_providers_file_that_does_not_fit_is_refused_without_saying_its_secrets(files, changes, says):
    with pytest.raises(UsageError, match=says) as error:
        public(files(**changes)).check(NAMED)
    for secret in ("k" * 32, '"s"', "short"):
        assert secret not in str(error.value)


def test_a_providers_file_that_others_can_read_is_refused(files):
    file = files()
    file.chmod(0o640)
    with pytest.raises(UsageError, match="by its owner alone"):
        public(file).check(NAMED)


def test_a_provider_whose_words_mean_no_role_here_is_refused(files):
    with pytest.raises(UsageError, match="nobody could sign in"):
        public(files()).check(load_settings().access)


def test_what_is_no_provider_is_refused(tmp_path):
    for content, says in (("auth = 3", r"no table \[auth\]"), ("[auth", "not a TOML file")):
        file = tmp_path / "provider.toml"
        file.write_text(content, encoding="utf-8")
        with pytest.raises(UsageError, match=says):
            public(file).check(NAMED)


def test_only_the_own_name_is_answered_and_secrets_come_from_the_named_file_alone(files):
    command = serve_pages.command_line(8600, public(files()))
    assert "--server.address=0.0.0.0" in command
    assert [part for part in command if "allowedHosts" in part] == ["--server.allowedHosts=audit.unit.example"]
    assert any(part.startswith("--server.sslCertFile=") for part in command)
    assert any(part.startswith("--secrets.files=") and part.endswith("provider.toml") for part in command)
    alone = serve_pages.command_line(8600)
    assert [part for part in alone if "secrets.files" in part and part.endswith("no_secrets.toml")]
    assert not any("sslCertFile" in part for part in alone)


def test_the_environment_switches_no_provider_on(tmp_path, monkeypatch):
    monkeypatch.setenv("INTRAPARTUM_AUDIT_PROVIDER", "1")
    assert serve_pages.environment(tmp_path / "unit.duckdb")["INTRAPARTUM_AUDIT_PROVIDER"] == "0"


@pytest.mark.parametrize(
    "options",
    [["--address", "0.0.0.0"], ["--address", "::"], ["--name", "audit.unit.example"], ["--behind-proxy"],
     ["--address", "192.0.2.7", "--single-user"]],
)  # fmt: skip
def test_the_command_refuses_before_it_touches_anything(tmp_path, capsys, monkeypatch, options):
    monkeypatch.setattr(dashboard, "launch", lambda *_, **__: pytest.fail("served"))
    assert run(["--db", str(tmp_path / "unit.duckdb"), "dashboard", *options]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "need an identity provider" in said
    assert not access.single_user(tmp_path / "unit.duckdb")


def test_one_person_alone_is_chosen_with_the_command_and_kept(tmp_path, monkeypatch):
    served = []
    monkeypatch.setattr(dashboard, "launch", lambda db, **_: served.append(access.single_user(db)) or 0)
    db = tmp_path / "unit.duckdb"
    for options, expected in (([], False), (["--single-user"], True), ([], True), (["--sign-in"], False)):
        assert run(["--db", str(db), "dashboard", *options]) == 0
        assert served.pop() is expected
    assert [row["who"] for row in log.entries(db) if row["subject"] == "access"] == ["unit", "unit"]


@pytest.mark.parametrize(("answer", "chosen"), [("y\nnice-ng229\n", True), ("n\nnice-ng229\n", False)])
def test_at_a_terminal_the_first_start_asks(tmp_path, monkeypatch, answer, chosen):
    monkeypatch.setattr(dashboard, "launch", lambda *_, **__: 0)
    monkeypatch.setattr(dashboard, "at_a_terminal", lambda: True)
    db = tmp_path / "unit.duckdb"
    done = CliRunner().invoke(cli, ["--db", str(db), "dashboard"], input=answer)
    assert done.exit_code == 0, done.output
    assert "one person alone" in done.output
    assert access.single_user(db) is chosen
    assert not access.is_new(db)
    settings = settings_for(db)
    assert (settings.trends.standard, settings.pack.standard) == ("nice-ng229", "nice-ng229")
    assert CliRunner().invoke(cli, ["--db", str(db), "dashboard"]).output == ""


@pytest.mark.parametrize(
    "before",
    [
        "",
        '# ours\n[pack]\nmin_cell = 7\n[locale]\npaper = "us-letter"  # as the printer has it\n',
        '[trends]\nstandard = "nichd-2008"\nbaseline_points = 20\n\n[locale]\npaper = "us-letter"\n',
    ],
)
def test_the_chosen_standard_is_kept_beside_the_unit_s_other_settings(tmp_path, before):
    file = tmp_path / UNIT_FILE_NAME
    file.write_text(before, encoding="utf-8")
    keep_standard(tmp_path / "unit.duckdb", "nice-ng229")
    found = settings_for(tmp_path / "unit.duckdb")
    assert (found.trends.standard, found.pack.standard) == ("nice-ng229", "nice-ng229")
    assert found.locale.paper == ("us-letter" if before else load_settings().locale.paper)
    assert found.trends.baseline_points == (20 if "baseline" in before else load_settings().trends.baseline_points)
    kept = file.read_text(encoding="utf-8")
    assert all(line in kept for line in before.splitlines() if not line.startswith("standard"))


def test_the_first_lead_is_made_with_a_command_that_prints_the_pin(tmp_path, capsys):
    db = tmp_path / "unit.duckdb"
    assert run(["--db", str(db), "account", "lead"]) == 0
    pin = capsys.readouterr().out.strip().removeprefix("PIN of lead: ")
    assert accounts.sign_in(db, "lead", pin=pin).role == "lead"
    assert [(row["who"], row["deed"]) for row in log.entries(db)] == [("unit", "made known")]
    assert pin not in str(log.entries(db))
    assert run(["--db", str(db), "account", "lead"]) == 2
    assert run(["--db", str(db), "account", "reader", "Anna Berg"]) == 2
    assert run(["--db", str(db), "account", "reader", "R1"]) == 0
