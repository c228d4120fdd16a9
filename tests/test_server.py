"""The server itself: TLS, slow clients, a free port, an end that leaves nothing running."""

from __future__ import annotations

import os
import re
import resource
import signal
import socket
import ssl
import time
from pathlib import Path
from urllib.request import urlopen

import pytest
from bench_cases import Desk, weekend
from serve_cases import ended, serving

TLS = Path(__file__).parent / "tls"
"""A certificate of this machine alone, made for the tests; its key is no secret."""
PAIR = ("--cert", str(TLS / "cert.pem"), "--key", str(TLS / "key.pem"))


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def test_with_a_certificate_it_is_https_and_says_so(desk: Desk) -> None:
    trusting = ssl.create_default_context(cafile=str(TLS / "cert.pem"))
    with serving(desk.store, *PAIR) as running:
        assert running.address.startswith("https://127.0.0.1:")
        assert "webcals://" in running.greeting
        page = f"{running.address}/calendar/{running.calendar}/"
        with urlopen(page, context=trusting) as answer:
            said = answer.read().decode()
        # What the page itself gives out is https as well.
        assert f"{page}all.ics" in said


@pytest.mark.parametrize("words", [PAIR[:2], PAIR[2:], ("--cert", PAIR[3], "--key", PAIR[1])])
def test_a_certificate_and_a_key_that_do_not_fit_are_refused(
    desk: Desk, words: tuple[str, ...]
) -> None:
    run = desk("serve", "--port", "0", *words)
    assert run.status == 2
    assert "PEM" in run.err


def dawdling(address: str, many: int) -> list[socket.socket]:
    """So many connections that ask for a page and never finish asking."""
    host, port = address.removeprefix("http://").split(":")
    lines = []
    for _ in range(many):
        line = socket.create_connection((host, int(port)), timeout=5)
        line.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ")
        line.setblocking(False)
        lines.append(line)
    return lines


def still_open(lines: list[socket.socket]) -> int:
    """How many of them the server still holds, after one more letter on each."""
    held = 0
    for line in lines:
        try:
            line.send(b"a")
            held += line.recv(4096) != b""
        except BlockingIOError:
            held += 1
        except OSError:
            pass
    return held


@pytest.mark.slow
def test_two_thousand_who_dawdle_shut_nobody_out_and_are_let_go(desk: Desk) -> None:
    hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    if hard < 5000:
        pytest.skip("this machine allows too few connections")
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
    try:
        with serving(desk.store, quiet=True) as running:
            lines = dawdling(running.address, 2000)
            for _ in range(5):
                assert running.feed().status == 200
                still_open(lines)
                time.sleep(3)
            assert still_open(lines) == 0
            for line in lines:
                line.close()
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, before)


def test_killed_outright_it_leaves_nobody_who_answers(desk: Desk) -> None:
    with serving(desk.store) as running:
        assert running.feed().status == 200
        running.process.send_signal(signal.SIGKILL)
        running.process.wait(10)
        until = time.monotonic() + 10
        while time.monotonic() < until:
            try:
                running.feed()
            except OSError:
                return
            time.sleep(0.05)
        pytest.fail("somebody still answers")


def test_stopped_it_says_so_and_is_gone(desk: Desk) -> None:
    with serving(desk.store) as running:
        begun = time.monotonic()
        out, _ = ended(running.process)
        assert "Stopped." in out
        assert running.process.returncode == 0
        assert time.monotonic() - begun < 10
        with pytest.raises(ProcessLookupError):
            os.kill(running.process.pid, 0)


def test_a_phone_is_connected_by_two_codes_that_work(desk: Desk) -> None:
    with serving(desk.store, "Ivo (invented)", verb="phone") as running:
        assert "Two codes for Ivo (invented)" in running.greeting
        bench = re.search(r"(/bench/[\w-]+/)", running.greeting)
        assert bench
        assert b"Ivo (invented)" in running.ask(bench[1]).body
        assert running.feed().status == 200
        for words in ("same network", "firewall", "sleeps", "webcal://"):
            assert words in running.greeting
