"""A folder for a while is gone at its end, and what a killed process left of one goes with the next, a day later."""

import os
import stat
import tempfile
import time
from pathlib import Path

import pytest

from audit import paths


def test_what_a_killed_process_left_goes_a_day_later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    ours = "intrapartum-audit-taken-apart"
    names = (f"{ours}-old", f"{ours}-new", "intrapartum-audit-pack-old", "old")
    for name in names:
        (tmp_path / name).mkdir()
        (tmp_path / name / "rows.csv").write_text("case_id")
        if name.endswith("old"):
            os.utime(tmp_path / name, (time.time() - 90_000,) * 2)
    elsewhere = tmp_path / f"{ours}-link"
    elsewhere.symlink_to(tmp_path / "old")
    os.utime(elsewhere, (0, 0), follow_symlinks=False)
    with paths.for_a_while("taken-apart") as folder:
        assert folder.parent == tmp_path
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*names[1:], elsewhere.name, folder.name])
        assert (tmp_path / "old" / "rows.csv").is_file()  # nothing is followed
    assert not folder.exists()
