"""What goes wrong on a page: its places are in the log beside the database, and no value is said anywhere."""

import shutil

import pytest
from streamlit import config

from audit import logs
from audit.commands.serve_pages import command_line
from audit.people import access
from dashboards import data
from tests.unit.dashboards.conftest import APP, FILES, AppTest, on_this_computer
from tests.unit.test_logs import POISON, poisoned

pytestmark = pytest.mark.slow


def test_an_error_of_a_page_is_in_the_log_without_its_text(databases, tmp_path, monkeypatch, capsys):
    db = shutil.copy(databases["small"], tmp_path / "unit.duckdb")
    monkeypatch.setenv("INTRAPARTUM_AUDIT_DB", str(db))
    monkeypatch.setattr(data, "months", poisoned)
    monkeypatch.setitem(config.get_config_options(), "server.address", on_this_computer())
    access.choose(db, single_user=True)
    # what the library prints of an error by itself: the pages' server is started with this off
    assert "--logger.enableRich=false" in command_line(1)
    monkeypatch.setattr("streamlit.error_util.config.get_option", lambda name: name != "logger.enableRich")
    app = AppTest.from_file(str(APP), default_timeout=60)
    app.switch_page(FILES["this_month"]).run()
    assert app.exception
    text = logs.file_of(db).read_text(encoding="utf-8")
    assert "ERROR" in text
    assert "ValueError" in text
    assert "dashboards/month/this_month.py:" in text
    assert POISON not in text
    assert POISON not in capsys.readouterr().err
    logs.keep(databases["none"])  # let go of the file
