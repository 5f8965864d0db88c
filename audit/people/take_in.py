"""Files handed over on the pages: kept apart, then imported and analysed by a process that outlives a browser.

The files lie in `<database>.incoming` beside the database, the owner's alone, and are gone when the process ends. What
became of them is one document there, without anything that was typed.
"""

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from audit import paths
from audit.errors import UsageError
from audit.intake import looked_at
from audit.intake.keep_mapping import keep_mapping
from audit.people import log
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import disk

STATE, FILES, CHOICES = "state.json", "files", "choices.json"
_STARTED: list[subprocess.Popen[bytes]] = []  # by this process, asked whether they have ended


@dataclass
class State:
    """How far the process is. `done` of `total` in this stage, which began at `began` (s, this computer's clock)."""

    stage: str = "waiting"  # waiting, importing, analysing, done, failed
    done: float = 0.0
    total: int = 0
    of_work: float | None = None  # share that is done, where one may cost many times what another does
    began: float = 0.0
    pid: int = 0
    dry_run: bool = False
    report: dict[str, Any] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    error: str = ""

    @property
    def running(self) -> bool:
        """Whether the process is at work."""
        return self.stage not in ("done", "failed") and _alive(self.pid)

    @property
    def ended_early(self) -> bool:
        """Whether it is gone without having finished."""
        return self.stage not in ("done", "failed") and not _alive(self.pid)

    @property
    def share(self) -> float:
        """What is done of this stage, 0 to 1."""
        if self.of_work is not None:
            return self.of_work
        return min(1.0, self.done / self.total) if self.total else 0.0

    def left_s(self, now: float) -> float | None:
        """Seconds that this stage is likely to take yet, as fast as until now; None before that can be told."""
        if not self.share or now <= self.began:
            return None
        return (now - self.began) * (1.0 - self.share) / self.share


def start(
    db: Path,
    files: Mapping[str, bytes],
    *,
    who: str,
    mappings: Sequence[str] = (),
    dry_run: bool = False,
    replace: bool = False,
    run: Callable[[list[str]], int] | None = None,
) -> None:
    """Keep the files apart and start the process. `run` starts a command and gives its process id.

    Raises NotAllowedError where the role may not, UsageError while another one is at work or
    where the disk has no room for the files.
    """
    with writing(db, who, Deed.TAKE_IN) as con:
        folder = folder_of(db)
        before = state(db)
        if before is not None and before.running:
            raise UsageError("files are being taken in already; wait until that has ended")
        choices = {"mappings": list(mappings), "dry_run": dry_run, "replace": replace}
        try:
            _hand_over(folder, files, choices)
        except OSError as error:
            shutil.rmtree(folder, ignore_errors=True)
            if (told := disk.why(error, Path(folder.name))) is None:
                raise
            raise UsageError(told) from error
        log.append(con, who, "tried" if dry_run else "started", "import", {"files": len(files)}, new=choices)
        write_state(db, State(pid=os.getpid(), dry_run=dry_run))
    command = [sys.executable, "-P", "-m", "audit.commands.take_in", str(db.resolve())]
    pid = (run or _apart)(command)
    found = state(db)
    if found is not None and found.stage == "waiting":
        write_state(db, State(pid=pid, dry_run=dry_run))


def _hand_over(folder: Path, files: Mapping[str, bytes], choices: Mapping[str, object]) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    (folder / FILES).mkdir(mode=0o700, parents=True)
    for number, (name, data) in enumerate(files.items(), start=1):
        (folder / FILES / looked_at.plain_name(name, number)).write_bytes(data)
    (folder / CHOICES).write_text(json.dumps(choices), encoding="utf-8")


def keep(db: Path, name: str, toml: str, *, who: str) -> None:
    """Keep a proposed mapping in the unit's settings. Raises NotAllowedError, UsageError and SettingsError."""
    with writing(db, who, Deed.TAKE_IN) as con:
        keep_mapping(db, name, toml)
        log.append(con, who, "kept", "mapping", {"name": name})


def folder_of(db: Path) -> Path:
    """Where the files lie meanwhile."""
    return paths.beside(db, "incoming")


def state(db: Path) -> State | None:
    """How far the last process is, or what became of it; None when there was none."""
    try:
        found = json.loads((folder_of(db) / STATE).read_text(encoding="utf-8"))
        return State(**found)
    except (OSError, ValueError, TypeError):
        return None


def write_state(db: Path, now: State) -> None:
    """Say how far it is, in one step."""
    file = folder_of(db) / STATE
    beside = file.with_suffix(".new")
    beside.write_text(json.dumps(asdict(now)), encoding="utf-8")
    os.replace(beside, file)


def words(now: State, at: float) -> str:
    """The state as a sentence."""
    doing = {"waiting": "Starting", "importing": "Importing", "analysing": "Reading tracings"}
    if now.ended_early:
        return "The process was ended before it had finished; what it had stored until then is whole. Start it again."
    if now.stage not in doing:
        return now.error or ("Tried; nothing was stored." if now.dry_run else "Done.")
    left = now.left_s(at)
    about = "" if left is None else ", less than a minute left" if left < 60 else f", about {left / 60:.0f} min left"
    far = f": {now.done:.0f} of {now.total}" if now.total else ""
    return f"{doing[now.stage]}{far}{about}. You may close this page."


def clock() -> float:
    """This computer's clock in seconds."""
    return time.time()


def _apart(command: list[str]) -> int:
    """Start a command in a session of its own, so that nothing that ends the pages ends it."""
    found = [str(Path(__file__).resolve().parents[2]), os.environ.get("PYTHONPATH", "")]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, found))}
    none = subprocess.DEVNULL
    process = subprocess.Popen(command, stdin=none, stdout=none, stderr=none, start_new_session=True, env=environment)
    _STARTED.append(process)
    return process.pid


def _alive(pid: int) -> bool:
    for process in _STARTED:
        if process.pid == pid:
            return process.poll() is None
    try:
        os.kill(pid, 0)
    except (ProcessLookupError, OverflowError, ValueError):
        return False
    except PermissionError:
        return True
    return True
