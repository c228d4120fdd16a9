"""A real calendar server (Radicale) for the tests, and a relay before it that can misbehave."""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import time
from base64 import b64encode
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple
from urllib.parse import urlsplit

from bench_cases import weekend
from icalendar import Calendar, Event

USER, PASSWORD = "ada", "Blattläuse & 7 Nadeln"
PATIENCE_S = 20.0
CALENDAR = """\
<mkcol xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav"><set><prop>
<resourcetype><collection/><C:calendar/></resourcetype><displayname>{name}</displayname>
<C:supported-calendar-component-set><C:comp name="{kind}"/></C:supported-calendar-component-set>
</prop></set></mkcol>"""
RIGHTS = """\
[root]
user: .+
collection:
permissions: R
[home]
user: .+
collection: {user}
permissions: RW
[read-only]
user: .+
collection: {user}/wall
permissions: r
[calendars]
user: .+
collection: {user}/[^/]+
permissions: rw
"""


@dataclass
class Answer:
    """What the server said."""

    status: int
    body: bytes
    headers: dict[str, str]


@dataclass
class Radicale:
    """A running server with one user; `bench` is an empty calendar, `wall` may only be read."""

    port: int
    folder: Path
    scheme: str = "http"

    @property
    def home(self) -> str:
        return f"{self.scheme}://127.0.0.1:{self.port}/{USER}/"

    @property
    def bench(self) -> str:
        return self.home + "bench/"

    def ask(self, method: str, path: str, body: str = "", **headers: str) -> Answer:
        """Send a request as the person's own calendar app would."""
        token = b64encode(f"{USER}:{PASSWORD}".encode()).decode()
        link = HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        try:
            sent = {"Authorization": f"Basic {token}", **headers}
            link.request(method, f"/{USER}/{path}", body.encode(), sent)
            answer = link.getresponse()
            return Answer(answer.status, answer.read(), dict(answer.getheaders()))
        finally:
            link.close()

    def make(self, calendar: str, name: str = "", kind: str = "VEVENT") -> None:
        """Make a calendar, or a list of tasks."""
        answer = self.ask("MKCOL", f"{calendar}/", CALENDAR.format(name=name, kind=kind))
        assert answer.status == 201, answer

    def put(self, name: str, text: str) -> None:
        """Put an event, or another version of it, into `bench`."""
        sent = text.replace("\r\n", "\n").replace("\n", "\r\n")
        answer = self.ask("PUT", f"bench/{name}", sent, **{"Content-Type": "text/calendar"})
        assert answer.status in (201, 204), answer

    def events(self, calendar: str = "bench") -> dict[str, Event]:
        """Read the calendar back as one file: its events by UID, none of them twice."""
        answer = self.ask("GET", f"{calendar}/")
        assert answer.status == 200, answer
        found = Calendar.from_ical(answer.body).events
        by_uid = {str(e["UID"]): e for e in found}
        assert len(by_uid) == len(found)
        return by_uid

    def files(self, calendar: str = "bench") -> dict[str, bytes]:
        """Return what is stored, name by name, byte by byte."""
        kept = self.folder / "collections" / "collection-root" / USER / calendar
        return {p.name: p.read_bytes() for p in kept.glob("*.ics")}


@cache
def events_told(now: str) -> int:
    """Count what the weekend's feed tells at a moment, in a record that nobody else asks."""
    with TemporaryDirectory(prefix="wingrest-tests-") as name:
        feed = Path(name) / "boards.ics"
        weekend(Path(name)).did("feed", "-o", feed, now=now)
        count = len(Calendar.from_ical(feed.read_bytes()).events)
    assert count > 8, "too few events for the tests that stop in the midst of them"
    return count


