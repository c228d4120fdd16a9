"""One tap, one record: forms that are neither forged, nor counted twice, nor out of date.

Every form carries a slip: a number used once, the journal line that its page was made from,
and a proof of both that only the holder of the bench's address can have been given. The tap is
noted in the same transaction as what it records, so that neither can exist without the other.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from flask import Request
from markupsafe import Markup
from werkzeug.exceptions import Forbidden

from scheduler.record.deed import Deed, When
from scheduler.record.store import Store
from scheduler.words.problems import Refused


class AlreadyRecorded(Refused):
    """The same tap came again; `line` is the journal line it made, None if it changed nothing."""

    def __init__(self, line: int | None, text: str) -> None:
        super().__init__(text)
        self.line = line


@dataclass(frozen=True, slots=True)
class Slip:
    """What a form carries beside its own fields; `line` is 0 on an empty journal."""

    once: str
    line: int
    proof: str

    def as_fields(self) -> Markup:
        """Return the slip as hidden fields of an HTML form."""
        return Markup(
            '<input type="hidden" name="once" value="{}">'
            '<input type="hidden" name="line" value="{}">'
            '<input type="hidden" name="proof" value="{}">'
        ).format(self.once, self.line, self.proof)


def new_slip(bench_token: str, line: int) -> Slip:
    """Return the slip of one form on a page that was made from a journal line."""
    once = secrets.token_urlsafe(16)
    return Slip(once, line, _proof(bench_token, once, line))


def read_slip(request: Request, bench_token: str) -> Slip:
    """Return the slip of a form that was sent; raise Forbidden unless it is one of ours."""
    _refuse_foreign(request)
    once, proof = request.form.get("once", ""), request.form.get("proof", "")
    line = request.form.get("line", "")
    if not (once and line.isascii() and line.isdecimal() and len(line) < 19):
        raise Forbidden
    wanted = _proof(bench_token, once, int(line))
    if not hmac.compare_digest(proof.encode("utf-8", "replace"), wanted.encode()):
        raise Forbidden
    return Slip(once, int(line), proof)


@contextmanager
def tapped(path: Path, slip: Slip) -> Iterator[Store]:
    """Open the record for what one tap records.

    Raises AlreadyRecorded when the tap was recorded before, Overtaken when what it is about
    was changed since its page was made; nothing is recorded then.
    """
    store = TapStore(path, slip)
    with store:
        store.refuse_repeated()
        yield store


class TapStore(Store):
    """A record in which whatever is written belongs to one tap."""

    def __init__(self, path: Path, slip: Slip) -> None:
        """Open the record at `path` for the tap of a slip."""
        super().__init__(path)
        self._slip = slip

    @contextmanager
    def deed(self, when: When, command: str, text: str = "") -> Iterator[Deed]:
        """Record as ever, but once per tap and only if nobody was quicker."""
        with super().deed(replace(when, seen=self._slip.line), command, text) as deed:
            self.refuse_repeated()
            yield deed
            made = (self._slip.once, deed.line or 0)
            self.db.execute("INSERT INTO tap(once, line) VALUES (?, ?)", made)

    def refuse_repeated(self) -> None:
        """Raise AlreadyRecorded when this tap is in the record."""
        row = self.db.execute(
            "SELECT journal.line AS line, text FROM tap LEFT JOIN journal USING (line)"
            " WHERE once = ?",
            (self._slip.once,),
        ).fetchone()
        if row is None:
            return
        if row["line"] is None:
            raise AlreadyRecorded(None, "this was tapped before, and there was nothing to change")
        raise AlreadyRecorded(
            row["line"], f"this is recorded already, as line {row['line']}: {row['text']}"
        )


def _proof(bench_token: str, once: str, line: int) -> str:
    message = f"{once} {line}".encode("utf-8", "replace")
    return hmac.new(bench_token.encode(), message, "sha256").hexdigest()


def _refuse_foreign(request: Request) -> None:
    # Browsers write Origin: null under no-referrer, and leave Sec-Fetch-Site out on plain http
    # beyond loopback: what they do say must fit, and the proof is asked for in any case.
    if request.headers.get("Sec-Fetch-Site", "same-origin") != "same-origin":
        raise Forbidden
    origin = request.headers.get("Origin", "null")
    if origin not in ("null", request.host_url.rstrip("/")):
        raise Forbidden
