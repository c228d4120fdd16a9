"""`wingrest start`: the page opens in this computer's browser, or its address is said."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

COMMAND = [sys.executable, "-c", "from scheduler.cli import main; main()"]


@contextmanager
def started(store: Path, **surroundings: str) -> Iterator[str]:
    """Run `wingrest start` until it says its address; give all that it said until then."""
    blank = {k: v for k, v in os.environ.items() if k not in ("BROWSER", "DISPLAY")}
    process = subprocess.Popen(
        [*COMMAND, "--store", str(store), "--now", "2027-05-05T18:00", "start", "--port", "0"],
        stdout=subprocess.PIPE, text=True, bufsize=1, env=blank | surroundings,
    )  # fmt: skip
    said = ""
    try:
        assert process.stdout is not None
        for line in process.stdout:
            said += line
            if line.startswith("Ctrl-C"):
                break
        yield said
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=20)


def address_in(said: str) -> str:
    found = re.search(r"http://127\.0\.0\.1:\d+/bench/[\w-]+/", said)
    assert found, said
    return found[0]


def test_without_a_browser_the_address_is_said_and_answers(tmp_path: Path) -> None:
    with started(tmp_path / "record.sqlite", WAYLAND_DISPLAY="") as said:
        assert said.startswith("Open this in a browser:")
        with urllib.request.urlopen(address_in(said)) as answer:
            assert "Begin here" in answer.read().decode()


def test_the_browser_opens_on_the_page(tmp_path: Path) -> None:
    note = tmp_path / "opened.txt"
    browser = tmp_path / "browser.sh"
    browser.write_text(f'#!/bin/sh\necho "$1" > {note}\n', encoding="utf-8")
    browser.chmod(0o755)
    with started(tmp_path / "record.sqlite", BROWSER=f"{browser} %s") as said:
        assert said.startswith("The page is open in your browser:")
        assert note.read_text("utf-8").strip() == address_in(said)
