"""What the bench page costs a museum: its first view, a tap, and four phones that tap at once.

Run it from the checkout: `python tests/bench/page.py`. 300 boards, 5,000 specimens, a kept plan,
served by the real command over loopback. Processor time is that of one core; what phones wait is
wall time, on a machine that does nothing else. Every answer is checked: each tap is one line.
"""

from __future__ import annotations

import gzip
import http.client
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlencode

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "bench")]

from bench_cases import Desk  # noqa: E402
from museum_record import NOW, museum_record  # noqa: E402
from page_cases import Form, forms_of  # noqa: E402
from serve_cases import serving  # noqa: E402
from servers import seconds_used  # noqa: E402

from scheduler.page.tokens import ensure_tokens  # noqa: E402
from scheduler.record.journal import read_journal  # noqa: E402
from scheduler.record.store import Store  # noqa: E402

KB_MOST, CORE_MS_MOST, TAP_MS_MOST, FOUR_MS_MOST = 100, 300, 500, 1000


class Hand:
    """One phone: it opens a board's page and taps there."""

    def __init__(self, address: str, bench: str) -> None:
        """Begin with nothing opened."""
        self.host = address.removeprefix("http://")
        self.start = f"/bench/{bench}/"
        self.waited: list[float] = []

    def ask(self, method: str, path: str, body: str = "") -> tuple[int, bytes]:
        """Ask once, packed, over a connection of its own."""
        line = http.client.HTTPConnection(self.host, timeout=120)
        head = {"Accept-Encoding": "gzip", "Content-Type": "application/x-www-form-urlencoded"}
        line.request(method, path, body or None, head)
        answer = line.getresponse()
        data = answer.read()
        line.close()
        return answer.status, data

    def page(self, place: str) -> str:
        """Open a page and return its text."""
        status, data = self.ask("GET", self.start + place)
        assert status == 200, status
        return gzip.decompress(data).decode()

    def tap(self, form: Form) -> None:
        """Send a form, and note how long its answer took [ms]."""
        begun = time.perf_counter()
        status, _ = self.ask("POST", form.action, urlencode(form.fields))
        self.waited.append(1000 * (time.perf_counter() - begun))
        assert status == 303, status


def first_form(page: str, words: str) -> Form:
    """Return the first form of a page whose button begins with these words."""
    return next(
        f
        for f in forms_of(page.replace('method="get"', 'method="post"'))
        if f.words.startswith(words)
    )


def main() -> int:
    """Measure, print the figures and say whether the bars are met."""
    with tempfile.TemporaryDirectory() as folder:
        path = museum_record(Path(folder) / "museum.sqlite")
        Desk(path).did("plan", "--effort", "quick", now=NOW)
        with Store(path) as store:
            bench = ensure_tokens(store).bench
        with serving(path, now=NOW, quiet=True) as running:
            hand = Hand(running.address, bench)
            hand.page("")
            time.sleep(3)
            met = first_view(hand, running.process.pid)
            met = one_tap(hand, running.process.pid) and met
            met = four_at_once(running.address, bench, path, running.process.pid) and met
    print("bars met" if met else "bars missed")
    return 0 if met else 1


def first_view(hand: Hand, pid: int) -> bool:
    """Measure bytes and processor time of Today, and of the cards at work."""
    met, many = True, 20
    for name, place in (("Today", ""), ("At work", "work")):
        _, data = hand.ask("GET", hand.start + place)
        before = seconds_used(pid)
        for _ in range(many):
            hand.page(place)
        core = 1000 * (seconds_used(pid) - before) / many
        size = len(data) / 1000
        print(f"{name}: {size:.0f} kB packed, {core:.0f} ms of one core")
        met = met and size <= KB_MOST and core <= CORE_MS_MOST
    return met


def one_tap(hand: Hand, pid: int) -> bool:
    """Measure taps of one phone, a soft test among them, after which the plan is mended."""
    core: list[float] = []
    for board, words in (("B001", "Stiff"), ("B002", "Soft"), ("B003", "Stiff"), ("B004", "Stiff")):
        form = first_form(hand.page(f"board?name={board}"), words)
        before = seconds_used(pid)
        hand.tap(form)
        core.append(1000 * (seconds_used(pid) - before))
    begun = time.perf_counter()
    hand.page("")
    after = 1000 * (time.perf_counter() - begun)
    said = ", ".join(f"{ms:.0f}" for ms in hand.waited)
    print(
        f"taps of one phone, the second a soft test: {said} ms,"
        f" of one core {', '.join(f'{ms:.0f}' for ms in core)} ms; Today afterwards {after:.0f} ms"
    )
    return max(hand.waited) <= TAP_MS_MOST


def four_at_once(address: str, bench: str, path: Path, pid: int) -> bool:
    """Measure four phones that tap at once on boards of their own while one more reads.

    The processor time is that of all five: of four taps and what the fifth reads meanwhile.
    """
    hands = [Hand(address, bench) for _ in range(4)]
    forms = [
        [first_form(hand.page(f"board?name=B{10 * n + k + 11:03d}"), "Stiff") for k in range(5)]
        for n, hand in enumerate(hands)
    ]
    with Store(path) as store:
        before = len(read_journal(store))
    reader, read = Hand(address, bench), []
    busy = threading.Event()

    def reads() -> None:
        while not busy.is_set():
            begun = time.perf_counter()
            reader.page("journal")
            read.append(1000 * (time.perf_counter() - begun))

    def taps(hand: Hand, those: list[Form]) -> None:
        for form in those:
            hand.tap(form)

    fifth = threading.Thread(target=reads)
    used = seconds_used(pid)
    fifth.start()
    threads = [threading.Thread(target=taps, args=a) for a in zip(hands, forms, strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    used = 1000 * (seconds_used(pid) - used) / 5
    busy.set()
    fifth.join()
    with Store(path) as store:
        assert len(read_journal(store)) == before + 20
    waited = sorted(ms for hand in hands for ms in hand.waited)
    print(
        f"four phones at once, 20 taps: median {statistics.median(waited):.0f} ms, worst"
        f" {waited[-1]:.0f} ms; a fifth read the journal in {statistics.median(read):.0f} ms"
        f" (median), {max(read):.0f} ms (worst); {used:.0f} ms of one core for four taps and that"
    )
    return waited[-1] <= FOUR_MS_MOST


if __name__ == "__main__":
    sys.exit(main())
