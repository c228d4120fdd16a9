"""Who asks: the keeper by the keeper's addresses, or a person by a link of their own."""

from __future__ import annotations

import re
import sqlite3
import threading
import time
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from flask import Response, current_app, g
from werkzeug.exceptions import HTTPException

from scheduler.page.links import Link, note_used
from scheduler.page.tokens import Tokens, same

NOTED_SECONDS = 300.0
"""The least time between two notes that a link was used."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks; `link` and `name` are None for the keeper, `records` says who may record."""

    link: int | None
    name: str | None
    records: bool


class ToldKindly(HTTPException):
    """A refusal with a title and a text of its own, shown on a plain page."""

    def __init__(self, code: int, title: str, text: str) -> None:
        super().__init__(text)
        self.code, self.title = code, title


def visitor_by(tokens: Tokens, links: Iterable[Link], which: str, given: str) -> Visitor | None:
    """Return who has an address of the bench or the calendar (`which`), None when nobody has.

    Raises ToldKindly for a link that was ended.
    """
    if same(given, getattr(tokens, which)):
        return Visitor(None, None, True)
    for link in links:
        if same(given, getattr(link, which)):
            if link.ended is not None:
                raise _ended(link)
            return Visitor(link.id, link.name, link.may == "record")
    return None


def _ended(link: Link) -> ToldKindly:
    return ToldKindly(
        410,
        f"{link.name}: this link has ended",
        f"It was ended on {link.ended:%Y-%m-%d}. What was recorded on it stands.\n\n"
        "What to do now:\n"
        "1. Ask whoever keeps the record for another. On their page it is under More, “People"
        " and phones”: two codes to photograph.\n"
        "2. Photograph both with this phone.\n"
        "3. Take the old page off your home screen, and the old calendar out of your calendars.",
    )


NOT_OURS = (
    "This address leads nowhere",
    "It may have been ended, or a letter of it is missing. Ask whoever keeps the record for your "
    "link:"
    " the computer with the record shows a code for your phone's camera. What"
    " was tapped on this phone without reception is still listed there: tap it again on your new"
    " link.",
)


def me() -> Visitor:
    """Return who asks for the page that is being answered."""
    found: Visitor = g.visitor
    return found


class Visits:
    """Notes in the record, now and then, when links were last used."""

    def __init__(self, path: Path) -> None:
        """Begin with nothing noted."""
        self._path = path
        self._lock = threading.Lock()
        self._noted: dict[tuple[int, str], float] = {}

    def note(self, visitor: Visitor, what: str, at: datetime) -> None:
        """Note a visit without waiting; while another command writes, it is left to the next."""
        if visitor.link is None:
            return
        key, now = (visitor.link, what), time.monotonic()
        with self._lock:
            if now - self._noted.get(key, -NOTED_SECONDS) < NOTED_SECONDS:
                return
            self._noted[key] = now
        uri = f"{self._path.resolve().as_uri()}?mode=rw"  # never makes a record
        try:
            with closing(sqlite3.connect(uri, uri=True, timeout=0)) as db, db:
                note_used(db, visitor.link, what, at)
        except sqlite3.OperationalError:
            with self._lock:
                self._noted.pop(key, None)


def visits() -> Visits:
    """Return the visits of this app."""
    found: Visits = current_app.extensions["wingrest_visits"]
    return found


_FORM = re.compile(r'<form method="post".*?</form>', re.DOTALL)


def without_forms(response: Response) -> Response:
    """Take the forms out of a page for a visitor who only reads; their posts are refused too."""
    visitor: Visitor | None = g.get("visitor")
    if visitor is None or visitor.records or response.mimetype != "text/html":
        return response
    response.set_data(_FORM.sub("", response.get_data(as_text=True)))
    return response
