"""The password goes only to the host that was given, whatever other hosts that host names."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from bench_cases import Desk, weekend

from scheduler.feed.address import same_host, same_server_or_safer

PASSWORD = "feather and pin"

ANSWER = """<?xml version="1.0"?>
<multistatus xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav"><response>
<href>/wren/</href><propstat><prop><resourcetype><collection/></resourcetype>
{link}</prop><status>HTTP/1.1 200 OK</status></propstat></response></multistatus>"""
HOME = "<C:calendar-home-set><href>{}</href></C:calendar-home-set>"
PRINCIPAL = "<current-user-principal><href>{}</href></current-user-principal>"


@dataclass
class Host:
    """A host that answers everything alike, and what it was told."""

    port: int = 0
    status: int = 207
    location: str = ""
    body: str = ""
    told: list[tuple[str, str | None]] = field(default_factory=list)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/wren/"


@contextmanager
def host() -> Iterator[Host]:
    told = Host()

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def __getattr__(self, name: str) -> Callable[[], None]:
            if name.startswith("do_"):
                return self._answer
            raise AttributeError(name)

        def log_message(self, format: str, *args: object) -> None:
            pass

        def _answer(self) -> None:
            self.rfile.read(int(self.headers.get("Content-Length") or 0))
            told.told.append((self.command, self.headers.get("Authorization")))
            asked = self.headers.get("Authorization") is None
            self.send_response(401 if asked and told.status == 207 else told.status)
            if asked:
                self.send_header("WWW-Authenticate", 'Basic realm="moths"')
            if told.location:
                self.send_header("Location", told.location)
            data = told.body.encode()
            self.send_header("Content-Type", "application/xml")
            self.send_header("Content-Length", str(len(data)))
            self.end_headers()
            self.wfile.write(data)

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    told.port = server.server_address[1]
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield told
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    monkeypatch.setenv("WINGREST_CALDAV_PASSWORD", PASSWORD)
    return weekend(tmp_path)


@pytest.mark.parametrize("link", [HOME, PRINCIPAL], ids=["a home", "a principal"])
def test_a_link_to_another_host_is_named_and_not_followed(desk: Desk, link: str) -> None:
    with host() as given, host() as other:
        given.body = ANSWER.format(link=link.format(other.url))
        run = desk("publish", given.url, "--user", "wren")
        assert other.told == []
        assert any(password for _, password in given.told)
    assert (run.status, run.out) == (3, "")
    said = " ".join(run.err.split())
    assert f"127.0.0.1:{given.port} says that your calendars are at {other.url}" in said
    assert PASSWORD not in run.err


@pytest.mark.parametrize("status", [301, 302, 307, 308])
def test_a_redirect_takes_no_password_along(desk: Desk, status: int) -> None:
    with host() as given, host() as other:
        given.status, given.location = status, other.url
        other.body = ANSWER.format(link="")
        run = desk("publish", given.url, "--user", "wren")
        assert other.told == []
    assert run.status == 3
    assert f"127.0.0.1:{given.port} sends on to {other.url}." in " ".join(run.err.split())


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("https://a.example/x/", "https://a.example/y/", True),
        ("https://a.example/", "https://a.example:443/", True),
        ("https://A.example/", "https://a.example/", True),
        ("http://a.example:80/", "http://a.example/", True),
        ("https://a.example/", "http://a.example/", False),
        ("https://a.example/", "https://b.a.example/", False),
        ("https://a.example/", "https://a.example:8443/", False),
    ],
)
def test_what_is_the_same_host(one: str, other: str, same: bool) -> None:
    # RFC 6454 4: scheme, host and port.
    assert same_host(one, other) is same


@pytest.mark.parametrize(
    ("other", "safe"),
    [
        ("http://a.example/y/", True),
        ("https://a.example/x/", True),
        ("https://a.example:8443/x/", False),
        ("https://b.example/x/", False),
    ],
)
def test_a_server_may_send_on_to_its_own_https(other: str, safe: bool) -> None:
    assert same_server_or_safer("http://a.example/x/", other) is safe
    assert not same_server_or_safer("https://a.example/x/", "http://a.example/x/")
