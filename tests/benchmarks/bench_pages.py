"""Several people at once on the pages: how long each page takes, first and again, and with all of them clicking.

Run by hand: python -m tests.benchmarks.bench_pages DATABASE [SESSIONS] [CLICKS] [--while-writing]. The pages are served
for one person on this computer; each session is a client of the websocket that asks for pages in an order drawn from
its seed, with pauses of 0.5 to 3 s. Times are those until the page's run has ended on the server, not drawn in a
browser. With --while-writing a copy of the unit is served, and `analyse --force` reads it anew, again and again, for as
long as somebody clicks: each time the pages turn to a newer copy, whose results nobody has worked out yet.
"""

import argparse
import os
import random
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil

from dashboards.register import FIRST, MEETING_PACK, PAGES, Page
from tests.socket_talk import Client

Asked = list[tuple[float, str]]


QUIET = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("database", type=Path)
    parser.add_argument("sessions", type=int, nargs="?", default=8)
    parser.add_argument("clicks", type=int, nargs="?", default=5, help="of each session")
    parser.add_argument("--while-writing", action="store_true", help="on a copy that a command writes to meanwhile")
    asked = parser.parse_args()
    if not asked.while_writing:
        _serve(asked.database, asked.sessions, asked.clicks, writing=False)
        return
    with tempfile.TemporaryDirectory() as folder:
        # the database with what lies beside it by its name, and the unit's settings; copies for readers are made anew
        for file in asked.database.parent.iterdir():
            if file.is_file() and (file.name.startswith(f"{asked.database.stem}.") or file.suffix == ".toml"):
                shutil.copy(file, folder)
        _serve(Path(folder, asked.database.name), asked.sessions, asked.clicks, writing=True)


def _serve(db: Path, sessions: int, clicks: int, *, writing: bool) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = ["-m", "audit", "--db", str(db), "dashboard", "--single-user", "--port", str(port)]
    with subprocess.Popen([sys.executable, *command], **QUIET) as server:  # type: ignore[call-overload]
        try:
            _wait_for(port)
            _measure(f"http://127.0.0.1:{port}", psutil.Process(server.pid), sessions, clicks, db if writing else None)
        finally:
            server.terminate()


@contextmanager
def _written(db: Path | None) -> Iterator[list[float]]:
    """Read the tracings of a database anew, again and again, inside the block; the seconds that each time took.

    Raises RuntimeError when the command fails: what was measured then is no load.
    """
    took: list[float] = []
    if db is None:
        yield took
        return
    over, failed = threading.Event(), list[int]()

    def write() -> None:
        while not over.is_set() and not failed:
            begun = time.perf_counter()
            done = subprocess.run([sys.executable, "-m", "audit", "--db", str(db), "analyse", "--force"], **QUIET)  # type: ignore[call-overload]
            took.append(time.perf_counter() - begun)
            if done.returncode not in (0, 3):  # 3: a tracing could not be read, the others are stored
                failed.append(done.returncode)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        yield took
    finally:
        over.set()
        writer.join()
    if failed:
        raise RuntimeError(f"analyse ended with {failed[0]} while the pages were asked for")


def _measure(address: str, server: psutil.Process, sessions: int, clicks: int, written: Path | None) -> None:
    pages = [page for page in PAGES if page is not MEETING_PACK]
    client = Client(address)
    client.run("")
    print(f"{'page':<20}{'opened anew, s':>16}{'of processor':>14}{'again, s':>10}{'of processor':>14}")
    first = [_opened(client, page, server) for page in pages]
    again = [_opened(client, page, server) for page in pages]
    for page, (wall_s, cpu_s), (wall_again_s, cpu_again_s) in zip(pages, first, again, strict=True):
        print(f"{page.title:<20}{wall_s:>16.2f}{cpu_s:>14.2f}{wall_again_s:>10.2f}{cpu_again_s:>14.2f}")
    alone = _memory_mb(server)
    asked: Asked = []
    people = [threading.Thread(target=_click, args=(address, pages, seed, clicks, asked)) for seed in range(sessions)]
    with _written(written) as took:
        for one in people:
            one.start()
        for one in people:
            one.join()
        during = len(took)
    waits = [wait_s for wait_s, _ in asked]
    worst_s, where = max(asked)
    print(
        f"{sessions} sessions, {len(asked)} pages: median {statistics.median(waits):.2f} s, worst {worst_s:.2f} s"
        f" ({where}); memory {alone:.0f} MB with one session, {_memory_mb(server):.0f} MB with all; load of the machine"
        f" {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
    )
    if written is not None:
        print(f"meanwhile read anew {during} times and begun once more, {statistics.median(took):.1f} s each")


def _opened(client: Client, page: Page, server: psutil.Process) -> tuple[float, float]:
    begun, cpu = time.perf_counter(), _processor_s(server)
    client.run(_path(page))
    return time.perf_counter() - begun, _processor_s(server) - cpu


def _click(address: str, pages: list[Page], seed: int, clicks: int, asked: Asked) -> None:
    rng, client = random.Random(seed), Client(address)
    client.run("")
    for _ in range(clicks):
        time.sleep(rng.uniform(0.5, 3.0))
        page, begun = rng.choice(pages), time.perf_counter()
        client.run(_path(page))
        asked.append((time.perf_counter() - begun, page.title))
    client.close()


def _path(page: Page) -> str:
    return "" if page is FIRST else Path(page.file).stem


def _family(server: psutil.Process) -> list[psutil.Process]:
    return [server, *server.children(recursive=True)]


def _processor_s(server: psutil.Process) -> float:
    return sum(one.cpu_times().user + one.cpu_times().system for one in _family(server))


def _memory_mb(server: psutil.Process) -> float:
    return sum(one.memory_info().rss for one in _family(server)) / 1e6


def _wait_for(port: int) -> None:
    for _ in range(600):
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
        except OSError:
            time.sleep(0.2)
        else:
            return
    raise TimeoutError("the pages did not start")


if __name__ == "__main__":
    main()
