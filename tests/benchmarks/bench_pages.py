"""Several people at once on the pages: how long each page takes, first and again, and with all of them clicking.

Run by hand: python -m tests.benchmarks.bench_pages DATABASE [SESSIONS] [CLICKS]. The pages are served for one person
on this computer; each session is a client of the websocket that asks for pages in an order drawn from its seed, with
pauses of 0.5 to 3 s. Times are those until the page's run has ended on the server, not drawn in a browser.
"""

import os
import random
import socket
import statistics
import subprocess
import sys
import threading
import time
from pathlib import Path

import psutil

from dashboards.register import FIRST, MEETING_PACK, PAGES, Page
from tests.socket_talk import Client

Asked = list[tuple[float, str]]


def main() -> None:
    db, sessions, clicks = sys.argv[1], *(int(word) for word in [*sys.argv[2:4], "8", "5"][:2])
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = ["-m", "audit", "--db", db, "dashboard", "--single-user", "--port", str(port)]
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen([sys.executable, *command], **quiet) as server:  # type: ignore[call-overload]
        try:
            _wait_for(port)
            _measure(f"http://127.0.0.1:{port}", psutil.Process(server.pid), sessions, clicks)
        finally:
            server.terminate()


def _measure(address: str, server: psutil.Process, sessions: int, clicks: int) -> None:
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
    for one in people:
        one.start()
    for one in people:
        one.join()
    waits = [wait_s for wait_s, _ in asked]
    worst_s, where = max(asked)
    print(
        f"{sessions} sessions, {len(asked)} pages: median {statistics.median(waits):.2f} s, worst {worst_s:.2f} s"
        f" ({where}); memory {alone:.0f} MB with one session, {_memory_mb(server):.0f} MB with all; load of the machine"
        f" {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
    )


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
