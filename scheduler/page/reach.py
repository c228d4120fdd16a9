"""Where phones can reach the record: the address in the home network, and whether it answers."""

from __future__ import annotations

import socket
import sqlite3
import threading
import time
from contextlib import closing, suppress
from typing import NamedTuple
from urllib.parse import urlsplit

from scheduler.page.feeds import is_loopback
from scheduler.page.tokens import read_base

PATIENCE_TENTHS = 200
NAME_SECONDS = 2.0
"""How long to wait for an answer by name: some systems take five seconds to find none."""


class Reach(NamedTuple):
    """Where phones can reach the record.

    `base` is the beginning of addresses as phones see them, None where no phone can reach it;
    `name` is the computer's own name.
    """

    base: str | None
    name: str

    @property
    def port(self) -> int | None:
        """Return the port that a firewall must leave open, None without a base."""
        return None if self.base is None else urlsplit(self.base).port

    @property
    def local_name(self) -> str | None:
        """Return the address with the computer's name in place of its number, None without one."""
        name = self.name.partition(".")[0]
        if self.base is None or not name or name == "localhost":
            return None
        return f"{urlsplit(self.base).scheme}://{name.lower()}.local:{self.port}"


def reach(db: sqlite3.Connection, asked_at: str) -> Reach:
    """Return where phones can reach the record; `asked_at` is where it was asked for now.

    `asked_at` (http://host:port) is the answer unless it means this computer itself; then it is
    the address at which the record was served last, if that answers now.
    """
    name = socket.gethostname()
    if not is_loopback(urlsplit(asked_at).netloc):
        return Reach(asked_at, name)
    base = read_base(db)
    if base is None or is_loopback(urlsplit(base).netloc) or not _answers(base):
        return Reach(None, name)
    return Reach(base, name)


def found_by_name(there: Reach) -> bool | None:
    """Say whether this computer is found by its name with .local; None where it has no name.

    Nothing here speaks mDNS: the system must answer for the name.
    """
    if there.local_name is None:
        return None
    host, found = urlsplit(there.local_name).hostname or "", list[object]()

    def ask() -> None:
        with suppress(OSError, UnicodeError):
            found.extend(socket.getaddrinfo(host, there.port))

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    asking.join(NAME_SECONDS)
    return bool(found)


def until_reached(db: sqlite3.Connection, asked_at: str) -> Reach:
    """Return where phones can reach the record, as soon as it answers, or after 20 seconds."""
    for _ in range(PATIENCE_TENTHS):
        found = reach(db, asked_at)
        if found.base is not None:
            return found
        time.sleep(0.1)
    return reach(db, asked_at)


def _answers(base: str) -> bool:
    place = urlsplit(base)
    with suppress(OSError), closing(socket.create_connection((place.hostname, place.port), 0.5)):
        return True
    return False
