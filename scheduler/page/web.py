"""What every page works with: the record's path, the rules, the clock, the kept calendars."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from ipaddress import ip_address
from pathlib import Path

from flask import current_app, request

from scheduler.page.invented import InventedRecord
from scheduler.page.mending import Mender
from scheduler.page.shelf import Shelf
from scheduler.rulebook import Rulebook


@dataclass(frozen=True, slots=True)
class Web:
    """What the pages of an app share; `clock` gives the time now, aware and to the second."""

    store_path: Path
    rules: Rulebook
    clock: Callable[[], datetime]
    who: str | None
    shelf: Shelf
    asks_clock: bool = False
    invented: InventedRecord | None = None
    """The invented record beside this one, or this one itself where `is_invented`."""
    is_invented: bool = False
    mender: Mender | None = None
    lets_in: Callable[[], None] | None = None
    """Opens the record to the home network, where so far only this computer reaches it."""


def from_this_computer() -> bool | None:
    """Say whether the request comes from the record's own computer; None where not known."""
    try:
        return ip_address(request.remote_addr or "").is_loopback
    except ValueError:
        return None


def web() -> Web:
    """Return what the pages of this app share."""
    found: Web = current_app.extensions["wingrest"]
    return found
