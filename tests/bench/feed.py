"""Compare a poll of the calendar with building it, and measure how many polls a server can take.

Run it from the checkout: `python tests/bench/feed.py [--events 1000] [--rate 500]
[--seconds 10]`. Building and polling take turns in one run and medians are compared. The load
is open-loop: polls begin when they are due, each over a connection of its own as a phone's are.
Meanwhile another process releases a board and takes that back, again and again. Only the loopback
network is used. Every answer is checked, since a fast answer that is wrong counts for nothing.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from bench_cases import Desk, local, rules, weekend  # noqa: E402
from serve_cases import Served, serving  # noqa: E402

from scheduler.feed.calendars import calendars  # noqa: E402
from scheduler.feed.variants import ALL  # noqa: E402
from scheduler.record import rows  # noqa: E402
from scheduler.record.deed import When  # noqa: E402
from scheduler.record.store import Store  # noqa: E402
from scheduler.words.records import Placement  # noqa: E402

LATE_MAY = "2027-05-28T12:00"
PER_BOARD = 25
LEAST_RATIO = 100.0
"""Of the full record; the small one is built in a few milliseconds."""
RECORDER = """
import sys, time
sys.path.insert(0, {tests!r})
from pathlib import Path
from bench_cases import Desk
desk, until, lines = Desk(Path({store!r})), time.monotonic() + {seconds}, 0
while time.monotonic() < until:
    for words in (["release", "B5"], ["undo"]):
        run = desk(*words, now={now!r})
        assert run.status == 0, run.err
        lines += 1
        time.sleep(0.1)
