"""Compare web servers: polls a second, processor time, and pages beside 2,000 slow connections.

Run it from the checkout: `python tests/bench/servers.py [waitress cheroot hypercorn granian]
[--rate 500] [--seconds 10] [--slow 2000]`; it says which are not installed and left out.
Every server serves the same record from a process of its own. The load is open-loop, each poll
over a connection of its own. A slow connection sends a letter of its request every two seconds and
never finishes it. Only the loopback network is used. Every answer is checked.
"""

from __future__ import annotations

import argparse
import asyncio
import http.client
import importlib.util
import os
import resource
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "bench")]

from bench_cases import local, rules, weekend  # noqa: E402
from feed import Load  # noqa: E402
from flask import Flask  # noqa: E402
from serve_cases import Served  # noqa: E402

from scheduler.page import create_app  # noqa: E402
from scheduler.page.tokens import ensure_tokens  # noqa: E402
from scheduler.record.store import Store  # noqa: E402

NAMES = ("waitress", "cheroot", "hypercorn", "granian")
THREADS = 4
APP_OF = "WINGREST_BENCH_STORE"


def made_app() -> Flask:
    """Return the app of the record that the environment names."""
    return create_app(Path(os.environ[APP_OF]), rules(), clock=lambda: local("2027-05-05T18:00"))


def by_waitress(app: Flask, port: int) -> None:
    import_module("waitress").serve(
        app, port=port, threads=THREADS, connection_limit=4000, asyncore_use_poll=True, backlog=1024
    )


def by_cheroot(app: Flask, port: int) -> None:
    server = import_module("cheroot.wsgi").Server(
        ("127.0.0.1", port), app, numthreads=THREADS, timeout=10, request_queue_size=1024
    )
    server.start()


def by_hypercorn(app: Flask, port: int) -> None:
    config = import_module("hypercorn.config").Config()
    config.bind = [f"127.0.0.1:{port}"]
    config.backlog = 1024
    config.accesslog = config.errorlog = None
    asyncio.run(import_module("hypercorn.asyncio").serve(app, config))


def by_granian(_: Flask, port: int) -> None:
    from granian import Granian
    from granian.constants import Interfaces
    from granian.http import HTTP1Settings

    Granian(
        "servers:made_app",
        port=port,
        interface=Interfaces.WSGI,
        factory=True,
        blocking_threads=THREADS,
        backpressure=8192,
        http1_settings=HTTP1Settings(header_read_timeout=10_000),
        log_enabled=False,
    ).serve()


SERVERS: dict[str, Callable[[Flask, int], None]] = {
    "waitress": by_waitress,
    "cheroot": by_cheroot,
    "hypercorn": by_hypercorn,
    "granian": by_granian,
}


def free_port() -> int:
    """Return a port that nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Slow:
    """Connections that never finish what they ask."""

    def __init__(self, port: int, many: int) -> None:
        """Open so many."""
        self.lines = []
        for _ in range(many):
            line = socket.create_connection(("127.0.0.1", port), timeout=5)
            line.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nX-A: ")
            line.setblocking(False)
            self.lines.append(line)

    def drip(self) -> int:
        """Send a letter on each; return how many are still open."""
        still = []
        for line in self.lines:
            try:
                line.send(b"a")
                still.append(line)
            except BlockingIOError:
                still.append(line)
            except OSError:
                line.close()
        self.lines = still
        return len(still)


def page_ms(port: int, path: str) -> float | None:
    """Return how long the page took [ms], None when it did not come within 10 s."""
    begun = time.perf_counter()
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        line.request("GET", path)
        answer = line.getresponse()
        answer.read()
        return 1000 * (time.perf_counter() - begun) if answer.status == 200 else None
    except OSError:
        return None
    finally:
        line.close()


def seconds_used(pid: int) -> float:
    """Return the processor time of a process and what it started [s]."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text("ascii").split()
    stat = Path(f"/proc/{pid}/stat").read_text("ascii").rsplit(") ", 1)[1].split()
    own = (int(stat[11]) + int(stat[12])) / os.sysconf("SC_CLK_TCK")
    return own + sum(seconds_used(int(child)) for child in children)


def measured(name: str, store: Path, rate: int, seconds: int, slow: int) -> None:
    """Run one server under the load and beside the slow ones; print what came of it."""
    with Store(store) as opened:
        tokens = ensure_tokens(opened)
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, __file__, "--run", name, "--port", str(port)],
        env={**os.environ, APP_OF: str(store)},
        cwd=Path(__file__).parent,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    path = f"/calendar/{tokens.calendar}/all.ics"
    try:
        for _ in range(100):
            if page_ms(port, path) is not None:
                break
            time.sleep(0.1)
        before = seconds_used(process.pid)
        polls = Load(Served(f"http://127.0.0.1:{port}", tokens.calendar, "", process))  # type: ignore[arg-type]
        took = asyncio.run(polls.run(rate, seconds))
        used = seconds_used(process.pid) - before
        polls.took.sort()
        spread = [1000 * polls.took[int(q * (len(polls.took) - 1))] for q in (0.5, 0.99, 1)]
        errors = sum(n for said, n in polls.said.items() if said.startswith("error"))
        print(
            f"{name:10} {len(polls.took) / took:6.0f} polls/s, {errors} errors, ms median"
            f" {spread[0]:.1f}, 99 % {spread[1]:.0f}, worst {spread[2]:.0f};"
            f" {1000 * used / len(polls.took):.2f} ms of processor a poll"
        )
        beside_slow(name, port, f"/bench/{tokens.bench}/", slow)
    finally:
        process.terminate()
        process.wait(20)


def beside_slow(name: str, port: int, path: str, many: int) -> None:
    """Ask for the bench page while slow connections dawdle; print how it went."""
    try:
        dawdlers = Slow(port, many)
    except OSError as error:
        print(f"{name:10} slow connections: {error!r}")
        return
    pages, open_still = [], 0
    for _ in range(8):
        open_still = dawdlers.drip()
        pages.append(page_ms(port, path))
        time.sleep(2)
    came = [p for p in pages if p is not None]
    median = f"{statistics.median(came):.0f} ms" if came else "never"
    print(
        f"{name:10} beside {many} slow connections: {len(came)} of {len(pages)} pages, median"
        f" {median}; {open_still} of them still open after 16 s"
    )
    for line in dawdlers.lines:
        line.close()


def main() -> int:
    """Measure the servers that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=NAMES)
    parser.add_argument("--rate", type=int, default=500)
    parser.add_argument("--seconds", type=int, default=10)
    parser.add_argument("--slow", type=int, default=2000)
    parser.add_argument("--run", help=argparse.SUPPRESS)
    parser.add_argument("--port", type=int, help=argparse.SUPPRESS)
    options = parser.parse_args()
    hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
    if options.run:
        SERVERS[options.run](made_app(), options.port)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        desk = weekend(Path(folder))
        for name in options.names:
            if importlib.util.find_spec(name) is None:
                print(f"{name:10} is not installed")
                continue
            measured(name, desk.store, options.rate, options.seconds, options.slow)
    return 0


if __name__ == "__main__":
    sys.exit(main())
