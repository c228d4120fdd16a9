"""Where phones reach the record: the address in the home network, and whether it answers."""

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
"""So long is waited for an answer by name: where nobody answers, some systems take five."""


class Reach(NamedTuple):
    """`base` begins addresses as phones see them, None where no phone can come in.

    `name` is the computer's own.
    """

    base: str | None
    name: str

    @property
    def port(self) -> int | None:
        """Return the port that the firewall must let in."""
        return None if self.base is None else urlsplit(self.base).port

    @property
    def local_name(self) -> str | None:
        """Return the address with the computer's name in place of its number, None without one."""
        name = self.name.partition(".")[0]
        if self.base is None or not name or name == "localhost":
            return None
        return f"{urlsplit(self.base).scheme}://{name.lower()}.local:{self.port}"


def reach(db: sqlite3.Connection, asked_at: str) -> Reach:
    """Return where phones reach the record that is asked for at `asked_at` (http://host:port).

    By what was asked, unless that is this computer alone; else by where it was served last, if
    that answers now.
    """
    name = socket.gethostname()
    if not is_loopback(urlsplit(asked_at).netloc):
        return Reach(asked_at, name)
    base = read_base(db)
    if base is None or is_loopback(urlsplit(base).netloc) or not _answers(base):
        return Reach(None, name)
    return Reach(base, name)


def found_by_name(there: Reach) -> bool | None:
    """Say whether this computer finds itself by its name with .local; None without a name.

    Nothing here speaks mDNS: the system answers for the name, or nobody does.
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
    """Return where phones reach the record, once it answers there, or after twenty seconds."""
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