@contextmanager
def radicale(folder: Path, *, tls: tuple[Path, Path] | None = None) -> Iterator[Radicale]:
    """Start a server on a free loopback port and stop it in the end."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "users").write_text(f"{USER}:{PASSWORD}\n", encoding="utf-8")
    (folder / "rights").write_text(RIGHTS, encoding="utf-8")
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    server = Radicale(port, folder, "https" if tls else "http")
    options = {
        "server-hosts": f"127.0.0.1:{port}",
        "auth-type": "htpasswd",
        "auth-htpasswd-filename": folder / "users",
        "auth-htpasswd-encryption": "plain",
        "auth-delay": 0,
        "rights-type": "from_file",
        "rights-file": folder / "rights",
        "storage-filesystem-folder": folder / "collections",
    }
    words = [word for name, value in options.items() for word in (f"--{name}", str(value))]
    if tls:
        words += ["--server-ssl", "--server-certificate", str(tls[0]), "--server-key", str(tls[1])]
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "radicale", "--config", "", *words], stdout=log, stderr=log
        )
        try:
            _wait_for(port, process, folder / "log")
            yield server
        finally:
            process.terminate()
            process.wait(PATIENCE_S)


def _wait_for(port: int, process: subprocess.Popen[bytes], log: Path) -> None:
    give_up = time.monotonic() + PATIENCE_S
    while time.monotonic() < give_up and process.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return
        except OSError:
            time.sleep(0.05)
    raise AssertionError(f"Radicale did not start:\n{log.read_text(errors='replace')}")


Mischief = Callable[["Request"], int | None]


@dataclass
class Request:
    """One request on its way; `number` counts those that change something, this one too.

    `forward` sends it on and returns the server's status.
    """

    method: str
    path: str
    number: int
    forward: Callable[[], int]


@dataclass
class Relay:
    """Passes requests on and counts them.

    `mischief` sees each request: None passes it on, a status answers in the server's place, 0
    breaks the line without an answer.
    """

    port: int = 0
    asked: list[str] = field(default_factory=list)
    bodies: list[bytes] = field(default_factory=list)
    mischief: Mischief = lambda _: None

    @property
    def bench(self) -> str:
        return f"http://127.0.0.1:{self.port}/{USER}/bench/"

    @property
    def changing(self) -> list[str]:
        """Return the methods that change something, in order."""
        return [m for m in self.asked if m not in ("PROPFIND", "REPORT", "GET", "OPTIONS")]


class _Line(ThreadingHTTPServer):
    daemon_threads = True

    def __init__(self, server: Radicale, told: Relay) -> None:
        super().__init__(("127.0.0.1", 0), _Passer)
        self.behind, self.told = server, told
        told.port = self.server_address[1]


class _Passer(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: _Line

    def __getattr__(self, name: str) -> Callable[[], None]:
        if name.startswith("do_"):
            return self._pass
        raise AttributeError(name)

    def log_message(self, format: str, *args: object) -> None:
        pass

    def _pass(self) -> None:
        told = self.server.told
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        told.asked.append(self.command)
        told.bodies.append(body)
        kept: list[_Passed] = []

        def forward() -> int:
            if not kept:
                kept.append(_forward(self.server.behind, self, body))
            return kept[0].status

        verdict = told.mischief(Request(self.command, self.path, len(told.changing), forward))
        if verdict == 0:
            self.close_connection = True
        elif verdict is None:
            forward()
            self._answer(kept[0])
        else:
            self._answer(_Passed(verdict, [], b""))

    def _answer(self, answer: _Passed) -> None:
        self.send_response(answer.status)
        for name, value in answer.headers:
            if name.lower() not in ("content-length", "connection", "transfer-encoding"):
                self.send_header(name, value)
        self.send_header("Content-Length", str(len(answer.body)))
        self.end_headers()
        self.wfile.write(answer.body)


@contextmanager
def relay(server: Radicale) -> Iterator[Relay]:
    """Stand between a client and the server."""
    told = Relay()
    with _Line(server, told) as line:
        thread = threading.Thread(target=line.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        try:
            yield told
        finally:
            line.shutdown()
            thread.join(PATIENCE_S)


class _Passed(NamedTuple):
    status: int
    headers: list[tuple[str, str]]
    body: bytes


def _forward(server: Radicale, request: BaseHTTPRequestHandler, body: bytes) -> _Passed:
    link = HTTPConnection("127.0.0.1", server.port, timeout=PATIENCE_S)
    try:
        sent = {n: v for n, v in request.headers.items() if n.lower() != "accept-encoding"}
        link.request(request.command, urlsplit(request.path).path, body, sent)
        answer = link.getresponse()
        return _Passed(answer.status, answer.getheaders(), answer.read())
    finally:
        link.close()
