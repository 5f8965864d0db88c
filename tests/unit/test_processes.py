"""Worker processes: results in order, a killed worker, one thread each, and no worker that outlives its parent."""

import os
import signal
import subprocess
import sys
import types
from pathlib import Path

import psutil
import pytest

from audit import processes
from audit.errors import AuditError

pytestmark = pytest.mark.slow  # processes are started and killed

ROOT = Path(__file__).resolve().parents[2]
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def doubled(number: int) -> int:
    """Twice the number; 13 kills its worker."""
    if number == 13:
        os.kill(os.getpid(), signal.SIGKILL)
    if number < 0:
        raise ValueError(number)
    return 2 * number


def priority(_: int) -> int:
    return os.getpriority(os.PRIO_PROCESS, 0)


def threads(_: int) -> list[str | None]:
    return [os.environ.get(name) for name in THREADS]


@pytest.mark.parametrize("workers", [1, 2])
def test_results_come_in_the_order_of_the_jobs(workers):
    assert list(processes.in_order(doubled, range(9), workers=workers, ahead=3)) == [2 * n for n in range(9)]


@pytest.mark.parametrize("workers", [1, 2])
def test_no_jobs_no_results(workers):
    assert list(processes.in_order(doubled, [], workers=workers)) == []


@pytest.mark.parametrize("workers", [1, 2])
def test_what_the_work_raises_comes_out(workers):
    with pytest.raises(ValueError, match="-1"):
        list(processes.in_order(doubled, [1, -1, 2], workers=workers))


def test_a_script_without_a_guard_is_not_run_again_in_its_workers(tmp_path):
    script = tmp_path / "notes.py"
    script.write_text(
        "from audit import processes\n"
        "print('run', list(processes.in_order(abs, [-1, -2, -3], workers=2)), flush=True)\n"
    )
    done = subprocess.run(
        [sys.executable, str(script)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    assert (done.stdout, done.returncode) == ("run [1, 2, 3]\n", 0), done.stderr


def test_what_stands_where_the_main_module_is_looked_for_is_not_run_in_workers(monkeypatch, tmp_path):
    # as in a process that serves pages: the page's script is put there
    page = types.ModuleType("__main__")
    page.__file__ = str(tmp_path / "not_there.py")
    monkeypatch.setitem(sys.modules, "__main__", page)
    assert list(processes.in_order(doubled, [1, 2], workers=2)) == [2, 4]
    assert sys.modules["__main__"] is page


def test_jobs_are_taken_no_further_ahead_than_said():
    taken: list[int] = []
    results = processes.in_order(doubled, (taken.append(n) or n for n in range(50)), workers=2, ahead=4)
    assert [next(results), len(taken), next(results), len(taken)] == [0, 4, 2, 5]
    results.close()


def test_a_job_that_kills_its_worker_takes_down_no_other():
    jobs = [1, 13, 2, 13, 3, 4]
    found = list(processes.in_order(doubled, jobs, workers=2, ahead=3, lost=lambda job: -job))
    assert found == [2, -13, 4, -13, 6, 8]


def test_without_a_word_for_it_a_lost_job_is_an_error():
    with pytest.raises(AuditError, match="ended from outside"):
        list(processes.in_order(doubled, [13, 1], workers=2))


def test_workers_let_whoever_waits_for_a_page_come_first():
    mine = os.getpriority(os.PRIO_PROCESS, 0)
    theirs = set(processes.in_order(priority, [1, 2], workers=2))
    # 19 is the lowest that POSIX systems know
    assert theirs == {min(mine + processes.LOWER_PRIORITY, 19)}
    assert os.getpriority(os.PRIO_PROCESS, 0) == mine


def test_each_worker_has_one_thread_for_linear_algebra(monkeypatch):
    for name in THREADS:
        monkeypatch.delenv(name, raising=False)
    assert list(processes.in_order(threads, [1, 2], workers=2)) == [["1", "1", "1"]] * 2


@pytest.mark.parametrize(("workers", "jobs", "expected"), [(3, 9, 3), (3, 2, 2), (3, 0, 1), (None, 1, 1)])
def test_never_more_workers_than_jobs(workers, jobs, expected):
    assert processes.cores(workers, jobs) == expected


PARENT = """
import time
from audit import processes

if __name__ == "__main__":
    for _ in processes.in_order(time.sleep, [0, 0, 600, 600], workers=2, ahead=3):
        print("working", flush=True)
"""


def test_workers_end_when_their_parent_is_killed(tmp_path):
    script = tmp_path / "parent.py"
    script.write_text(PARENT)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    parent = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True, env=environment)
    assert parent.stdout is not None
    assert parent.stdout.readline() == "working\n"
    children = psutil.Process(parent.pid).children(recursive=True)
    assert len(children) >= 2
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    # without a watch the two workers would sleep on for ten minutes, and then wait for work for ever
    _, alive = psutil.wait_procs(children, timeout=120)
    for left in alive:
        left.kill()
    assert alive == []