print(lines)
"""


def full_record(path: Path, events: int) -> Desk:
    """Make a record whose calendar has so many release events; all of it is invented."""
    start = local("2027-05-05T10:00")
    with Store(path) as store, store.deed(When(start, start), "load", "invented") as deed:
        deed.insert("room", {"room": "attic", "regime": "room", "rh_pct": 50.0})
        for number in range(-(-events // PER_BOARD)):
            board = f"B{number}"
            size = {"groove_mm": 6.0, "span_mm": 120.0, "length_mm": 40 * PER_BOARD}
            deed.insert("board", {"board": board, **size})
            always = "1970-01-01T00:00:00Z"
            deed.insert("board_stay", {"board": board, "room": "attic", "since": always})
        for number in range(events):
            name, place = f"K-{number}", number % PER_BOARD
            deed.insert("specimen", {"specimen": name, "state": "fresh", "body_mm": 5.0})
            at = start - timedelta(days=place)
            slot = 40 * place, 40 * place + 40
            placement = Placement(0, name, f"B{number // PER_BOARD}", *slot, at, at.date())
            deed.insert("placement", rows.placement_row(placement))
    return Desk(path)


def against_building(desk: Desk, running: Served, runs: int) -> tuple[float, float]:
    """Return seconds to build the calendar and to be told that it has not changed."""
    etag = running.feed().etag
    build: list[float] = []
    poll: list[float] = []
    for _ in range(runs):
        begun = time.perf_counter()
        with Store(desk.store) as store:
            body = calendars(store, rules(), datetime(2027, 5, 5, 12, tzinfo=UTC)).as_bytes(ALL)
        build.append(time.perf_counter() - begun)
        for _ in range(20):
            begun = time.perf_counter()
            answer = running.feed(If_None_Match=etag)
            poll.append(time.perf_counter() - begun)
            assert (answer.status, answer.body) == (304, b"")
        assert body == running.feed().body
    return statistics.median(build), statistics.median(poll)


class Load:
    """Polls at a steady rate, whatever the server does with them."""

    def __init__(self, running: Served) -> None:
        """Begin with no ETag, as a phone that never asked."""
        self.host, port = running.address.removeprefix("http://").split(":")
        self.port = int(port)
        self.path = f"/calendar/{running.calendar}/all.ics"
        self.etag = ""
        self.said: Counter[str] = Counter()
        self.took: list[float] = []

    async def run(self, rate: int, seconds: int) -> float:
        """Poll `rate` times a second; return how long it took in all, in seconds."""
        begun = time.perf_counter()
        polls = []
        for number in range(rate * seconds):
            wait = begun + number / rate - time.perf_counter()
            if wait > 0:
                await asyncio.sleep(wait)
            polls.append(asyncio.create_task(self._poll(begun + number / rate)))
        await asyncio.gather(*polls)
        return time.perf_counter() - begun

    async def _poll(self, due: float) -> None:
        try:
            self.said[await asyncio.wait_for(self._ask(), 10)] += 1
        except (OSError, EOFError, ValueError, IndexError, TimeoutError) as error:
            self.said[f"error: {error!r}"] += 1
        self.took.append(time.perf_counter() - due)

    async def _ask(self) -> str:
        answer, question = await asyncio.open_connection(self.host, self.port)
        try:
            question.write(
                f"GET {self.path} HTTP/1.1\r\nHost: {self.host}\r\nConnection: close\r\n"
                f"Accept-Encoding: gzip\r\nIf-None-Match: {self.etag}\r\n\r\n".encode()
            )
            head, _, body = (await answer.read()).partition(b"\r\n\r\n")
        finally:
            question.close()
        lines = head.decode().split("\r\n")
        fields = dict(line.lower().split(": ", 1) for line in lines[1:])
        status = lines[0].split()[1]
        if status == "200" and len(body) == int(fields["content-length"]):
            self.etag = fields["etag"]
        elif status != "304" or body:
            raise ValueError(lines[0])
        return status


def main() -> int:
    """Measure, print the figures and say whether the bars are met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--events", type=int, default=1000)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--rate", type=int, default=500)
    parser.add_argument("--seconds", type=int, default=10)
    options = parser.parse_args()
    print(f"cores {os.cpu_count()}, Python {sys.version.split()[0]}, medians of {options.runs}")
    met = True
    with tempfile.TemporaryDirectory() as folder:
        full = full_record(Path(folder) / "full.sqlite", options.events)
        small = weekend(Path(folder))
        for desk in (small, full):
            with serving(desk.store) as running:
                events = running.feed().body.count(b"BEGIN:VEVENT")
                build, poll = against_building(desk, running, options.runs)
            ratio = build / poll
            met = met and (desk is small or ratio >= LEAST_RATIO)
            print(
                f"{events:6} events: built in {1000 * build:8.1f} ms, 304 in {1000 * poll:5.2f} ms"
                f" over a new connection: {ratio:7.0f} x"
            )
        met = load(small, options.rate, options.seconds) and met
    print("bars met" if met else "bars missed")
    return 0 if met else 1


def load(desk: Desk, rate: int, seconds: int) -> bool:
    """Poll while another process records; print what was answered and how fast."""
    with ExitStack() as stack:
        running = stack.enter_context(serving(desk.store, quiet=True))
        code = RECORDER.format(
            tests=str(ROOT / "tests"), store=str(desk.store), seconds=seconds, now=LATE_MAY
        )
        recorder = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
        polls = Load(running)
        took = asyncio.run(polls.run(rate, seconds))
        out, _ = recorder.communicate(timeout=60)
    polls.took.sort()
    errors = sum(n for said, n in polls.said.items() if said.startswith("error"))
    spread = [1000 * polls.took[int(q * (len(polls.took) - 1))] for q in (0.5, 0.99, 1)]
    print(
        f"{len(polls.took)} polls in {took:.1f} s ({len(polls.took) / took:.0f}/s) while another"
        f" process wrote {out.strip()} journal lines:\n  {dict(polls.said)}\n  answered after"
        f" {spread[0]:.1f} ms (median), {spread[1]:.1f} ms (99 %), {spread[2]:.0f} ms (worst)"
    )
    return errors == 0 and recorder.returncode == 0 and took < seconds + 1


if __name__ == "__main__":
    sys.exit(main())
