"""A served record for tests: the real command in a process of its own, asked over a real port."""

from __future__ import annotations

import http.client
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from bench_cases import WEDNESDAY

PATIENCE_S = 20.0


@dataclass(frozen=True)
class Answer:
    """What came back; header names in lower case."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def etag(self) -> str:
        return self.headers["etag"]


@dataclass(frozen=True)
class Served:
    """A record being served; paths begin at the server's root."""

    address: str
    calendar: str
    greeting: str
    process: subprocess.Popen[str]

    def ask(
        self, path: str, method: str = "GET", body: str | None = None, **headers: str
    ) -> Answer:
        """Ask once, over a connection of its own; `_` in a header's name stands for a hyphen."""
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        line = http.client.HTTPConnection(urlsplit(self.address).netloc, timeout=30)
        try:
            line.request(method, path, body, named)
            answer = line.getresponse()
            data = answer.read()
            return Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, data)
        finally:
            line.close()

    def feed(self, name: str = "all.ics", method: str = "GET", **headers: str) -> Answer:
        """Ask for a calendar."""
        return self.ask(f"/calendar/{self.calendar}/{name}", method, **headers)

    def feed_after(self, before: Answer) -> Answer:
        """Ask for all until it is another: a busy server tells phones a while what it told them."""
        end = time.monotonic() + PATIENCE_S
        while (now := self.feed()).etag == before.etag and time.monotonic() < end:
            time.sleep(0.2)
        return now


def ended(process: subprocess.Popen[str], how: signal.Signals = signal.SIGTERM) -> tuple[str, str]:
    """End a server and return what is left of what it said; kill it if it will not go."""
    process.send_signal(how)
    try:
        out, err = process.communicate(timeout=PATIENCE_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()
        raise
    return out or "", err or ""


@contextmanager
def serving(
    store: Path, *words: str, now: str = WEDNESDAY, quiet: bool = False, verb: str = "serve"
) -> Iterator[Served]:
    """Run `wingrest serve` on a free port until the block ends, then end it.

    `quiet` throws its request log away: nobody reads a pipe that a long load fills. It is ended
    by SIGTERM: a shell's background job, and all that it starts, ignores Ctrl-C.
    """
    command = [sys.executable, "-c", "from scheduler.cli import main; main()"]
    command += ["--store", str(store), "--now", now, verb, "--port", "0", *words]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL if quiet else subprocess.PIPE,
        text=True,
        bufsize=1,
        # Ctrl-C works in it also where the tests run in the background.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    try:
        assert process.stdout is not None
        greeting = ""
        for line in process.stdout:
            greeting += line
            if line.startswith("Ctrl-C"):
                break
        found = re.search(r"(https?://[^/\s]+)/calendar/([\w-]+)/all\.ics", greeting)
        assert found, (greeting, process.stderr and process.stderr.read())
        yield Served(found[1], found[2], greeting, process)
    finally:
        if process.poll() is None:
            ended(process)
        for pipe in (process.stdout, process.stderr):
            if pipe is not None:
                pipe.close()
